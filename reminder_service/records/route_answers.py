"""Reads about how carriers answer of late: why texts fail, how fast they are, what is unknown."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import Connection, Select, func, select, union_all

from reminder_service.kinds import NoticeState
from reminder_service.records.tables import Outcome, attempts, notices, receipts, spending

LAST_TRIES = 500
"""So many tries a route say how long handing over takes, and why tries fail (setting)."""

FAILED = (Outcome.REFUSED.value, Outcome.LATER.value, Outcome.UNSURE.value)
"""Outcomes that have a reason."""


@dataclass(frozen=True, slots=True)
class Failure:
    """One try that failed, or one text that did not arrive.

    Attributes
    ----------
    kind : refused, later or unsure by the carrier's answer, or undelivered by its receipt
    at : aware UTC instant of the try, or at which the text was due
    """

    route: str
    kind: str
    reason: str
    at: datetime


@dataclass(frozen=True, slots=True)
class GivenToday:
    """What a route was given on one UTC day; ``cost`` is in thousandths of the money."""

    texts: int
    segments: int
    cost: int


def last_failures(c: Connection, routes: Sequence[str], since: datetime) -> list[Failure]:
    """The last failures of each route, the newest first: tries, and texts that did not arrive.

    Index: ix_attempts_gateway_started_at backwards, `LAST_TRIES` failures a route at most;
    ix_notices_state_send_at_id backwards, as many for all routes together, then primary keys.

    Parameters
    ----------
    c : connection
    routes : their names
    since : aware UTC instant
    """
    if not routes:
        return []
    picks = [_failed_tries(route, since) for route in routes]
    undelivered = (
        select(attempts.c.gateway, notices.c.state, notices.c.reason, notices.c.send_at)
        .join(attempts, notices.c.attempt_id == attempts.c.id)
        .where(
            notices.c.state == NoticeState.UNDELIVERED.value,
            notices.c.send_at >= since,
            attempts.c.gateway.in_(routes),
        )
        .order_by(notices.c.send_at.desc(), notices.c.id.desc())
        .limit(LAST_TRIES)
    )
    found = union_all(*(select(pick.subquery()) for pick in (*picks, undelivered))).subquery()
    rows = c.execute(select(found))
    failures = [Failure(route, kind, reason or "", at) for route, kind, reason, at in rows]
    return sorted(failures, key=lambda failure: failure.at, reverse=True)


def _failed_tries(route: str, since: datetime) -> Select[tuple[str, str, str, datetime]]:
    return (
        select(attempts.c.gateway, attempts.c.outcome, attempts.c.reason, attempts.c.started_at)
        .where(
            attempts.c.gateway == route,
            attempts.c.started_at >= since,
            attempts.c.outcome.in_(FAILED),
        )
        .order_by(attempts.c.started_at.desc())
        .limit(LAST_TRIES)
    )


def hand_over_times(
    c: Connection, routes: Sequence[str], since: datetime
) -> Mapping[str, Sequence[float]]:
    """How long the last tries of each route took, in seconds, the shortest first.

    Index: ix_attempts_gateway_started_at backwards, `LAST_TRIES` tries a route at most.

    Parameters
    ----------
    c : connection
    routes : their names
    since : aware UTC instant
    """
    if not routes:
        return {}
    picks = [
        select(attempts.c.gateway, attempts.c.started_at, attempts.c.ended_at)
        .where(
            attempts.c.gateway == route,
            attempts.c.started_at >= since,
            attempts.c.ended_at.is_not(None),
        )
        .order_by(attempts.c.started_at.desc())
        .limit(LAST_TRIES)
        for route in routes
    ]
    found = union_all(*(select(pick.subquery()) for pick in picks)).subquery()
    times: dict[str, list[float]] = {route: [] for route in routes}
    for route, started_at, ended_at in c.execute(select(found)):
        times[route].append((ended_at - started_at).total_seconds())
    return {route: sorted(theirs) for route, theirs in times.items()}


def nearest_rank(ordered: Sequence[float], share: float) -> float | None:
    """Least value that a share of all values does not pass; None if there are none.

    Parameters
    ----------
    ordered : values, the least first
    share : above 0, up to 1; 0.5 asks for the median

    References
    ----------
    Arithmetic: percentile by the nearest rank.

    Examples
    --------
    >>> nearest_rank([0.1, 0.2, 0.3, 9.0], 0.5), nearest_rank([], 0.95)
    (0.2, None)
    """
    if not ordered:
        return None
    return ordered[max(-int(-share * len(ordered) // 1), 1) - 1]


def unmatched_by_route(c: Connection, routes: Sequence[str], since: datetime) -> Mapping[str, int]:
    """Receipts that no try was found for, by route.

    Index: ix_receipts_unmatched or ix_receipts_attempt_id.

    Parameters
    ----------
    c : connection
    routes : their names
    since : aware UTC instant; older ones are left out
    """
    found = (
        select(receipts.c.gateway, func.count())
        .where(receipts.c.attempt_id.is_(None), receipts.c.received_at >= since)
        .group_by(receipts.c.gateway)
    )
    known = {route: count for route, count in c.execute(found)}
    return {route: known.get(route, 0) for route in routes}


def given_on(c: Connection, day: date) -> dict[str, GivenToday]:
    """What each route was given on one UTC day, by name; none for one that was given nothing.

    Index: primary key.
    """
    named = [spending.c[name] for name in ("route", *GivenToday.__slots__)]
    rows = c.execute(select(*named).where(spending.c.day == day))
    return {route: GivenToday(*rest) for route, *rest in rows}
