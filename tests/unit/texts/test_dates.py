"""Days in a text: strict, day before month, nearest year, never a guess."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from texts_cast import SENT_ON

from reminder_service.texts.dates import (
    Day,
    agreed,
    calendar_day,
    nearest_day,
    past_day_of_month,
)
from reminder_service.texts.day_forms import with_days
from reminder_service.texts.terms import terms
from reminder_service.texts.words import word_list

SENDING_DAYS = st.dates(date(2001, 1, 1), date(2098, 12, 31))


def day_in(body: str, on: date = SENT_ON) -> date | None:
    days = [d for d in with_days(terms(body, word_list("en"), {}), on) if isinstance(d, Day)]
    assert len(days) == 1, days
    return days[0].on


@pytest.mark.parametrize(
    ("day", "month", "on", "expected"),
    [
        pytest.param(12, 11, SENT_ON, date(2026, 11, 12), id="past, this year"),
        pytest.param(25, 12, SENT_ON, date(2026, 12, 25), id="a month ahead stays ahead"),
        pytest.param(28, 12, date(2027, 1, 5), date(2026, 12, 28), id="over new year, back"),
        pytest.param(2, 1, date(2026, 12, 28), date(2027, 1, 2), id="over new year, ahead"),
        pytest.param(29, 2, date(2027, 3, 2), None, id="no leap day near"),
        pytest.param(29, 2, date(2028, 3, 2), date(2028, 2, 29), id="leap day near"),
        pytest.param(31, 11, SENT_ON, None, id="no such day"),
        pytest.param(12, 13, SENT_ON, None, id="no such month, not turned round"),
    ],
)
def test_nearest_day(day: int, month: int, on: date, expected: date | None) -> None:
    assert nearest_day(day, month, on) == expected


@given(SENDING_DAYS, st.integers(-180, 180))
def test_a_day_within_half_a_year_is_found_again_without_its_year(on: date, away: int) -> None:
    meant = on + timedelta(days=away)
    assert nearest_day(meant.day, meant.month, on) == meant


@given(SENDING_DAYS, st.integers(0, 99), st.integers(0, 99))
def test_a_day_read_has_the_day_and_month_written(on: date, day: int, month: int) -> None:
    found = nearest_day(day, month, on)
    assert found is None or (found.day, found.month) == (day, month)


@given(SENDING_DAYS, st.dates(date(2000, 1, 1), date(2099, 12, 31)))
def test_a_full_date_is_read_as_it_is_in_every_form(on: date, meant: date) -> None:
    short, month = f"{meant.year % 100:02}", f"{meant:%b}"
    for body in (
        f"{meant.day}/{meant.month}/{meant.year}",
        f"{meant.day:02}-{meant.month:02}-{short}",
        f"{meant.day}.{meant.month}.{meant.year}",
        f"{meant:%Y-%m-%d}",
        f"{meant.day} {month} {meant.year}",
        f"{month} {meant.day} {meant.year}",
        f"{meant:%A} {meant.day} {meant:%B} {meant.year}",
    ):
        assert day_in(body, on) == meant, body


@given(SENDING_DAYS, st.dates(date(2000, 1, 1), date(2099, 12, 31)), st.integers(0, 6))
def test_a_weekday_that_does_not_fit_its_date_is_no_day(on: date, meant: date, shift: int) -> None:
    other = meant + timedelta(days=shift)
    read = day_in(f"{other:%a} {meant:%d/%m/%Y}", on)
    assert read == (meant if shift == 0 else None)


@given(SENDING_DAYS, st.integers(0, 6))
def test_a_weekday_alone_is_the_most_recent_one_today_included(on: date, back: int) -> None:
    meant = on - timedelta(days=back)
    assert day_in(f"{meant:%A}", on) == meant


@given(SENDING_DAYS, st.integers(1, 7))
def test_last_weekday_is_strictly_before_the_day_of_sending(on: date, back: int) -> None:
    meant = on - timedelta(days=back)
    assert day_in(f"last {meant:%a}", on) == meant


@given(SENDING_DAYS, st.integers(1, 50))
def test_days_and_weeks_ago_count_back(on: date, number: int) -> None:
    assert day_in(f"{number} days ago", on) == on - timedelta(days=number)
    assert day_in(f"{number} weeks ago", on) == on - timedelta(weeks=number)


@given(SENDING_DAYS, st.integers(1, 31))
def test_a_past_day_of_month_is_never_ahead(on: date, day: int) -> None:
    found = past_day_of_month(day, on)
    assert found is not None and found <= on and found.day == day
    assert (on - found).days <= 62


@pytest.mark.parametrize("body", ["32nd", "the 27th", "1st rain", "0th"])
def test_an_ordinal_that_could_mean_more_than_one_thing_is_no_day(body: str) -> None:
    assert day_in(body) is None


@pytest.mark.parametrize(
    "body",
    [
        pytest.param("12/11/1026", id="year out of bounds"),
        pytest.param("12/11/026", id="year of three digits"),
        pytest.param("2026-13-01", id="no month 13"),
        pytest.param("9999 weeks ago", id="too far back"),
        pytest.param("0 days ago", id="no day back"),
        pytest.param("a month ago", id="a month is no number of days"),
        pytest.param("two years ago", id="a year is none either"),
        pytest.param("friday week", id="a week beside a weekday"),
        pytest.param("this week friday", id="a week before a weekday"),
        pytest.param("last november", id="a month alone"),
        pytest.param("12/11 nov", id="numbers before a month"),
        pytest.param("last next friday", id="two directions"),
    ],
)
def test_what_only_looks_like_a_day_is_none(body: str) -> None:
    assert day_in(body) is None


def test_an_amount_is_no_day() -> None:
    items = with_days(terms("12.11 mm", word_list("en"), {}), SENT_ON)
    assert not any(isinstance(item, Day) for item in items)


def test_days_that_differ_do_not_agree() -> None:
    days = [Day(date(2026, 11, n), str(n)) for n in (12, 13)]
    assert agreed(days) == Day(None, "12 13")


def test_days_that_are_the_same_agree() -> None:
    days = [Day(date(2026, 11, 24), "24/11"), Day(date(2026, 11, 24), "yesterday")]
    assert agreed(days) == Day(date(2026, 11, 24), "24/11 yesterday")


def test_two_different_weekdays_do_not_agree() -> None:
    days = [Day(date(2026, 11, n), str(n), weekday_only=True) for n in (19, 20)]
    found = agreed(days)
    assert found is not None and found.on is None


def test_no_days_agree_on_nothing() -> None:
    assert agreed([]) is None


def test_the_calendar_knows_its_days() -> None:
    assert calendar_day(2027, 2, 29) is None
    assert calendar_day(2028, 2, 29) == date(2028, 2, 29)
