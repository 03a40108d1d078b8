"""Reads for the pages of inputs: planned work by ward, and the seasons of one plot."""

from collections import defaultdict
from collections.abc import Mapping
from datetime import date

from sqlalchemy import Connection, Date, case, func, literal, select

from reminder_service.kinds import Kind, SeasonId
from reminder_service.records.tables import plots, reports, seasons, tasks, wards
from reminder_service.records.views import Scope, in_scope, is_replaced, season_is_open
from reminder_service.rules.inputs import PlannedWork


def planned_work(
    c: Connection, scope: Scope, today: Mapping[str, date]
) -> defaultdict[int, list[PlannedWork]]:
    """Tasks not done whose window has not closed, by ward, alike ones counted together.

    One statement however many plots there are. Index: uq_plots_ward_id_number, then
    uq_seasons_plot_id_label, then the primary key of tasks.

    Parameters
    ----------
    c : connection
    scope : wards to add up; None for all
    today : local day in each zone that a ward of the scope lies in
    """
    found: defaultdict[int, list[PlannedWork]] = defaultdict(list)
    if not today:
        return found
    days = {zone: literal(day, Date) for zone, day in today.items()}
    alike = (plots.c.ward_id, tasks.c.name, tasks.c.opens_on, tasks.c.due_on, plots.c.stations)
    rows = c.execute(
        select(*alike, func.count())
        .select_from(tasks.join(seasons).join(plots).join(wards, plots.c.ward_id == wards.c.id))
        .where(
            season_is_open(),
            tasks.c.done_on.is_(None),
            tasks.c.closes_on >= case(days, value=wards.c.zone),
            *in_scope(plots.c.ward_id, scope),
        )
        .group_by(*alike)
        .order_by(*alike)
    )
    for ward_id, *rest in rows:
        found[ward_id].append(PlannedWork(*rest))
    return found


def last_counts(c: Connection, season_id: SeasonId) -> dict[Kind, Mapping[str, object]]:
    """What was counted last on a plot: seedlings, and damaged plants of 100.

    Index: ix_reports_season_id.

    Parameters
    ----------
    c : connection
    season_id : which season

    Returns
    -------
    by kind, what the last standing report of it says, with its local day under ``on``
    """
    rows = c.execute(
        select(reports.c.kind, reports.c.on, reports.c.detail)
        .where(
            reports.c.season_id == season_id,
            reports.c.kind.in_([Kind.COUNT.value, Kind.BORER_COUNT.value]),
            reports.c.on.is_not(None),
            ~is_replaced(),
        )
        .order_by(reports.c.on, reports.c.sent_at, reports.c.id)
    )
    return {Kind(row.kind): {**(row.detail or {}), "on": row.on} for row in rows}


def rulebooks_grown(c: Connection, plot_id: int) -> list[str]:
    """Rulebook of each season of a plot, oldest first. Index: uq_seasons_plot_id_label."""
    rows = c.execute(
        select(seasons.c.rulebook)
        .where(seasons.c.plot_id == plot_id)
        .order_by(seasons.c.starts_on, seasons.c.id)
    )
    return [row.rulebook for row in rows]


def stations_per_ha(c: Connection, plot_id: int) -> int:
    """Stations per hectare of a plot. Index: primary key."""
    row = c.execute(select(plots.c.stations_per_ha).where(plots.c.id == plot_id)).one()
    return int(row[0])
