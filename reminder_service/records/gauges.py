"""Gauge keepers: which farmers read the rain gauge of a ward."""

from dataclasses import dataclass

from sqlalchemy import Connection, delete, select

from reminder_service.records import tables as t
from reminder_service.records.once import insert_once_by
from reminder_service.records.rain_tables import gauge_keepers as k
from reminder_service.records.views import season_is_open


@dataclass(frozen=True, slots=True)
class Keeper:
    """One gauge keeper of a ward."""

    farmer_id: int
    farmer_name: str


def add_keeper(c: Connection, farmer_id: int, ward_id: int) -> None:
    """Let a farmer read the ward's gauge; once is enough. Index: primary key."""
    insert_once_by(c, k, {"farmer_id": farmer_id, "ward_id": ward_id})


def end_keeper(c: Connection, farmer_id: int, ward_id: int) -> bool:
    """Let a farmer read it no more; False if they did not. Index: primary key."""
    ended = delete(k).where(k.c.farmer_id == farmer_id, k.c.ward_id == ward_id)
    return c.execute(ended).rowcount == 1


def keepers_in(c: Connection, ward_id: int) -> list[Keeper]:
    """Gauge keepers of a ward, by name. Index: ix_gauge_keepers_ward_id."""
    rows = c.execute(
        select(t.farmers.c.id, t.farmers.c.name)
        .select_from(k.join(t.farmers))
        .where(k.c.ward_id == ward_id)
        .order_by(t.farmers.c.name, t.farmers.c.id)
    )
    return [Keeper(*row) for row in rows]


def wards_of_phone(c: Connection, phone_id: int) -> list[int]:
    """Wards whose gauge somebody on a phone reads. Index: ix_farmer_phones_phone_id."""
    wards = (
        select(k.c.ward_id)
        .select_from(t.farmer_phones.join(k, k.c.farmer_id == t.farmer_phones.c.farmer_id))
        .where(t.farmer_phones.c.phone_id == phone_id)
        .distinct()
    )
    return list(c.execute(wards).scalars())


def farmer_of_plot(c: Connection, ward_id: int, number: str) -> Keeper | None:
    """The farmer of an open plot of a ward by the plot's number. Index: uq_plots_ward_id_number."""
    found = c.execute(
        select(t.farmers.c.id, t.farmers.c.name)
        .select_from(t.plots.join(t.farmers, t.plots.c.farmer_id == t.farmers.c.id))
        .join(t.seasons, t.seasons.c.plot_id == t.plots.c.id)
        .where(t.plots.c.ward_id == ward_id, t.plots.c.number == number.upper(), season_is_open())
    ).first()
    return None if found is None else Keeper(*found)
