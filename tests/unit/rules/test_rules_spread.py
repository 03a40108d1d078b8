"""Send times over the hours: how many of a ward's phones fall on one minute."""

from collections import Counter
from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rules_cast import HOURS, utc

from reminder_service.rules.plan import SendingHours
from reminder_service.rules.sending import phone_spread, slot

DAY = date(2026, 12, 5)
MORNING = utc(2026, 12, 5, 6)
MINUTES = HOURS.closes_minute - HOURS.opens_minute
PHONES = 10_000


def times(phones: range, now: datetime, hours: SendingHours = HOURS) -> Counter[datetime]:
    found = (slot(hours, phone_spread(phone, hours), DAY, now, DAY) for phone in phones)
    return Counter(each.at for each in found if each is not None)


def test_ten_thousand_phones_fit_a_route_that_can_just_carry_them() -> None:
    # 10,000 over 600 minutes are 16.7 a minute; the route carries one in three seconds.
    minutes = times(range(1, PHONES + 1), utc(2026, 12, 1))
    assert sum(minutes.values()) == PHONES
    assert max(minutes.values()) <= 20
    assert len(minutes) == MINUTES


@pytest.mark.parametrize(
    "phones",
    [range(4_001, 5_001), range(1, 40_001, 40), range(3, 7_000, 7)],
    ids=["a ward entered at once", "every fortieth", "every seventh"],
)
def test_a_thousand_phones_of_a_ward_fall_on_no_minute_together(phones: range) -> None:
    assert max(times(phones, utc(2026, 12, 1)).values()) <= 4


def test_a_phone_keeps_its_minute_from_day_to_day() -> None:
    spread = phone_spread(77, HOURS)
    for day in (DAY, date(2027, 3, 1)):
        found = slot(HOURS, spread, day, utc(2026, 12, 1), day)
        assert found is not None
        assert found.at - found.at.replace(hour=6, minute=0) == timedelta(minutes=spread)


def test_late_texts_leave_now_where_the_routes_carry_any_number() -> None:
    late = times(range(1, PHONES + 1), utc(2026, 12, 5, 11))
    assert late[utc(2026, 12, 5, 11)] > 4_900


def test_late_texts_are_spread_over_the_time_that_the_routes_take() -> None:
    # One text a second is 60 a minute: ten thousand take 167 minutes.
    hours = replace(HOURS, late_minutes=167)
    late = times(range(1, PHONES + 1), utc(2026, 12, 5, 11), hours)
    assert sum(late.values()) == PHONES
    assert max(late.values()) <= 60


def test_late_texts_are_squeezed_into_what_is_left_of_the_hours() -> None:
    hours = replace(HOURS, late_minutes=167)
    late = times(range(1, 1_001), utc(2026, 12, 5, 15, 30), hours)
    assert sum(late.values()) == 1_000
    assert max(late) < utc(2026, 12, 5, 16)


def test_everything_for_a_phone_on_a_day_is_late_together() -> None:
    hours, now = replace(HOURS, late_minutes=60), utc(2026, 12, 5, 12)
    found = {slot(hours, 75, on, now, DAY) for on in (DAY, DAY - timedelta(3), DAY - timedelta(9))}
    assert len(found) == 1


@given(st.integers(0, 10**9), st.integers(0, 1438), st.integers(1, 1440))
def test_minute_of_a_phone_lies_within_the_hours(place: int, opens: int, width: int) -> None:
    hours = SendingHours("Africa/Lusaka", opens, min(opens + width, 1440))
    assert 0 <= phone_spread(place, hours) < hours.closes_minute - hours.opens_minute


@given(st.integers(0, 599), st.integers(0, 700), st.integers(0, 599))
def test_late_text_waits_no_longer_than_the_routes_take(
    spread: int, late_minutes: int, minute: int
) -> None:
    hours, now = replace(HOURS, late_minutes=late_minutes), MORNING + timedelta(minutes=minute)
    found = slot(hours, spread, DAY, now, DAY)
    assert found is not None
    own = MORNING + timedelta(minutes=spread)
    if own >= now:
        assert found.at == own
    else:
        assert now <= found.at <= now + timedelta(minutes=late_minutes)
