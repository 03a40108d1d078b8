"""The end of the rains."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from onset_oracle import record_of

from reminder_service.agronomy.cessation import cessation, cessation_search_from
from reminder_service.agronomy.errors import OutOfRange
from reminder_service.agronomy.rain_days import Status

MARCH = date(2027, 3, 1)


@pytest.mark.parametrize(
    ("mm", "place"),
    [
        pytest.param([4.0, *[0.0] * 20], 1, id="the day after the last rain"),
        pytest.param([0.0] * 20, 0, id="a run under way counts from the first day"),
        pytest.param([*[0.0] * 19, 0.1, *[0.0] * 20], 20, id="any rain breaks a run"),
        pytest.param([4.0, *[0.0] * 19], None, id="nineteen days are too few"),
        pytest.param([4.0] * 60, None, id="it still rains"),
    ],
)
def test_cessation_begins_twenty_rainless_days(mm, place):
    expected = None if place is None else MARCH + timedelta(place)
    answer = cessation(record_of(MARCH, mm), MARCH)
    assert answer.on == expected
    assert answer.status is (Status.NONE if place is None else Status.CONFIRMED)


def test_an_unknown_day_ends_no_season():
    assert cessation(record_of(MARCH, [4.0, *[0.0] * 10, None, *[0.0] * 10]), MARCH).on is None


def test_an_end_that_may_have_been_earlier_is_provisional():
    answer = cessation(record_of(MARCH, [4.0, None, *[0.0] * 19, 6.0, *[0.0] * 20]), MARCH)
    assert (answer.on, answer.status) == (MARCH + timedelta(22), Status.PROVISIONAL)


def test_what_is_known_later_is_left_aside():
    record = record_of(MARCH, [0.0] * 20)
    assert cessation(record, MARCH, known_until=date(2027, 3, 19)).on is None
    assert cessation(record, MARCH, known_until=date(2027, 3, 20)).on == MARCH


def test_a_year_is_searched_and_no_more():
    for days, on in ((364, MARCH + timedelta(364)), (365, None)):
        assert cessation(record_of(MARCH, [1.0] * days + [0.0] * 30), MARCH).on == on


def test_an_empty_record_has_no_end():
    assert cessation({}, MARCH).status is Status.NONE


@pytest.mark.parametrize(
    ("search_from", "ends_from"),
    [
        pytest.param(date(2026, 5, 1), date(2026, 9, 1), id="northern summer rains"),
        pytest.param(date(2026, 11, 10), date(2027, 3, 1), id="southern, across the new year"),
        pytest.param(date(2027, 1, 15), date(2027, 9, 1), id="March is too soon after January"),
        pytest.param(date(2026, 7, 3), date(2026, 9, 1), id="sixty days before September"),
        pytest.param(date(2026, 7, 4), date(2027, 3, 1), id="fifty-nine days before September"),
    ],
)
def test_the_end_is_looked_for_from_march_or_september(search_from, ends_from):
    assert cessation_search_from(search_from) == ends_from


@pytest.mark.parametrize("days", [0, 121])
def test_a_run_that_ends_no_season_is_refused(days):
    with pytest.raises(OutOfRange, match="rainless_days"):
        cessation({}, MARCH, rainless_days=days)


def test_a_mistyped_year_is_refused():
    with pytest.raises(OutOfRange, match="known_until"):
        cessation({}, MARCH, known_until=date(227, 3, 1))


@given(
    mm=st.lists(st.sampled_from([0.0, 0.0, 0.0, 3.0]), max_size=40),
    days=st.integers(-40_000, 40_000),
)
def test_a_record_moved_by_days_moves_the_end_by_as_many(mm, days):
    moved = MARCH + timedelta(days)
    here = cessation(record_of(MARCH, mm), MARCH, rainless_days=4)
    there = cessation(record_of(moved, mm), moved, rainless_days=4)
    assert there.status is here.status
    assert (there.on and there.on - moved) == (here.on and here.on - MARCH)
