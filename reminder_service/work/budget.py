"""What texts may cost: each is counted as its attempt begins, and waits where the money ends."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from sqlalchemy import Connection

from reminder_service.records import farmers, spending
from reminder_service.records.spending import Spent
from reminder_service.work.money import Budget, is_covered
from reminder_service.work.prices import price
from reminder_service.work.routing import Letter
from reminder_service.work.services import Services

PERIODS = {"per_day": "day", "per_season": "season"}
"""What a limit of the routes file runs for."""


@dataclass(frozen=True, slots=True)
class Reserved:
    """A text that may go; it is counted.

    Attributes
    ----------
    segments : that the carrier charges for; 0 for a text that was counted by an earlier try
    cost : thousandths of the programme's money
    day : UTC day that it is counted on
    """

    segments: int
    cost: int
    day: date


@dataclass(frozen=True, slots=True)
class Held:
    """A text that the budget does not allow now.

    Attributes
    ----------
    until : aware UTC instant at which to ask again
    reason : for the page, with what to do
    """

    until: datetime
    reason: str


@dataclass(frozen=True, slots=True)
class LimitLeft:
    """How one limit stands; thousandths.

    Attributes
    ----------
    limit, spent : the whole, and what went so far; confirmed stops may go beyond
    kept : part of the limit for replies and important notices
    """

    limit: int
    spent: int
    kept: int

    @property
    def left(self) -> int:
        """What may still be spent, the kept part too."""
        return max(self.limit - self.spent, 0)

    @property
    def left_for_others(self) -> int:
        """What notices that are not important may still take."""
        return max(self.limit - self.kept - self.spent, 0)


@dataclass(frozen=True, slots=True)
class BudgetLeft:
    """How a programme's money stands.

    Attributes
    ----------
    currency : ISO 4217 code
    day, season_starts_on : UTC day, and the first day of its season
    per_day, per_season : None for no such limit
    """

    currency: str
    day: date
    season_starts_on: date
    per_day: LimitLeft | None
    per_season: LimitLeft | None


def reserve(c: Connection, services: Services, letter: Letter, now: datetime) -> Reserved | Held:
    """Count a letter that is about to be handed over, if the budget allows it.

    To be called in the transaction that begins the attempt, before anything else in it: where a
    budget is kept, it takes a lock that all workers queue for. A letter in doubt that goes again
    was counted by its first try. The confirmation of a stop always goes: a phone that has stopped
    gets nothing else, and whoever said stop must see that it was heard.

    Parameters
    ----------
    c : connection of a write transaction
    services : budget, routes and gateways
    letter : what is to go
    now : aware UTC instant

    Returns
    -------
    what was counted; or until when the letter is held, and then nothing was
    """
    first, day = letter.bundle.notices[0], _utc_day(now)
    if first.attempt_id is not None:
        return Reserved(0, 0, day)
    count, cost = _price(services, letter.route, letter.bundle.body)
    if services.budget is not None and cost:
        spending.lock_spending(c)
        reason = _too_much(c, services, services.budget, letter, cost, day)
        if reason is not None and not _confirms_stop(c, letter):
            return Held(datetime.combine(day + timedelta(days=1), time(), UTC), reason)
    spending.add_spending(c, day, letter.route, count, cost)
    return Reserved(count, cost, day)


def count_text(c: Connection, services: Services, route: str, body: str, now: datetime) -> Reserved:
    """Count a text that a person sends past the queue, whatever the budget says.

    Parameters
    ----------
    c : connection of a write transaction
    services : routes and gateways
    route : name of the route it goes by
    body : the text
    now : aware UTC instant

    Returns
    -------
    what was counted
    """
    day = _utc_day(now)
    count, cost = _price(services, route, body)
    spending.add_spending(c, day, route, count, cost)
    return Reserved(count, cost, day)


def give_back(c: Connection, route: str, day: date, segments: int, cost: int) -> None:
    """Take back what was counted for an attempt that was refused or put off.

    Parameters
    ----------
    c : connection of a write transaction
    route : name of the route it went by
    day, segments, cost : as `Reserved` had them
    """
    if segments:
        spending.take_back_spending(c, day, route, segments, cost)


def left(c: Connection, services: Services, now: datetime) -> BudgetLeft | None:
    """How the programme's money stands; None without a budget.

    Parameters
    ----------
    c : connection
    services : the budget
    now : aware UTC instant
    """
    budget = services.budget
    if budget is None:
        return None
    day = _utc_day(now)
    season_starts_on = services.settings.season_start(day)
    went = spending.spent(c, day, season_starts_on)
    standing = dict(_standing(budget, went))
    return BudgetLeft(
        budget.currency, day, season_starts_on, standing.get("per_day"), standing.get("per_season")
    )


def _confirms_stop(c: Connection, letter: Letter) -> bool:
    return letter.is_reply and farmers.has_stopped(c, letter.bundle.notices[0].phone_id)


def _utc_day(now: datetime) -> date:
    return now.astimezone(UTC).date()


def _price(services: Services, route_name: str, body: str) -> tuple[int, int]:
    """Segments that a text is charged for by a route, and what they cost in thousandths."""
    route = next(route for route in services.routes if route.name == route_name)
    found = price(services, route, body)
    return found.segments, found.cost


def _standing(budget: Budget, went: Spent) -> Iterator[tuple[str, LimitLeft]]:
    spent = {"per_day": went.day, "per_season": went.season}
    for key, limit, kept in budget.limits():
        yield key, LimitLeft(limit, spent[key], kept)


def _too_much(
    c: Connection, services: Services, budget: Budget, letter: Letter, cost: int, day: date
) -> str | None:
    """Why the budget does not allow a letter, the longer limit before the shorter; None if so."""
    # Without a limit for the season there is no need to add it up.
    since = day if budget.per_season is None else services.settings.season_start(day)
    important = letter.is_reply or letter.importance <= budget.important_from
    went = spending.spent(c, day, since)
    for key, stands in reversed(list(_standing(budget, went))):
        if is_covered(cost, stands.spent, stands.limit, stands.kept, important):
            continue
        what, todo = f"the {PERIODS[key]}'s budget", f"raise {key} in the routes file"
        if is_covered(cost, stands.spent, stands.limit, stands.kept, important=True):
            return f"the rest of {what} is kept for replies and important notices: {todo}"
        return f"{what} is spent: {todo}"
    return None
