"""Reading in the sender's language first, then in the others; stop words of every language."""

import random
import time
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from texts_cast import SENT_ON, TASKS

from reminder_service.kinds import REPORTS, Kind
from reminder_service.texts.mending import short_mended
from reminder_service.texts.reading import LONGEST_BODY, read
from reminder_service.texts.reading_in import read_in
from reminder_service.texts.reading_types import Reading
from reminder_service.texts.words import Role, WordList, shipped_languages, word_list

LISTS: dict[str, WordList] = {name: word_list(name) for name in shipped_languages()}
VOCABULARY = sorted({" ".join(p) for words in LISTS.values() for p in words.phrases})
LANGUAGES = st.lists(st.sampled_from([*LISTS, "xx"]), max_size=3)
DAY_ROLES = {Role.MONTH, Role.WEEKDAY, Role.DAYS_BACK}


def answer(body: str, *languages: str) -> tuple[Reading, str]:
    return read_in(body, SENT_ON, languages, TASKS)


def kinds(body: str, *languages: str) -> list[Kind]:
    return [said.kind for said in answer(body, *languages)[0].said]


def answers(reading: Reading) -> int:
    return sum(map(bool, (reading.said, reading.ask, reading.bad_date, reading.unread)))


@pytest.mark.parametrize("own", LISTS)
@pytest.mark.parametrize(
    ("body", "language"),
    [("MVUA 12 NOV", "sw"), ("CHUVA 12 NOV", "pt"), ("MVULA 12 NOV", "ny")],
)
def test_a_text_in_another_language_is_read_in_it(own: str, body: str, language: str) -> None:
    reading, found = answer(body, own)
    assert [(said.kind, said.on) for said in reading.said] == [
        (Kind.FIRST_RAIN, date(2026, 11, 12))
    ]
    # A word that is one key from one of the own language is read as that one.
    assert found in (language, own)


def test_the_own_language_comes_first() -> None:
    assert answer("RAIN 12 NOV", "pt")[1] == "pt"


def test_without_a_language_that_is_shipped_it_is_english() -> None:
    assert answer("RAIN 12 NOV", "xx")[1] == answer("RAIN 12 NOV")[1] == "en"


def test_an_unread_text_is_unread_in_the_own_language() -> None:
    assert answer("lorem ipsum", "ny") == (Reading(unread=True), "ny")


@pytest.mark.parametrize("own", LISTS)
@pytest.mark.parametrize("word", ["no", "NO."])
def test_no_is_understood_by_everyone(own: str, word: str) -> None:
    assert kinds(word, own) == [Kind.NO]


def words_of(kind: Kind) -> list[tuple[str, str]]:
    """Words for a kind with the language that lists them, save those that mean two things."""
    found = []
    for name, words in LISTS.items():
        for phrase, meaning in words.phrases.items():
            meanings = {
                each.phrases[phrase].name for each in LISTS.values() if phrase in each.phrases
            }
            if meaning.name == kind and meanings == {kind}:
                found.append((name, " ".join(phrase)))
    return found


@pytest.mark.parametrize("own", LISTS)
def test_the_stop_words_of_every_language_are_obeyed(own: str) -> None:
    assert len(words_of(Kind.STOP)) > 20
    for _, word in words_of(Kind.STOP):
        for body in (word, word.upper(), f"{word} zxqv", f"{word} GERM 21/11"):
            assert kinds(body, own) == [Kind.STOP], body


@pytest.mark.parametrize("body", ["acha que choveu ontem?", "acha bom semear?"])
def test_a_portuguese_question_is_no_swahili_stop(body: str) -> None:
    assert Kind.STOP not in {said.kind for said in answer(body, "pt")[0].said}


@pytest.mark.parametrize("own", LISTS)
def test_the_start_words_of_every_language_are_obeyed(own: str) -> None:
    assert len(words_of(Kind.START)) > 10
    for _, word in words_of(Kind.START):
        assert kinds(word.upper(), own) == [Kind.START], word


@pytest.mark.parametrize(
    ("body", "own"),
    [
        pytest.param("nao plantei 12/11", "en", id="a no of another language"),
        pytest.param("bado plant 12/11", "en", id="a doubt of another language"),
        pytest.param("hatujapanda plant 12/11", "en", id="a negated verb of another language"),
        pytest.param("not mvua 12/11", "sw", id="an English not"),
        pytest.param("hapana chuva 12/11", "sw", id="the own no beside another language"),
        pytest.param("bado chuva 12/11", "sw", id="the own doubt beside another language"),
    ],
)
def test_what_any_of_the_languages_denies_is_no_report(body: str, own: str) -> None:
    assert answer(body, own)[0].unread


@pytest.mark.parametrize(
    ("body", "kind"),
    [
        pytest.param("ran 12 nov", Kind.FIRST_RAIN, id="one letter less"),
        pytest.param("RIAN 12 NOV", Kind.FIRST_RAIN, id="two swapped"),
        pytest.param("raain 12/11", Kind.FIRST_RAIN, id="one more"),
        pytest.param("RAN12NOV", Kind.FIRST_RAIN, id="no spaces"),
        pytest.param("gem 12/11 plot 3", Kind.GERMINATED, id="with a plot"),
    ],
)
def test_a_short_word_is_mended_beside_a_clean_date(body: str, kind: Kind) -> None:
    assert kinds(body, "en") == [kind]


