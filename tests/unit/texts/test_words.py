"""Word lists: the shipped one, and what is said about a faulty one."""

import pytest
from invented_lists import list_text

from reminder_service.kinds import Kind
from reminder_service.texts.errors import NoWordList, WordListError
from reminder_service.texts.mending import one_error_apart
from reminder_service.texts.terms import plain, terms
from reminder_service.texts.words import (
    UNLISTED_KINDS,
    Role,
    parsed_word_list,
    shipped_languages,
    word_list,
)


def shipped_text() -> str:
    from importlib import resources

    return (resources.files("reminder_service.texts") / "words" / "en.toml").read_text("utf-8")


@pytest.mark.parametrize("language", shipped_languages())
def test_every_shipped_list_has_words_for_every_kind(language: str) -> None:
    kinds = {m.name for m in word_list(language).phrases.values() if m.role is Role.KIND}
    assert kinds == set(Kind) - UNLISTED_KINDS


@pytest.mark.parametrize("language", shipped_languages())
def test_every_shipped_list_names_all_months_and_weekdays(language: str) -> None:
    meanings = word_list(language).phrases.values()
    assert {m.value for m in meanings if m.role is Role.MONTH} == set(range(1, 13))
    assert {m.value for m in meanings if m.role is Role.WEEKDAY} == set(range(7))


@pytest.mark.parametrize("word", ["stop", "stopall", "unsubscribe", "cancel", "end", "quit"])
def test_the_carriers_stop_words_are_all_there(word: str) -> None:
    assert word_list("en").phrases[word,].name == Kind.STOP


def test_a_language_without_a_list_is_refused_by_name() -> None:
    with pytest.raises(NoWordList, match="language is 'xx', expected one of en"):
        word_list("xx")


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        pytest.param(('language = "en"', 'language = "sw"'), "language is 'sw'", id="language"),
        pytest.param(("[months]", "[moons]"), r"section \[months\] is missing", id="section"),
        pytest.param(("\nwhy = ", "\nwhose = "), "kinds.whose is not known", id="unknown key"),
        pytest.param(("\nwhy = ", "\nwhose = "), "kinds.why is missing", id="missing key"),
        pytest.param(('["why"]', '["Why"]'), "expected words in small letters", id="capital"),
        pytest.param(('["why"]', "[3]"), "expected words in small letters", id="number"),
        pytest.param(('["why"]', '"why"'), "expected a list of phrases", id="no list"),
        pytest.param(('["why"]', '["rain"]'), "already stands elsewhere", id="two meanings"),
        pytest.param(("\n12 = [", "\ntwelve = ["), "expected a whole number", id="word as number"),
        pytest.param(("[months]", "[months"), "Expected", id="broken file"),
    ],
)
def test_a_faulty_list_says_what_is_wrong(change: tuple[str, str], fault: str) -> None:
    text = shipped_text()
    assert change[0] in text
    with pytest.raises(WordListError, match=fault):
        parsed_word_list(text.replace(*change, 1), "en")


def test_all_faults_are_reported_at_once() -> None:
    text = shipped_text().replace('["why"]', '["rain"]').replace("[months]", "[moons]")
    with pytest.raises(WordListError) as caught:
        parsed_word_list(text, "en")
    assert len(caught.value.faults) == 2


def test_another_language_is_another_file_and_no_code() -> None:
    text = (
        shipped_text().replace('language = "en"', 'language = "sw"').replace('"rain",', '"mvua",')
    )
    words = parsed_word_list(text, "sw")
    found = terms("MVUA 12 NOV", words, {})
    assert (found[0].meaning.name, words.language) == (Kind.RAIN, "sw")


@pytest.mark.parametrize(
    ("one", "other", "near"),
    [
        pytest.param("germination", "gremination", True, id="swapped"),
        pytest.param("planted", "plantd", True, id="one less"),
        pytest.param("planted", "plannted", True, id="one more"),
        pytest.param("planted", "plamted", True, id="one changed"),
        pytest.param("planted", "planteds", True, id="one more at the end"),
        pytest.param("planted", "planted", False, id="the same"),
        pytest.param("planted", "plmtead", False, id="two errors"),
        pytest.param("germinated", "terminated", False, id="another first letter"),
    ],
)
def test_one_error_apart(one: str, other: str, near: bool) -> None:
    assert one_error_apart(one, other) is near
    assert one_error_apart(other, one) is near


