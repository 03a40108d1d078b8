"""Laws of reading in every language: it never raises, is one of four answers, changes no day."""

import random
import sys
import time
from collections.abc import Iterator
from datetime import date, timedelta
from types import FrameType

import pytest
from fuzzed_texts import vocabulary
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from texts_cast import SENT_ON, TASKS, corpus, read_as, read_en

from reminder_service.kinds import REPORTS, Kind
from reminder_service.texts.reading import LONGEST_BODY, decode, read
from reminder_service.texts.reading_in import read_in
from reminder_service.texts.reading_types import Reading
from reminder_service.texts.words import Phrase, Role, shipped_languages, word_list

LANGUAGES = shipped_languages()
PHRASES = {language: word_list(language).phrases for language in LANGUAGES}
PIECES = st.one_of(
    st.sampled_from(vocabulary()),
    st.integers(0, 130).map(str),
    st.tuples(st.integers(0, 40), st.sampled_from("/.-"), st.integers(0, 14)).map(
        lambda part: f"{part[0]}{part[1]}{part[2]}"
    ),
    st.text(max_size=6),
)
BODIES = st.lists(PIECES, max_size=14).map(" ".join)
SENDING_DAYS = st.dates(date(2001, 1, 1), date(2098, 12, 31))
SPOKEN = st.sampled_from(LANGUAGES)

FACTS = {
    "en": {"rain": Kind.FIRST_RAIN, "planted": Kind.PLANTED, "germ": Kind.GERMINATED},
    "ny": {"mvula": Kind.FIRST_RAIN, "ndabzala": Kind.PLANTED, "chamera": Kind.GERMINATED},
    "pt": {"chuva": Kind.FIRST_RAIN, "semeei": Kind.PLANTED, "nasceu": Kind.GERMINATED},
    "sw": {"mvua": Kind.FIRST_RAIN, "nimepanda": Kind.PLANTED, "yameota": Kind.GERMINATED},
}
REPORTING = st.sampled_from([(each, word) for each, words in FACTS.items() for word in words])

GREETINGS = {
    "en": "Good morning sir, {} thank you",
    "ny": "Moni bwana, {} zikomo",
    "pt": "Bom dia senhor, {} obrigado",
    "sw": "Habari za asubuhi mwalimu, {} asante",
}


def answers(reading: Reading) -> int:
    """How many of the four answers are given."""
    return sum(map(bool, (reading.said, reading.ask, reading.bad_date, reading.unread)))


def phrases_of(language: str, role: Role, name: str = "") -> list[str]:
    found = PHRASES[language].items()
    return [" ".join(p) for p, meaning in found if (meaning.role, meaning.name) == (role, name)]


@given(SPOKEN, st.text(st.characters(), max_size=10_000), SENDING_DAYS, st.booleans())
@settings(max_examples=200)
def test_any_string_gets_exactly_one_answer(
    language: str, body: str, on: date, keeper: bool
) -> None:
    assert answers(read_as(language, body, on, gauge_keeper=keeper)) == 1


@given(SPOKEN, BODIES, SENDING_DAYS, st.booleans())
@settings(max_examples=1500)
def test_any_heap_of_known_words_gets_exactly_one_answer(
    language: str, body: str, on: date, keeper: bool
) -> None:
    assert answers(read_as(language, body, on, gauge_keeper=keeper)) == 1


@given(SPOKEN, BODIES, SENDING_DAYS)
@settings(max_examples=500)
def test_a_report_always_has_a_day_and_a_question_never(language: str, body: str, on: date) -> None:
    for said in read_as(language, body, on).said:
        asked = said.kind not in REPORTS
        assert (said.on is None) == asked
        assert said.on_given or said.on in (on, None)


@given(SPOKEN, BODIES, SENDING_DAYS)
@settings(max_examples=300)
def test_case_and_space_around_do_not_matter(language: str, body: str, on: date) -> None:
    # Some letters have no capital, or one that is read back as other letters.
    if body.upper().casefold() == body.casefold():
        assert read_as(language, f"  {body.upper()}\n", on) == read_as(language, body, on)


@given(REPORTING, st.integers(0, 99), st.integers(0, 99), SENDING_DAYS)
@settings(max_examples=300)
def test_a_day_is_read_as_written_or_not_at_all(
    reporting: tuple[str, str], day: int, month: int, on: date
) -> None:
    language, word = reporting
    reading = read_as(language, f"{word} {day}/{month}", on)
    if reading.said:
        assert [(s.kind, s.on and s.on.day, s.on and s.on.month) for s in reading.said] == [
            (FACTS[language][word], day, month)
        ]
    else:
        assert reading.bad_date is not None


@given(REPORTING, SENDING_DAYS, st.integers(-150, 150), st.data())
@settings(max_examples=300)
def test_one_wrong_key_never_gives_another_day_without_showing_in_the_text(
    reporting: tuple[str, str], on: date, away: int, data: st.DataObject
) -> None:
    language, word = reporting
    meant = on + timedelta(days=away)
    named = [
        p for p, m in PHRASES[language].items() if (m.role, m.value) == (Role.MONTH, meant.month)
    ]
    written = f"{meant.day} {' '.join(data.draw(st.sampled_from(named)))}"
    at = data.draw(st.integers(len(str(meant.day)), len(written) - 1))
    key = data.draw(st.sampled_from(["", *"abcdefghijklmnopqrstuvwxyz"]))
    typed = f"{written[:at]}{key}{written[at + 1 :]}"
    # One key turns "may" into "mar", which is a word like any other.
    assume((typed.lstrip("0123456789 "),) not in PHRASES[language])
    for said in read_as(language, f"{word} {typed}", on).said:
        assert said.on == meant


