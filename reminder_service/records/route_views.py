"""Reads about routes: how many texts each was given, and what became of them."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum

from sqlalchemy import Connection, ScalarSelect, Select, case, func, select

from reminder_service.kinds import NoticeState
from reminder_service.records.tables import Outcome, attempts, notices

DAYS = 7
"""How many UTC days the figures of a week have, today among them."""


class Fate(StrEnum):
    """What became of one try, as far as is known; the best first."""

    DELIVERED = "delivered"
    NO_WORD = "no word yet"
    UNDER_WAY = "under way"
    TRIED_AGAIN = "tried again"
    IN_DOUBT = "in doubt"
    UNDELIVERED = "undelivered"
    REFUSED = "refused"


_BY_NOTICE = {
    NoticeState.DELIVERED: Fate.DELIVERED,
    NoticeState.UNDELIVERED: Fate.UNDELIVERED,
    NoticeState.HANDED_OVER: Fate.NO_WORD,
    NoticeState.IN_DOUBT: Fate.IN_DOUBT,
    NoticeState.CLAIMED: Fate.IN_DOUBT,  # a worker has it to ask or to send it again
}


@dataclass(frozen=True, slots=True)
class Tries:
    """How many tries ended how; one try is one text, perhaps of several notices.

    Attributes
    ----------
    outcomes : by what the carrier answered; None for tries that are under way
    fates : by what became of them since
    """

    outcomes: Counter[Outcome | None] = field(default_factory=Counter)
    fates: Counter[Fate] = field(default_factory=Counter)

    @property
    def tried(self) -> int:
        """All of them."""
        return self.outcomes.total()


@dataclass(frozen=True, slots=True)
class RouteTries:
    """Tries of one route.

    Attributes
    ----------
    last_24_h : of the last 24 hours
    all_days, days : of the last UTC days together, and of each, the oldest first
    """

    last_24_h: Tries = field(default_factory=Tries)
    all_days: Tries = field(default_factory=Tries)
    days: tuple[tuple[date, Tries], ...] = ()


def last_days(now: datetime, days: int = DAYS) -> list[date]:
    """UTC days that end with today, the oldest first.

    Parameters
    ----------
    now : aware UTC instant
    days : how many

    Examples
    --------
    >>> last_days(datetime(2026, 12, 6, 9, tzinfo=UTC), 2)
    [datetime.date(2026, 12, 5), datetime.date(2026, 12, 6)]
    """
    today = now.astimezone(UTC).date()
    return [today - timedelta(days=ago) for ago in reversed(range(days))]


def fate_of(outcome: Outcome | None, state: NoticeState | None) -> Fate:
    """What became of a try.

    Parameters
    ----------
    outcome : what the carrier answered; None while it is under way
    state : of its notices; None if they went on to another try

    Examples
    --------
    >>> fate_of(Outcome.UNSURE, NoticeState.DELIVERED).value
    'delivered'
    """
    if outcome is Outcome.REFUSED:
        return Fate.REFUSED
    if outcome is None:
        return Fate.UNDER_WAY
    if outcome is Outcome.LATER:
        return Fate.TRIED_AGAIN
    if state is None:
        return Fate.NO_WORD if outcome is Outcome.TAKEN else Fate.TRIED_AGAIN
    return _BY_NOTICE.get(state, Fate.REFUSED)


def tries_by_route(
    c: Connection, routes: Sequence[str], now: datetime, days: int = DAYS
) -> dict[str, RouteTries]:
    """How many tries of the last UTC days ended how, by route.

    Counts are exact: each try of these days is read. Index: ix_attempts_gateway_started_at, then
    ix_notices_attempt_id.

    Parameters
    ----------
    c : connection
    routes : their names
    now : aware UTC instant
    days : how many days, 2 or more; two hold the last 24 hours

    Returns
    -------
    tries of every route named, with all the days
    """
    dates = last_days(now, days)
    made = {route: RouteTries(days=tuple((day, Tries()) for day in dates)) for route in routes}
    for row in c.execute(_grouped(routes, dates, now)):
        outcome = None if row.outcome is None else Outcome(row.outcome)
        fate = fate_of(outcome, None if row.state is None else NoticeState(row.state))
        theirs = made[row.gateway]
        parts = [theirs.all_days, theirs.days[row.day][1]] + [theirs.last_24_h] * row.recent
        for part in parts:
            part.outcomes[outcome] += row.tries
            part.fates[fate] += row.tries
    return made


def _grouped(
    routes: Sequence[str], days: Sequence[date], now: datetime
) -> Select[tuple[str, int, int, str | None, str | None, int]]:
    """Counts by route, number of the day, whether it is recent, outcome, and notices' state."""
    begins = [datetime.combine(day, time(), UTC) for day in days]
    later_days = [(attempts.c.started_at >= begin, number) for number, begin in enumerate(begins)]
    tries = (
        select(
            attempts.c.gateway,
            case(*reversed(later_days[1:]), else_=0).label("day"),
            case((attempts.c.started_at > now - timedelta(hours=24), 1), else_=0).label("recent"),
            attempts.c.outcome,
            _state_of_notices().label("state"),
        )
        .where(attempts.c.gateway.in_(routes), attempts.c.started_at >= begins[0])
        .subquery()
    )
    by = (tries.c.gateway, tries.c.day, tries.c.recent, tries.c.outcome, tries.c.state)
    return select(*by, func.count().label("tries")).group_by(*by)


def _state_of_notices() -> ScalarSelect[str]:
    """State of a try's notices, which share it but for what a person did to one by hand."""
    states = select(func.min(notices.c.state)).where(notices.c.attempt_id == attempts.c.id)
    return states.correlate(attempts).scalar_subquery()