def test_a_typing_error_that_could_be_two_words_is_not_mended() -> None:
    # "plannted" is one letter from "planted" and from "planned".
    assert terms("plannted", word_list("en"), {})[0].role is Role.UNKNOWN


def test_short_words_are_not_mended() -> None:
    assert terms("ran", word_list("en"), {})[0].role is Role.UNKNOWN


def test_plain_brings_digits_and_letters_into_one_form() -> None:
    arabic_twelve = "\N{ARABIC-INDIC DIGIT ONE}\N{ARABIC-INDIC DIGIT TWO}"
    full_width = "\N{FULLWIDTH LATIN CAPITAL LETTER R}AIN"
    assert plain(f"{full_width}  {arabic_twelve}\n it's") == "rain 12 its"


def test_the_own_words_win_over_the_english_ones_beneath() -> None:
    words = parsed_word_list(
        list_text("pt", '\n[beside]\nfiller = ["no"]\n'), "pt", word_list("en")
    )
    assert words.phrases["no",].role is Role.FILLER
    assert words.phrases["rain",].name == Kind.RAIN


def test_a_list_over_the_english_one_needs_its_kinds_only() -> None:
    assert parsed_word_list(list_text("pt", "\n"), "pt", word_list("en")).language == "pt"
    with pytest.raises(WordListError, match=r"kinds\.why is missing"):
        parsed_word_list('language = "pt"\n[kinds]\n', "pt", word_list("en"))


def test_words_are_looked_up_without_their_marks() -> None:
    text = list_text("pt", '\n[days_back]\n"-1" = ["amanhã"]\n')
    words = parsed_word_list(text, "pt", word_list("en"))
    for written in ("amanhã", "amanha", "AMANHÃ", "ámanha"):
        assert terms(written, words, {})[0].role is Role.DAYS_BACK


def test_words_that_differ_in_their_marks_alone_are_a_fault() -> None:
    text = list_text("pt", '\n[signs]\nand = ["e"]\n[beside]\nfiller = ["é"]\n')
    with pytest.raises(WordListError, match=r"'é'.*signs\.and has 'e'.*without their marks"):
        parsed_word_list(text, "pt", word_list("en"))


def test_a_month_may_be_a_number_too_but_not_a_kind() -> None:
    both = parsed_word_list(
        list_text("pt", '\n[months]\n12 = ["dez"]\n[numbers]\n10 = ["dez"]\n'),
        "pt",
        word_list("en"),
    )
    assert (both.phrases["dez",].value, both.phrases["dez",].number) == (12, 10)
    with pytest.raises(WordListError, match="already stands elsewhere"):
        parsed_word_list(list_text("pt", '\n[months]\n12 = ["qrain"]\n'), "pt", word_list("en"))


def test_a_phrase_may_begin_with_digits_but_not_be_a_number() -> None:
    text = list_text("pt", '\n[weekdays]\n0 = ["2 a feira"]\n')
    words = parsed_word_list(text, "pt", word_list("en"))
    assert [t.role for t in terms("2ª feira", words, {})] == [Role.WEEKDAY]
    with pytest.raises(WordListError, match="expected words in small letters"):
        parsed_word_list(text.replace("2 a feira", "2"), "pt", word_list("en"))


@pytest.mark.parametrize("word", ["eightyy", "sixten", "noot", "withot"])
def test_numbers_and_words_of_doubt_are_never_mended(word: str) -> None:
    assert terms(word, word_list("en"), {})[0].role is Role.UNKNOWN


def test_another_word_that_differs_in_its_first_letter_forbids_mending() -> None:
    text = list_text("pt", '\n[months]\n9 = ["setembro"]\n12 = ["dezembro"]\n')
    words = parsed_word_list(text, "pt", word_list("en"))
    assert terms("setemvro", words, {})[0].meaning.value == 9
    assert terms("sezembro", words, {})[0].role is Role.UNKNOWN


def test_a_report_may_not_end_with_a_number_which_could_be_the_day() -> None:
    text = list_text("pt", "\n", {Kind.FIRST_RAIN: ["chuva 1"]})
    with pytest.raises(WordListError, match="'chuva 1', expected no number last"):
        parsed_word_list(text, "pt", word_list("en"))
