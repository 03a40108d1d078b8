"""What all workers together know of a route: its pace, its day's count, whether it rests."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from sqlalchemy import Connection, select, update

from reminder_service.records import tables as t
from reminder_service.records.once import insert_once_by


@dataclass(frozen=True, slots=True)
class RouteHealth:
    """How one route fares.

    Attributes
    ----------
    route : its name
    next_at : aware UTC instant before which its pace allows no text
    day, texts_that_day : UTC day, and how many texts it was given on it
    failures : tries in a row that the carrier did not take
    rests_until : aware UTC instant until which it is passed over; None if it is well
    reason : of the last failure
    """

    route: str
    next_at: datetime
    day: date
    texts_that_day: int
    failures: int
    rests_until: datetime | None
    reason: str | None


def healths(c: Connection, routes: Sequence[str]) -> dict[str, RouteHealth]:
    """How some routes fare, by name; one that was never used is left out. Index: primary key."""
    rows = c.execute(select(t.route_health).where(t.route_health.c.route.in_(routes))).mappings()
    return {row["route"]: RouteHealth(**row) for row in rows}


def take_turns(
    c: Connection, route: str, now: datetime, wanted: int, gap: timedelta, per_day: int | None
) -> tuple[int, datetime]:
    """Let a route take some texts now, as its pace and its day's limit allow. Index: primary key.

    The row is locked while it is counted, so that all workers together keep the pace.

    Parameters
    ----------
    c : connection of a write transaction
    route : its name
    now : aware UTC instant
    wanted : texts that wait, 1 or more
    gap : time between two texts; zero for no pace
    per_day : most texts in one UTC day; None for no limit

    Returns
    -------
    how many may go now, and when the next may go
    """
    health = _locked(c, route, now)
    today = health.texts_that_day if health.day == now.date() else 0
    granted = wanted if per_day is None else min(wanted, max(per_day - today, 0))
    starts = max(health.next_at, now - timedelta(seconds=1))  # a second's worth may go at once
    if gap:
        granted = min(granted, max(0, int((now - starts) / gap) + 1))
    next_at = starts + granted * gap if gap else now
    _note(c, route, next_at=next_at, day=now.date(), texts_that_day=today + granted)
    if per_day is not None and today + granted >= per_day and granted < wanted:
        return granted, datetime.combine(now.date() + timedelta(days=1), time(), now.tzinfo)
    return granted, max(next_at, now)


def note_taken(c: Connection, route: str) -> None:
    """Note that the carrier answered: the route is well. Index: primary key."""
    _note(c, route, failures=0, rests_until=None)


def note_failure(
    c: Connection, route: str, now: datetime, reason: str, most: int, first_rest: timedelta
) -> None:
    """Note that the carrier did not take a text; after too many in a row the route rests.

    Index: primary key. Each rest is twice as long as the one before, up to a quarter of an hour.

    Parameters
    ----------
    c : connection of a write transaction
    route : its name
    now : aware UTC instant
    reason : for the page
    most : failures in a row that are borne
    first_rest : how long it rests first
    """
    failures = _locked(c, route, now).failures + 1
    rest = None
    if failures >= most:
        rest = now + min(first_rest * 2 ** min(failures - most, 10), LONGEST_REST)
    _note(c, route, failures=failures, rests_until=rest, reason=reason)


LONGEST_REST = timedelta(minutes=15)
"""However often it failed, a route is tried again after this (setting)."""


def _locked(c: Connection, route: str, now: datetime) -> RouteHealth:
    first = {"next_at": now, "day": now.date(), "texts_that_day": 0, "failures": 0}
    insert_once_by(c, t.route_health, {"route": route, **first})
    row = c.execute(
        select(t.route_health).where(t.route_health.c.route == route).with_for_update()
    ).mappings()
    return RouteHealth(**row.one())


def _note(c: Connection, route: str, **values: object) -> None:
    c.execute(update(t.route_health).where(t.route_health.c.route == route).values(**values))