@pytest.mark.parametrize(
    "body",
    [
        pytest.param("we ran 12 nov", id="another word beside it"),
        pytest.param("ran 12", id="no clean date"),
        pytest.param("ran friday", id="a weekday only"),
        pytest.param("ran 31/11", id="no such day"),
        pytest.param("ran", id="nothing else"),
        pytest.param("tain 12 nov", id="another first letter"),
        pytest.param("raim 12 nov", id="another letter in its place"),
        pytest.param("ran gem 12 nov", id="two of them"),
        pytest.param("stp 12 nov", id="no report"),
    ],
)
def test_a_short_word_is_not_mended_otherwise(body: str) -> None:
    reading, _ = answer(body, "en")
    assert not reading.said and not reading.ask


@pytest.mark.parametrize("own", LISTS)
def test_no_word_of_any_language_is_taken_for_a_typing_error_of_a_report(own: str) -> None:
    reports = {*REPORTS, "rain"}
    telling = {
        phrase
        for words in LISTS.values()
        for phrase, meaning in words.phrases.items()
        if meaning.role in (Role.KIND, Role.MM)
    }
    foreign = {p for words in LISTS.values() for p in words.phrases if len(p) == 1} - telling
    near = [p[0] for p in sorted(foreign) if short_mended(p[0], LISTS[own])]
    far = random.Random(5).sample(sorted(p[0] for p in foreign if p[0].isalpha()), 60)
    for word in [*near, *far]:
        said = answer(f"{word} 12/11", own)[0].said
        assert not {one.kind for one in said} & reports, word


def typing_errors(word: str, rng: random.Random, most: int) -> list[str]:
    """Some of the words that are one key from a word: less, more, changed, swapped."""
    letters = "abcdefghijklmnopqrstuvwxyz"
    found = set()
    for at in range(len(word)):
        found |= {
            word[:at] + word[at + 1 :],
            word[:at] + word[at + 1 : at + 2] + word[at] + word[at + 2 :],
        }
        found |= {word[:at] + letter + word[at + rng.randint(0, 1) :] for letter in letters}
    return rng.sample(sorted(found - {word}), min(most, len(found) - 1))


@pytest.mark.parametrize("language", LISTS)
def test_one_wrong_key_in_a_days_word_never_gives_another_day(language: str) -> None:
    rng = random.Random(language)
    words = LISTS[language]
    listed = {p[0] for p in words.phrases if len(p) == 1}
    days = [(p[0], m) for p, m in words.phrases.items() if len(p) == 1 and m.role in DAY_ROLES]
    for word, meaning in days:
        form = "rain 5 {}" if meaning.role is Role.MONTH else "rain {}"
        meant = read(form.format(word), SENT_ON, words, TASKS).said
        # A wrong key may turn one listed word into another: that is a word like any other.
        for typed in set(typing_errors(word, rng, 8)) - listed:
            said = read(form.format(typed), SENT_ON, words, TASKS).said
            assert not said or said == meant or not said[0].on_given, (word, typed)


@given(st.text(st.characters(), max_size=10_000), LANGUAGES, st.booleans())
@settings(max_examples=150, deadline=None)
def test_any_string_gets_one_answer(body: str, languages: list[str], keeper: bool) -> None:
    reading, language = read_in(body, SENT_ON, languages, TASKS, keeper)
    assert answers(reading) == 1 and language in LISTS


PIECES = st.one_of(
    st.sampled_from(VOCABULARY),
    st.integers(0, 130).map(str),
    st.tuples(st.integers(0, 40), st.sampled_from("/.-"), st.integers(0, 14)).map(
        lambda part: f"{part[0]}{part[1]}{part[2]}"
    ),
    st.text(max_size=6),
)


@given(st.lists(PIECES, max_size=12).map(" ".join), LANGUAGES, st.booleans())
@settings(max_examples=150, deadline=None)
def test_any_heap_of_words_gets_one_answer(body: str, languages: list[str], keeper: bool) -> None:
    reading, _ = read_in(body, SENT_ON, languages, TASKS, keeper)
    assert answers(reading) == 1


@given(st.lists(PIECES, max_size=12).map(" ".join), st.sampled_from(list(LISTS)))
@settings(max_examples=100, deadline=None)
def test_the_other_languages_only_add_where_the_own_one_reads_nothing(body: str, own: str) -> None:
    alone = read(body, SENT_ON, LISTS[own], TASKS)
    together, language = read_in(body, SENT_ON, [own], TASKS)
    stopped = [said.kind for said in together.said] == [Kind.STOP]
    if not alone.unread and not stopped:
        assert together.unread or (together, language) == (alone, own)


@pytest.mark.parametrize("own", LISTS)
@pytest.mark.parametrize(
    "unit",
    [
        "9",
        "1/",
        "a",
        "plannte ",
        "mvula ",
        "segunda ",
        "dez ",
        "kwa a ",
        "pa 1 ",
        "há ",
        "ﷺ",
        "w\u0302",
    ],
)
def test_the_longest_texts_are_read_in_time(own: str, unit: str) -> None:
    body = (unit * LONGEST_BODY)[:LONGEST_BODY]
    started = time.perf_counter()
    assert answers(answer(body, own)[0]) == 1
    assert time.perf_counter() - started < 1.5


def test_ten_thousand_letters_are_refused_at_once() -> None:
    started = time.perf_counter()
    assert answer("mvua 12 nov " * 900, "sw")[0].unread
    assert time.perf_counter() - started < 0.1
