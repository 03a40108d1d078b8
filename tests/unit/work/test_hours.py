"""When the next text may go out."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reminder_service.rules.plan import SendingHours
from reminder_service.work.hours import next_allowed

LUSAKA = SendingHours("Africa/Lusaka", 8 * 60, 18 * 60)


@pytest.mark.parametrize(
    "now, allowed",
    [
        pytest.param("2026-11-25T05:59", "2026-11-25T06:00", id="a minute before opening"),
        pytest.param("2026-11-25T06:00", "2026-11-25T06:00", id="at opening"),
        pytest.param("2026-11-25T15:59", "2026-11-25T15:59", id="the last minute"),
        pytest.param("2026-11-25T16:00", "2026-11-26T06:00", id="at closing"),
        pytest.param("2026-12-31T23:00", "2027-01-01T06:00", id="over the new year"),
    ],
)
def test_the_hours_are_those_of_the_ward(now, allowed):
    at = datetime.fromisoformat(now).replace(tzinfo=UTC)
    assert next_allowed(at, LUSAKA) == datetime.fromisoformat(allowed).replace(tzinfo=UTC)


@given(
    seconds=st.integers(946_684_800, 4_102_444_800),  # the years 2000 to 2099
    zone=st.sampled_from(["Africa/Lusaka", "Africa/Cairo", "Africa/Windhoek", "Pacific/Apia"]),
)
def test_the_answer_is_never_earlier_and_always_inside(seconds, zone):
    at = datetime.fromtimestamp(seconds, UTC)
    hours = SendingHours(zone, 8 * 60, 18 * 60)
    allowed = next_allowed(at, hours)
    local = allowed.astimezone(ZoneInfo(zone))
    assert allowed >= at
    assert 8 <= local.hour < 18
    assert next_allowed(allowed, hours) == allowed
