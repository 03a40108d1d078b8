"""Rain that a source expects in a ward in the next days."""

from collections.abc import Mapping
from datetime import date

from sqlalchemy import Connection, delete, func, insert, select

from reminder_service.records.rain_tables import rain_ahead as a


def replace_rain_ahead(c: Connection, ward_id: int, mm: Mapping[date, float], on: date) -> None:
    """Keep what a source expects, in place of what it said before. Index: primary key.

    Parameters
    ----------
    c : connection of a write transaction
    ward_id : which ward
    mm : expected rain by local day
    on : local day on which it was said
    """
    c.execute(delete(a).where(a.c.ward_id == ward_id))
    rows = [
        {"ward_id": ward_id, "day": day, "mm": amount, "told_on": on}
        for day, amount in sorted(mm.items())
    ]
    if rows:
        c.execute(insert(a), rows)


def rain_ahead(c: Connection, ward_id: int, first: date, told_since: date) -> dict[date, float]:
    """Expected rain of a ward from a local day on, in mm, unless it is an old word.

    Index: primary key.

    Parameters
    ----------
    c : connection
    ward_id : which ward
    first : local day
    told_since : earliest local day on which it may have been said
    """
    rows = c.execute(
        select(a.c.day, a.c.mm)
        .where(a.c.ward_id == ward_id, a.c.day >= first, a.c.told_on >= told_since)
        .order_by(a.c.day)
    )
    return {day: mm for day, mm in rows}


def last_told_on(c: Connection, ward_id: int) -> date | None:
    """Local day on which a source last said what it expects; None if never. Index: primary key."""
    found: date | None = c.execute(
        select(func.max(a.c.told_on)).where(a.c.ward_id == ward_id)
    ).scalar_one()
    return found