def goes_on(language: str, words: Phrase, length: int) -> bool:
    """Whether a longer phrase is listed than the first words of a text."""
    longer = range(length + 1, len(words) + 1)
    return any(words[:n] in PHRASES[language] for n in longer)


@given(SPOKEN, BODIES, st.data())
@settings(max_examples=300)
def test_a_stop_word_at_the_start_is_obeyed_whatever_follows(
    language: str, rest: str, data: st.DataObject
) -> None:
    stop = data.draw(st.sampled_from(phrases_of(language, Role.KIND, Kind.STOP)))
    assume(rest.isprintable())
    assume(not goes_on(language, tuple(f"{stop} {rest}".split()), len(stop.split())))
    said = read_as(language, f"{stop.upper()} {rest}").said
    assert [one.kind for one in said] == [Kind.STOP]


@given(SPOKEN, st.binary(max_size=10_000))
def test_any_bytes_are_text_or_none_and_what_is_text_is_read(language: str, body: bytes) -> None:
    text = decode(body)
    if text is not None:
        assert text.encode("utf-8") == body
        assert answers(read_as(language, text)) == 1


@pytest.mark.parametrize(
    "body",
    [
        pytest.param(b"RAIN\x0012 NOV", id="nul"),
        pytest.param(b"\x89PNG\r\n\x1a\n", id="picture"),
        pytest.param(b"RAIN \x07", id="bell"),
        pytest.param("Olá".encode("latin-1"), id="not utf-8"),
        pytest.param("RAIN \x85".encode(), id="control of the second row"),
    ],
)
def test_binary_bodies_are_no_text(body: bytes) -> None:
    assert decode(body) is None


def test_text_with_line_breaks_is_text() -> None:
    assert decode("RAIN\r\n12\tNOV ŵ".encode()) == "RAIN\r\n12\tNOV ŵ"


def test_a_string_with_control_characters_is_not_read() -> None:
    assert read_en("RAIN 12 NOV\x00") == Reading(unread=True)


def test_a_text_over_the_bound_is_not_read() -> None:
    assert read_en("RAIN 12 NOV" + " " * LONGEST_BODY) == Reading(unread=True)


MOST_CPU_S = 2.0
"""Processor time that the longest texts may take: twenty times the most that was measured."""


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize(
    "unit", ["9", "1/", "1.", "1,", "a", "rain ", "done thin ", "plot 3 ", "12 nov ", "last ", "ﷺ"]
)
def test_the_longest_texts_are_read_in_time(language: str, unit: str) -> None:
    body = (unit * LONGEST_BODY)[:LONGEST_BODY]
    started = time.process_time()
    assert answers(read_in(body, SENT_ON, [language], TASKS)[0]) == 1
    assert time.process_time() - started < MOST_CPU_S


def steps(body: str, language: str) -> int:
    """Calls of functions, our own and others, while a text is read."""
    count = 0

    def counted(frame: FrameType, event: str, arg: object) -> None:
        nonlocal count
        count += event in ("call", "c_call")

    before = sys.getprofile()
    sys.setprofile(counted)
    try:
        read_in(body, SENT_ON, [language], TASKS)
    finally:
        sys.setprofile(before)
    return count


MOST_STEPS = 2000
"""Steps a letter that a text may take, however long: five times the 378 that were measured."""


def heaps() -> Iterator[str]:
    rng = random.Random(7)
    yield from (" ".join(rng.choices(vocabulary(), k=400)) for _ in range(3))
    yield from (unit * LONGEST_BODY for unit in ("rain 12 nov ", "plannte ", "1,", "kwa a "))


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_work_grows_no_faster_than_the_text(language: str) -> None:
    read_in("RAIN 12 NOV thnak you", SENT_ON, [language], TASKS)  # so that all lists are loaded
    for heap in heaps():
        for length in (LONGEST_BODY // 8, LONGEST_BODY // 2, LONGEST_BODY):
            taken = steps(heap[:length], language)
            assert taken < MOST_STEPS * length, heap[:20]


def test_without_tasks_a_done_has_no_task() -> None:
    said = read("DONE THIN", SENT_ON, word_list("en"), {}).said
    assert [(one.kind, one.task) for one in said] == [(Kind.DONE, None)]


@pytest.mark.parametrize("language", LANGUAGES)
def test_greetings_around_a_report_change_nothing(language: str) -> None:
    reports = [e for e in corpus(language) if e.reads and all(s.kind in REPORTS for s in e.reads)]
    assert len(reports) > 100
    for example in reports:
        polite = GREETINGS[language].format(example.body)
        said = read_as(language, polite, example.on, gauge_keeper=example.keeper).said
        assert said == example.reads, polite
