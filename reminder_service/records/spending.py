"""What each route was given on each UTC day, and what that cost; thousandths of the money."""

from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection, case, func, select, update
from sqlalchemy.dialects import postgresql, sqlite

from reminder_service.records.tables import spending

SPENDING_LOCK = 0x6D6F6E65
"""Key of the lock that lets one transaction at a time spend; any number that stays the same."""


@dataclass(frozen=True, slots=True)
class Spent:
    """Money that went into texts.

    Attributes
    ----------
    day, season : thousandths: on one UTC day, and since the season's first
    """

    day: int
    season: int


def lock_spending(c: Connection) -> None:
    """Let nobody else spend under a limit until this transaction ends.

    What was spent may be read after it, and added to, without anybody coming between. To be the
    first lock that the transaction takes, so that whoever waits for it holds nobody up. SQLite
    has one writer at a time anyway.

    Parameters
    ----------
    c : connection of a write transaction
    """
    if c.dialect.name == "postgresql":
        c.execute(select(func.pg_advisory_xact_lock(SPENDING_LOCK)))


def spent(c: Connection, day: date, season_starts_on: date) -> Spent:
    """Money spent by all routes on one day and in its season so far.

    Index: primary key from the season's first day on: one row a day and route. Later days than
    this count too: another machine's clock may have passed midnight already.

    Parameters
    ----------
    c : connection
    day : UTC day
    season_starts_on : first day of its season, not after it

    Returns
    -------
    what was spent
    """
    that_day = func.sum(case((spending.c.day == day, spending.c.cost), else_=0))
    row = c.execute(
        select(func.coalesce(that_day, 0), func.coalesce(func.sum(spending.c.cost), 0)).where(
            spending.c.day >= season_starts_on
        )
    ).one()
    return Spent(int(row[0]), int(row[1]))


def add_spending(c: Connection, day: date, route: str, segments: int, cost: int) -> None:
    """Note that a route is given one more text. Index: primary key.

    Parameters
    ----------
    c : connection of a write transaction
    day : UTC day
    route : its name
    segments, cost : of the text; the cost in thousandths
    """
    insert = postgresql.insert if c.dialect.name == "postgresql" else sqlite.insert
    new = insert(spending).values(day=day, route=route, texts=1, segments=segments, cost=cost)
    more = {name: spending.c[name] + new.excluded[name] for name in ("texts", "segments", "cost")}
    keys = [spending.c.day, spending.c.route]
    c.execute(new.on_conflict_do_update(index_elements=keys, set_=more))


def take_back_spending(c: Connection, day: date, route: str, segments: int, cost: int) -> None:
    """Note that a text was not taken after all. Index: primary key.

    Parameters
    ----------
    c : connection of a write transaction
    day : UTC day on which it was noted
    route : its name
    segments, cost : as they were noted
    """
    less = {
        "texts": spending.c.texts - 1,
        "segments": spending.c.segments - segments,
        "cost": spending.c.cost - cost,
    }
    c.execute(update(spending).where(spending.c.day == day, spending.c.route == route).values(less))
