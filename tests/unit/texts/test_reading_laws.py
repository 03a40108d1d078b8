"""Laws of reading: it never raises, it is one of four answers, it never changes a day."""

import random
import time
from datetime import date, timedelta

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from texts_cast import SENT_ON, TASKS, corpus, read_en

from reminder_service.kinds import DATED_FACTS, Kind
from reminder_service.texts.reading import LONGEST_BODY, decode, read
from reminder_service.texts.reading_types import Reading
from reminder_service.texts.words import Role, word_list

VOCABULARY = sorted({" ".join(phrase) for phrase in word_list("en").phrases})
PIECES = st.one_of(
    st.sampled_from(VOCABULARY),
    st.sampled_from(sorted({word for words in TASKS.values() for word in words})),
    st.integers(0, 130).map(str),
    st.tuples(st.integers(0, 40), st.sampled_from("/.-"), st.integers(0, 14)).map(
        lambda part: f"{part[0]}{part[1]}{part[2]}"
    ),
    st.text(max_size=6),
)
BODIES = st.lists(PIECES, max_size=14).map(" ".join)
SENDING_DAYS = st.dates(date(2001, 1, 1), date(2098, 12, 31))
MONTHS = {p[0] for p, m in word_list("en").phrases.items() if m.role is Role.MONTH}
FACT_WORDS = {"rain": Kind.FIRST_RAIN, "planted": Kind.PLANTED, "germ": Kind.GERMINATED}


def answers(reading: Reading) -> int:
    """How many of the four answers are given."""
    return sum(map(bool, (reading.said, reading.ask, reading.bad_date, reading.unread)))


@given(st.text(st.characters(), max_size=10_000), SENDING_DAYS, st.booleans())
@settings(max_examples=200)
def test_any_string_gets_exactly_one_answer(body: str, on: date, keeper: bool) -> None:
    assert answers(read_en(body, on, gauge_keeper=keeper)) == 1


@given(BODIES, SENDING_DAYS, st.booleans())
@settings(max_examples=1500)
def test_any_heap_of_known_words_gets_exactly_one_answer(body: str, on: date, keeper: bool) -> None:
    assert answers(read_en(body, on, gauge_keeper=keeper)) == 1


def test_eight_thousand_seeded_heaps_of_words_and_numbers_get_one_answer() -> None:
    rng = random.Random(1112)
    makers = (
        lambda: rng.choice(VOCABULARY),
        lambda: rng.choice(["rain", "germ", "done", "thin", "weed", "plot", "for", "mm", "?", ","]),
        lambda: str(rng.randint(0, 40)),
        lambda: f"{rng.randint(0, 33)}{rng.choice('/.-')}{rng.randint(0, 13)}",
        lambda: chr(rng.randint(0x20, 0xFFFF)),
    )
    for _ in range(8000):
        body = " ".join(rng.choice(makers)() for _ in range(rng.randint(0, 9)))
        assert answers(read_en(body, gauge_keeper=rng.random() < 0.3)) == 1, body


@given(BODIES, SENDING_DAYS)
@settings(max_examples=500)
def test_a_report_always_has_a_day_and_a_question_never(body: str, on: date) -> None:
    for said in read_en(body, on).said:
        asked = said.kind not in {*DATED_FACTS, "rain", "done", "count", "borer-count"}
        assert (said.on is None) == asked
        assert said.on_given or said.on in (on, None)


@given(BODIES, SENDING_DAYS)
@settings(max_examples=300)
def test_case_and_space_around_do_not_matter(body: str, on: date) -> None:
    # Some letters have no capital, or one that is read back as other letters.
    if body.upper().casefold() == body.casefold():
        assert read_en(f"  {body.upper()}\n", on) == read_en(body, on)


@given(st.sampled_from(sorted(FACT_WORDS)), st.integers(0, 99), st.integers(0, 99), SENDING_DAYS)
def test_a_day_is_read_as_written_or_not_at_all(word: str, day: int, month: int, on: date) -> None:
    reading = read_en(f"{word} {day}/{month}", on)
    if reading.said:
        assert [(s.kind, s.on and s.on.day, s.on and s.on.month) for s in reading.said] == [
            (FACT_WORDS[word], day, month)
        ]
    else:
        assert reading.bad_date is not None


@given(st.sampled_from(sorted(FACT_WORDS)), SENDING_DAYS, st.integers(-150, 150), st.data())
def test_one_wrong_key_never_gives_another_day_without_showing_in_the_text(
    word: str, on: date, away: int, data: st.DataObject
) -> None:
    meant = on + timedelta(days=away)
    written = f"{meant.day} {meant:%B}".lower()
    at = data.draw(st.integers(len(str(meant.day)), len(written) - 1))
    key = data.draw(st.sampled_from(["", *"abcdefghijklmnopqrstuvwxyz"]))
    typed = f"{written[:at]}{key}{written[at + 1 :]}"
    # One key turns "may" into "mar", which is a month like any other.
    assume(typed.lstrip("0123456789 ") not in MONTHS - {f"{meant:%B}".lower()})
    reading = read_en(f"{word} {typed}", on)
    for said in reading.said:
        assert said.on == meant


@given(st.sampled_from(["stop", "STOPALL", "End", "quit", "cancel", "unsubscribe"]), BODIES)
def test_a_stop_word_at_the_start_is_obeyed_whatever_follows(word: str, rest: str) -> None:
    reading = read_en(f"{word} {rest}")
    if all(char.isprintable() for char in rest):
        assert [said.kind for said in reading.said] == [Kind.STOP]


@given(st.binary(max_size=10_000))
def test_any_bytes_are_text_or_none_and_what_is_text_is_read(body: bytes) -> None:
    text = decode(body)
    if text is not None:
        assert text.encode("utf-8") == body
        assert answers(read_en(text)) == 1


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


@pytest.mark.parametrize(
    "unit", ["9", "1/", "1.", "1,", "a", "rain ", "done thin ", "plot 3 ", "12 nov ", "last ", "ﷺ"]
)
def test_the_longest_texts_are_read_in_time(unit: str) -> None:
    body = (unit * LONGEST_BODY)[:LONGEST_BODY]
    started = time.perf_counter()
    assert answers(read_en(body)) == 1
    assert time.perf_counter() - started < 1.0


def test_twice_the_text_takes_no_more_than_linear_time() -> None:
    rng = random.Random(7)
    words = [rng.choice(VOCABULARY) for _ in range(400)]
    took = []
    for length in (LONGEST_BODY // 4, LONGEST_BODY):
        body = " ".join(words)[:length]
        times = []
        for _ in range(5):
            started = time.perf_counter()
            read_en(body)
            times.append(time.perf_counter() - started)
        took.append(min(times))
    # Four times the text: a square law would take sixteen times as long.
    assert took[1] < 10 * took[0]


def test_without_tasks_a_done_has_no_task() -> None:
    said = read("DONE THIN", SENT_ON, word_list("en"), {}).said
    assert [(one.kind, one.task) for one in said] == [(Kind.DONE, None)]


def test_greetings_around_change_nothing() -> None:
    plain_examples = [e for e in corpus() if e.reads and "rain" in e.body.lower()]
    for example in plain_examples:
        polite = f"Good morning sir, {example.body} thank you"
        assert read_en(polite, example.on, gauge_keeper=example.keeper).said == example.reads
