"""Sending hours as instants: zones, clocks that change, each phone's own minute."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rules_cast import HOURS, utc

from reminder_service.rules.plan import SendingHours
from reminder_service.rules.sending import Slot, sending_span, slot

DAY = date(2026, 12, 5)
LAST = date(2026, 12, 31)
BEFORE = utc(2026, 12, 1)


def test_each_phone_has_its_own_minute() -> None:
    assert slot(HOURS, 75, DAY, BEFORE, LAST) == Slot(DAY, utc(2026, 12, 5, 7, 15))


def test_minute_wraps_inside_the_hours() -> None:
    assert slot(HOURS, 600 + 75, DAY, BEFORE, LAST) == slot(HOURS, 75, DAY, BEFORE, LAST)


NOWS = {
    "before the hours": (utc(2026, 12, 5, 3), utc(2026, 12, 5, 7, 15), DAY),
    "at its own minute": (utc(2026, 12, 5, 7, 15), utc(2026, 12, 5, 7, 15), DAY),
    "just after its minute": (
        datetime(2026, 12, 5, 7, 15, 0, 1, UTC), utc(2026, 12, 5, 7, 16), DAY,
    ),
    "last minute of the hours": (utc(2026, 12, 5, 15, 59), utc(2026, 12, 5, 15, 59), DAY),
    "inside the last minute": (
        datetime(2026, 12, 5, 15, 59, 1, tzinfo=UTC), utc(2026, 12, 6, 7, 15), date(2026, 12, 6),
    ),
    "after the hours": (utc(2026, 12, 5, 16), utc(2026, 12, 6, 7, 15), date(2026, 12, 6)),
}  # fmt: skip


@pytest.mark.parametrize(("now", "at", "on"), NOWS.values(), ids=list(NOWS))
def test_time_past_means_now_or_the_next_day(now: datetime, at: datetime, on: date) -> None:
    assert slot(HOURS, 75, DAY, now, LAST) == Slot(on, at)


def test_past_day_means_today() -> None:
    assert slot(HOURS, 75, date(2026, 11, 1), utc(2026, 12, 5, 3), LAST) == Slot(
        DAY, utc(2026, 12, 5, 7, 15)
    )


def test_no_time_is_left_after_the_hours_of_the_last_day() -> None:
    assert slot(HOURS, 75, DAY, utc(2026, 12, 5, 16), DAY) is None


def test_hours_to_midnight_end_with_the_day() -> None:
    hours = SendingHours("Africa/Lusaka", 0, 1440)
    assert sending_span(hours, DAY) == (utc(2026, 12, 4, 22), utc(2026, 12, 5, 22))


# Berlin: clocks go from 02:00 to 03:00 on 29 March 2026, from 03:00 back to 02:00 on 25 October.
# Windhoek and Lusaka keep one time all year; the tool must not lean on that.
BERLIN = "Europe/Berlin"


def test_hours_that_open_in_a_gap_open_after_it() -> None:
    start, _ = sending_span(SendingHours(BERLIN, 150, 600), date(2026, 3, 29))
    assert start.astimezone(ZoneInfo(BERLIN)).hour == 3


def test_hours_that_close_in_a_gap_close_before_it() -> None:
    _, end = sending_span(SendingHours(BERLIN, 60, 150), date(2026, 3, 29))
    assert end <= utc(2026, 3, 29, 1)


def test_hour_that_comes_twice_is_used_once() -> None:
    start, end = sending_span(SendingHours(BERLIN, 120, 180), date(2026, 10, 25))
    assert end - start == timedelta(hours=1)


def test_hours_inside_a_gap_are_none_that_day() -> None:
    hours = SendingHours(BERLIN, 130, 170)
    found = slot(hours, 5, date(2026, 3, 29), utc(2026, 3, 20), date(2026, 4, 2))
    assert found is not None and found.on == date(2026, 3, 30)


def test_minute_that_a_gap_moves_past_the_hours_is_their_last() -> None:
    # 02:50 does not exist that day: it would be 03:50, after the hours.
    hours = SendingHours(BERLIN, 60, 200)
    found = slot(hours, 110, date(2026, 3, 29), utc(2026, 3, 20), date(2026, 3, 29))
    assert found == Slot(date(2026, 3, 29), utc(2026, 3, 29, 1, 19))


def test_day_that_a_zone_skipped_is_stepped_over() -> None:
    # Apia went from 29 to 31 December 2011.
    hours = SendingHours("Pacific/Apia", 480, 1080)
    found = slot(hours, 0, date(2011, 12, 30), utc(2011, 12, 20), date(2012, 1, 5))
    assert found is not None and found.on == date(2011, 12, 31)


ZONES = ["Africa/Lusaka", BERLIN, "America/New_York", "Pacific/Apia", "Australia/Lord_Howe"]


@given(
    st.sampled_from(ZONES),
    st.integers(0, 1438),
    st.integers(1, 1440),
    st.integers(0, 5000),
    st.dates(date(2026, 1, 1), date(2026, 12, 31)),
    st.timedeltas(timedelta(0), timedelta(days=380)).map(lambda past: utc(2025, 12, 20) + past),
)
def test_time_is_within_the_hours_and_not_past(
    zone: str, opens: int, width: int, spread: int, on: date, now: datetime
) -> None:
    hours = SendingHours(zone, opens, min(opens + width, 1440))
    found = slot(hours, spread, on, now, date.max)
    assert found is not None
    local = found.at.astimezone(ZoneInfo(zone))
    assert found.at >= now and found.on >= on and local.date() == found.on
    assert hours.opens_minute <= local.hour * 60 + local.minute < hours.closes_minute
