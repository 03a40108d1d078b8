"""Readings offered for texts that could not be read: likely ones, few, never the opposite."""

from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from texts_cast import SENT_ON, TASKS, read_en

from reminder_service.kinds import REPORTS, Kind
from reminder_service.texts.likely import (
    MOST_READINGS,
    letters_off,
    likely_readings,
    unknown_words,
)
from reminder_service.texts.mending import one_error_apart
from reminder_service.texts.words import word_list

WORDS = st.text("abgermnt", min_size=1, max_size=9)


def offered(body: str, expected: tuple[Kind, ...] = (), languages: tuple[str, ...] = ("en",)):
    """What each offered reading says, in short."""
    lists = [word_list(language) for language in languages]
    found = likely_readings(body, SENT_ON, lists, TASKS, expected)
    return [
        " + ".join(f"{said.task or said.kind} {said.on:%d/%m}" for said in choice)
        for choice in found
    ]


@pytest.mark.parametrize(
    "body, first",
    [
        pytest.param("gemnitaed 21 nov", "germinated 21/11", id="three letters off"),
        pytest.param("thned all today bwana", "thin 25/11", id="a task a letter short"),
        pytest.param("i plnted on mnday", "planted 23/11", id="word and weekday wrong"),
        pytest.param("germ 11/21", "germinated 21/11", id="month before day"),
        pytest.param("RAIN 12", "first-rain 12/11", id="asked back as a day"),
        pytest.param(
            "rain 12/11 gemr 21/11", "first-rain 12/11 + germinated 21/11", id="two reports"
        ),
        pytest.param("rain 12 nov germ", "first-rain 12/11", id="one of two without its day"),
        pytest.param("mzungu germ 21 nov kwa", "germinated 21/11", id="strange words around"),
    ],
)
def test_the_likeliest_reading_comes_first(body, first):
    assert offered(body)[0] == first


def test_an_ambiguous_text_is_offered_both_ways():
    assert offered("RAIN 12") == ["first-rain 12/11", "rain 25/11"]


def test_a_day_alone_is_offered_as_what_is_expected_next():
    assert offered("21 nov", (Kind.GERMINATED,)) == ["germinated 21/11"]
    assert offered("21 nov") == []


def test_the_plot_named_is_kept():
    found = likely_readings("plot 3 gemr 21 nov", SENT_ON, [word_list("en")], TASKS)
    assert found[0][0].plots == ("3",)


@pytest.mark.parametrize(
    "body",
    [
        pytest.param("no rain yet", id="not yet"),
        pytest.param("germ 28 nov", id="a day still to come"),
        pytest.param("germ 31/11", id="a day that no calendar has"),
        pytest.param("good morning officer", id="a greeting"),
        pytest.param("qqqq zzzz", id="nothing known"),
        pytest.param("planted beans 21 nov", id="another crop"),
        pytest.param("", id="nothing at all"),
    ],
)
def test_nothing_is_offered_for(body):
    assert offered(body) == []


def test_the_own_language_comes_first_and_others_help():
    assert offered("mvuaa ya kwanza 12/11", languages=("sw", "en"))[0] == "first-rain 12/11"
    assert offered("mvuaa 12/11", languages=("en", "sw")) == ["first-rain 12/11"]


def test_a_word_of_doubt_in_another_language_counts():
    expected = (Kind.FIRST_RAIN,)
    assert offered("mvua bado 12/11", expected, languages=("en", "sw")) == []


@given(
    st.text(max_size=300) | st.lists(WORDS, max_size=30).map(" ".join),
    st.dates(date(2001, 1, 1), date(2098, 12, 31)),
)
@settings(max_examples=150)
def test_whatever_comes_few_reports_of_days_gone_by_are_offered(body, on):
    found = likely_readings(body, on, [word_list("en")], TASKS, (Kind.PLANTED, Kind.GERMINATED))
    said = [one for choice in found for one in choice]
    assert len(found) <= MOST_READINGS and all(found)
    assert all(one.kind in REPORTS and one.on is not None and one.on <= on for one in said)


def test_no_reading_is_offered_twice():
    found = offered("thned the plot thinned thiin")
    assert len(found) == len(set(found))


@given(WORDS, WORDS)
def test_letters_off_counts_the_same_both_ways(one, other):
    off = letters_off(one, other, 3)
    assert off == letters_off(other, one, 3)
    assert (off == 0) == (one == other)


@given(WORDS, WORDS)
def test_letters_off_agrees_with_reading_on_one_error(one, other):
    if one[0] == other[0]:
        assert (letters_off(one, other, 2) == 1) == one_error_apart(one, other)


@pytest.mark.parametrize(
    "one, other, off",
    [("thn", "thin", 1), ("gemr", "germ", 1), ("tasl", "tassel", 2), ("rain", "planted", 4)],
    ids=["one letter less", "two swapped", "two less", "above the bound"],
)
def test_letters_off(one, other, off):
    assert letters_off(one, other, 3) == off


def test_unknown_words_are_told_once_each():
    assert unknown_words("Kwele bwana kwele, rain 12 no 50% x", word_list("en"), TASKS) == (
        "kwele",
        "bwana",
    )


def test_a_text_that_reads_is_offered_as_read():
    found = likely_readings("GERM 21 NOV", SENT_ON, [word_list("en")], TASKS)
    assert found == [read_en("GERM 21 NOV").said]
