"""Where wards lie, their usual soil, and their daily temperatures."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import Connection, delete, insert, select

from reminder_service.agronomy.heat import Temperatures
from reminder_service.records import tables as t
from reminder_service.records.weather_tables import temperatures, ward_places


@dataclass(frozen=True, slots=True)
class WardPlace:
    """What is known of a ward as a place.

    Attributes
    ----------
    latitude_deg : degrees, south below zero; None if nobody gave it
    soil : class of the soil of plots that name none; None for the programme's
    """

    latitude_deg: float | None = None
    soil: str | None = None


def ward_place(c: Connection, ward_id: int) -> WardPlace:
    """Where a ward lies, and its soil. Index: primary key."""
    row = c.execute(select(ward_places).where(ward_places.c.ward_id == ward_id)).one_or_none()
    return WardPlace() if row is None else WardPlace(row.latitude_deg, row.soil)


def set_ward_place(c: Connection, ward_id: int, place: WardPlace) -> None:
    """Say anew where a ward lies, and its soil. Index: primary key."""
    _lock_ward(c, ward_id)
    c.execute(delete(ward_places).where(ward_places.c.ward_id == ward_id))
    values = {"ward_id": ward_id, "latitude_deg": place.latitude_deg, "soil": place.soil}
    c.execute(insert(ward_places).values(values))


def daily_temperatures(
    c: Connection, ward_id: int, first: date, last: date
) -> dict[date, Temperatures]:
    """Temperatures of a ward from one local day to another. Index: primary key."""
    n = temperatures.c
    rows = c.execute(
        select(n.day, n.tmin_c, n.tmax_c).where(n.ward_id == ward_id, n.day.between(first, last))
    )
    return {row.day: Temperatures(row.tmin_c, row.tmax_c) for row in rows}


def keep_temperatures(
    c: Connection, ward_id: int, days: Mapping[date, Temperatures], by: str, at: datetime
) -> int:
    """Keep temperatures of a ward; what is said last of a day counts. Index: primary key.

    Parameters
    ----------
    c : connection of a write transaction
    ward_id : which ward
    days : by local day
    by : the file or source
    at : aware UTC instant

    Returns
    -------
    how many days were new or had changed
    """
    if not days:
        return 0
    _lock_ward(c, ward_id)
    known = daily_temperatures(c, ward_id, min(days), max(days))
    changed = {on: air for on, air in days.items() if known.get(on) != air}
    stale = sorted(changed.keys() & known.keys())
    if stale:
        n = temperatures.c
        c.execute(delete(temperatures).where(n.ward_id == ward_id, n.day.in_(stale)))
    if changed:
        c.execute(
            insert(temperatures),
            [
                {"ward_id": ward_id, "day": on, "by": by, "kept_at": at}
                | {"tmin_c": air.tmin_c, "tmax_c": air.tmax_c}
                for on, air in sorted(changed.items())
            ],
        )
    return len(changed)


def _lock_ward(c: Connection, ward_id: int) -> None:
    """Keep others from writing the same ward's weather until this transaction ends."""
    c.execute(select(t.wards.c.id).where(t.wards.c.id == ward_id).with_for_update())
