"""First rains declared for whole wards, and the seasons that are to be re-planned for it."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import Connection, delete, exists, func, insert, select

from reminder_service.kinds import Kind, SeasonId
from reminder_service.records import tables as t
from reminder_service.records.rain_tables import replans_due as due
from reminder_service.records.rain_tables import ward_first_rains as w
from reminder_service.records.reports import is_standing
from reminder_service.records.views import season_is_open


@dataclass(frozen=True, slots=True)
class Declared:
    """The last word on a ward's first rain.

    Attributes
    ----------
    on : local day; None if it was taken back
    declared_at : aware UTC instant
    by : login of whoever declared it
    """

    on: date | None
    declared_at: datetime
    by: str


@dataclass(frozen=True, slots=True)
class OwnFirstRain:
    """A first rain that was reported for one plot."""

    season_id: SeasonId
    plot_id: int
    plot_number: str
    farmer_name: str
    on: date


def add_declared(
    c: Connection,
    ward_id: int,
    season_starts_on: date,
    on: date | None,
    person_id: int,
    at: datetime,
) -> None:
    """Note a ward's first rain, or that the one before no longer counts.

    Parameters
    ----------
    c : connection of a write transaction
    ward_id : which ward
    season_starts_on : first local day of the season
    on : local day of the first rain; None to take it back
    person_id : who declares it
    at : aware UTC instant
    """
    c.execute(
        insert(w).values(
            ward_id=ward_id,
            season_starts_on=season_starts_on,
            on=on,
            person_id=person_id,
            declared_at=at,
        )
    )


def declared(c: Connection, ward_id: int, season_starts_on: date) -> Declared | None:
    """The last word on a ward's first rain of a season; None if nobody declared any.

    Index: ix_ward_first_rains_ward_id_season_starts_on.
    """
    row = c.execute(
        select(w.c.on, w.c.declared_at, t.people.c.login)
        .select_from(w.join(t.people))
        .where(w.c.ward_id == ward_id, w.c.season_starts_on == season_starts_on)
        .order_by(w.c.id.desc())
        .limit(1)
    ).one_or_none()
    return None if row is None else Declared(*row)


def open_seasons(c: Connection, ward_id: int, limit: int | None = None) -> list[SeasonId]:
    """Open seasons of a ward's plots, by id. Index: uq_plots_ward_id_number."""
    ids = (
        select(t.seasons.c.id)
        .select_from(t.seasons.join(t.plots))
        .where(t.plots.c.ward_id == ward_id, season_is_open())
        .order_by(t.seasons.c.id)
        .limit(limit)
    )
    return [SeasonId(id_) for id_ in c.execute(ids).scalars()]


def own_first_rains(c: Connection, ward_id: int) -> list[OwnFirstRain]:
    """First rains reported for single plots of a ward, by day. Index: ix_reports_season_id."""
    rows = c.execute(
        select(t.seasons.c.id, t.plots.c.id, t.plots.c.number, t.farmers.c.name, t.reports.c.on)
        .select_from(
            t.reports.join(t.seasons)
            .join(t.plots)
            .join(t.farmers, t.plots.c.farmer_id == t.farmers.c.id)
        )
        .where(
            t.plots.c.ward_id == ward_id,
            season_is_open(),
            t.reports.c.kind == Kind.FIRST_RAIN.value,
            *is_standing(),
        )
        .order_by(t.reports.c.on, t.plots.c.number, t.reports.c.id)
    )
    return [OwnFirstRain(*row) for row in rows]


def ask_replans(c: Connection, ward_id: int) -> None:
    """Have every open season of a ward re-planned. Index: primary key of replans_due."""
    asked = exists().where(due.c.season_id == t.seasons.c.id)
    wanted = (
        select(t.seasons.c.id, t.plots.c.ward_id)
        .select_from(t.seasons.join(t.plots))
        .where(t.plots.c.ward_id == ward_id, season_is_open(), ~asked)
    )
    c.execute(insert(due).from_select(["season_id", "ward_id"], wanted))


def replans_left(c: Connection, ward_id: int | None, limit: int) -> list[SeasonId]:
    """Seasons to re-plan, of one ward or of all, by id. Index: ix_replans_due_ward_id."""
    ids = select(due.c.season_id).order_by(due.c.season_id).limit(limit)
    if ward_id is not None:
        ids = ids.where(due.c.ward_id == ward_id)
    return [SeasonId(id_) for id_ in c.execute(ids).scalars()]


def count_replans(c: Connection, ward_id: int) -> int:
    """How many seasons of a ward are still to be re-planned. Index: ix_replans_due_ward_id."""
    left = select(func.count()).where(due.c.ward_id == ward_id).select_from(due)
    return c.execute(left).scalar_one()


def end_replans(c: Connection, season_ids: Collection[SeasonId]) -> None:
    """Note that some seasons were re-planned. Index: primary key."""
    c.execute(delete(due).where(due.c.season_id.in_(sorted(season_ids))))
