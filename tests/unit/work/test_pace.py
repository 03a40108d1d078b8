"""What the routes carry for a ward, and who waits when that is too little."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reminder_service.work.pace import carried_per_minute
from reminder_service.work.routes import Route
from reminder_service.work.shortage import must_wait

START = datetime(2026, 12, 5, 6, tzinfo=UTC)


def route(name: str, **fields) -> Route:
    return Route(name=name, gateway="console", **fields)


PACES = {
    "no limit": ([route("a")], None),
    "by the second": ([route("a", per_second=2)], 120.0),
    "by the day": ([route("a", per_day=1200)], 2.0),
    "the narrower of both": ([route("a", per_second=2, per_day=600)], 1.0),
    "no route": ([], None),
    "two that share evenly": ([route("a", per_second=1), route("b", per_second=1)], 120.0),
    "the smaller share holds up": (
        [route("a", per_second=1, weight=3), route("b", per_second=1)],
        80.0,
    ),
    "one of two without limit": ([route("a", per_second=1), route("b")], 120.0),
    "a stand-in does not count": ([route("a", per_second=1), route("b", order=2)], 60.0),
    "another ward's route": ([route("a", per_second=1, wards=["Setiwe"])], None),
    "the ward's own route goes before": (
        [route("a", per_second=1, wards=["Olmara"]), route("b", per_second=5)],
        60.0,
    ),
}


@pytest.mark.parametrize(("routes", "pace"), PACES.values(), ids=list(PACES))
def test_what_the_routes_carry(routes, pace):
    assert carried_per_minute(routes, "Olmara", 600) == pace


def at(*hours):
    return [START + timedelta(hours=hour) for hour in hours]


WAITS = {
    "turns for all": (at(1, 9), at(2, 3), 4, [False, False]),
    "one turn short: the last to expire waits": (at(1, 9), at(2, 3), 3, [False, True]),
    "what is to come expires later": (at(1, 2), at(8, 9), 2, [False, False]),
    "the same expiry goes now": (at(5), at(5, 5), 1, [False]),
    "no turn left is the limit's own business": (at(5), at(1), 0, [False]),
    "nothing to come": (at(1, 2, 3), [], 1, [False, False, False]),
}


@pytest.mark.parametrize(("ready", "to_come", "turns", "waits"), WAITS.values(), ids=list(WAITS))
def test_who_waits(ready, to_come, turns, waits):
    assert must_wait(ready, to_come, turns) == waits


EXPIRIES = st.lists(st.integers(0, 50), max_size=20).map(lambda hours: at(*sorted(hours)))


@given(EXPIRIES, EXPIRIES, st.integers(0, 40))
def test_the_turns_go_to_what_expires_first(ready, to_come, turns):
    waits = must_wait(ready, to_come, turns)
    goes = [at for at, wait in zip(ready[:turns], waits, strict=False) if not wait]
    first = sorted([*ready, *to_come])[:turns]
    assert all(expires_at <= max(first) for expires_at in goes)
    assert waits == sorted(waits[:turns]) + [False] * len(waits[turns:])
