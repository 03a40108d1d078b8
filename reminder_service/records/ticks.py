"""When each repeating piece of work last ran."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, select, update
from sqlalchemy.dialects import postgresql, sqlite

from reminder_service.records import tables as t


@dataclass(frozen=True, slots=True)
class Tick:
    """The last run of one repeating piece of work.

    Attributes
    ----------
    started_at, ended_at : aware UTC instants; the second is None while it runs
    error : what went wrong; None if nothing did
    """

    name: str
    started_at: datetime
    ended_at: datetime | None
    error: str | None


def tick_started(c: Connection, name: str, at: datetime) -> None:
    """Note that a piece of work starts; the run before is forgotten. Index: primary key."""
    insert = postgresql.insert if c.dialect.name == "postgresql" else sqlite.insert
    started = {"started_at": at, "ended_at": None, "error": None}
    c.execute(
        insert(t.ticks)
        .values(name=name, **started)
        .on_conflict_do_update(index_elements=[t.ticks.c.name], set_=started)
    )


def tick_ended(c: Connection, name: str, at: datetime, error: str | None = None) -> None:
    """Note that a piece of work has ended, and what went wrong. Index: primary key."""
    c.execute(update(t.ticks).where(t.ticks.c.name == name).values(ended_at=at, error=error))


def ticks(c: Connection) -> list[Tick]:
    """The last run of every piece of work, by name."""
    return [Tick(**row) for row in c.execute(select(t.ticks).order_by(t.ticks.c.name)).mappings()]
