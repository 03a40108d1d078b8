"""Reads for other programs: farmers, plots, seasons, tasks, reports and rain, page by page.

Each page begins after the key that the last one ended with; nothing is counted off. A scope is
the ids of the wards that a key sees; None means all of them.
"""

from datetime import date
from typing import Any

from sqlalchemy import ColumnElement, Connection, RowMapping, Select, select, tuple_

from reminder_service.kinds import SeasonId
from reminder_service.records.rain_tables import rain_observations
from reminder_service.records.tables import (
    farmer_phones,
    farmers,
    phones,
    plots,
    reports,
    seasons,
    tasks,
    wards,
)
from reminder_service.records.views import Scope, in_scope, is_replaced

Row = dict[str, Any]
"""One row by the names of its columns."""


def wards_with(c: Connection, scope: Scope, after: int, limit: int) -> list[Row]:
    """Wards by id. Index: primary key."""
    found = select(wards).where(wards.c.id > after, *in_scope(wards.c.id, scope))
    return _rows(c, found.order_by(wards.c.id).limit(limit))


def farmers_with(
    c: Connection, scope: Scope, ward_id: int | None, after: int, limit: int
) -> list[Row]:
    """Farmers by id, each with its phones. Indexes: primary key or ix_farmers_ward_id.

    Parameters
    ----------
    c : connection
    scope : wards that are seen
    ward_id : one of them alone; None for all
    after : id that the last page ended with, or 0
    limit : how many at most
    """
    found = select(*farmers.c["id", "ward_id", "name", "language", "created_at"])
    found = found.where(farmers.c.id > after, *in_scope(farmers.c.ward_id, scope))
    rows = _rows(c, _in_ward(found, farmers.c.ward_id, ward_id).order_by(farmers.c.id).limit(limit))
    theirs: dict[int, list[RowMapping]] = {row["id"]: [] for row in rows}
    used = (
        select(farmer_phones.c.farmer_id, phones.c.number, phones.c.stopped_at)
        .join(phones)
        .where(farmer_phones.c.farmer_id.in_(list(theirs)))
        .order_by(phones.c.id)
    )
    for phone in c.execute(used).mappings():
        theirs[phone["farmer_id"]].append(phone)
    return [row | {"phones": theirs[row["id"]]} for row in rows]


def plots_with(
    c: Connection, scope: Scope, ward_id: int | None, after: int, limit: int
) -> list[Row]:
    """Plots by id; the parameters are those of `farmers_with`. Index: primary key."""
    found = select(plots).where(plots.c.id > after, *in_scope(plots.c.ward_id, scope))
    return _rows(c, _in_ward(found, plots.c.ward_id, ward_id).order_by(plots.c.id).limit(limit))


def seasons_with(
    c: Connection, scope: Scope, ward_id: int | None, plot_id: int | None, after: int, limit: int
) -> list[Row]:
    """Seasons by id. Indexes: primary key, uq_seasons_plot_id_label where a plot is named."""
    found = select(seasons, plots.c.ward_id).join(plots)
    found = found.where(seasons.c.id > after, *in_scope(plots.c.ward_id, scope))
    if plot_id is not None:
        found = found.where(seasons.c.plot_id == plot_id)
    return _rows(c, _in_ward(found, plots.c.ward_id, ward_id).order_by(seasons.c.id).limit(limit))


def tasks_with(
    c: Connection,
    scope: Scope,
    ward_id: int | None,
    season_id: int | None,
    after: tuple[int, str, int],
    limit: int,
) -> list[Row]:
    """Tasks of open and closed seasons by season, name and number. Index: primary key."""
    key = tuple_(tasks.c.season_id, tasks.c.name, tasks.c.number)
    types = [tasks.c.season_id.type, tasks.c.name.type, tasks.c.number.type]
    found = select(tasks, plots.c.ward_id, seasons.c.plot_id)
    found = found.select_from(tasks.join(seasons).join(plots))
    found = found.where(key > tuple_(*after, types=types), *in_scope(plots.c.ward_id, scope))
    if season_id is not None:
        found = found.where(tasks.c.season_id == season_id)
    found = _in_ward(found, plots.c.ward_id, ward_id)
    return _rows(c, found.order_by(tasks.c.season_id, tasks.c.name, tasks.c.number).limit(limit))


def reports_with(
    c: Connection, scope: Scope, ward_id: int | None, season_id: int | None, after: int, limit: int
) -> list[Row]:
    """Reports by id, which grows with time. Indexes: primary key, ix_reports_season_id."""
    found = _reports().where(reports.c.id > after, *in_scope(plots.c.ward_id, scope))
    if season_id is not None:
        found = found.where(reports.c.season_id == season_id)
    return _rows(c, _in_ward(found, plots.c.ward_id, ward_id).order_by(reports.c.id).limit(limit))


def open_season_of_plot(c: Connection, plot_id: int, scope: Scope) -> SeasonId | None:
    """The open season of a plot in the scope, the latest. Index: uq_seasons_plot_id_label."""
    found = (
        select(seasons.c.id)
        .join(plots)
        .where(plots.c.id == plot_id, seasons.c.closed_at.is_(None))
        .where(*in_scope(plots.c.ward_id, scope))
        .order_by(seasons.c.starts_on.desc(), seasons.c.id.desc())
        .limit(1)
    )
    season_id = c.execute(found).scalar_one_or_none()
    return None if season_id is None else SeasonId(season_id)


def standing_report(c: Connection, season_id: SeasonId, kind: str, on: date) -> int | None:
    """Id of the last report of a kind and day that nothing replaced. Index: season_id."""
    same = (reports.c.season_id == season_id, reports.c.kind == kind, reports.c.on == on)
    found = select(reports.c.id).where(*same, ~is_replaced()).order_by(reports.c.id.desc())
    return c.execute(found.limit(1)).scalar_one_or_none()


def _reports() -> Select[tuple[object, ...]]:
    return select(
        reports, plots.c.ward_id, seasons.c.plot_id, is_replaced().label("replaced")
    ).select_from(reports.join(seasons).join(plots))


def rain_with(
    c: Connection, scope: Scope, ward_id: int | None, since: date | None, after: int, limit: int
) -> list[Row]:
    """Observations of rain by id, as they came. Index: primary key.

    Parameters
    ----------
    c : connection
    scope : wards that are seen
    ward_id : one of them alone; None for all
    since : first local day; None for all
    after : id that the last page ended with, or 0
    limit : how many at most
    """
    o = rain_observations.c
    found = select(rain_observations).where(o.id > after, *in_scope(o.ward_id, scope))
    if since is not None:
        found = found.where(o.day >= since)
    return _rows(c, _in_ward(found, o.ward_id, ward_id).order_by(o.id).limit(limit))


def _in_ward(found: Select[Any], column: ColumnElement[int], ward_id: int | None) -> Select[Any]:
    return found if ward_id is None else found.where(column == ward_id)


def _rows(c: Connection, found: Select[Any]) -> list[Row]:
    return [dict(row) for row in c.execute(found).mappings()]
