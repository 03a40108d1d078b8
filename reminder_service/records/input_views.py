"""Reads for the pages of inputs: planned work by ward, and what has grown on a plot."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection, Date, case, func, literal, select

from reminder_service.records.tables import plots, seasons, tasks, wards
from reminder_service.records.views import Scope, in_scope, season_is_open
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
            tasks.c.waits.is_(False),
            tasks.c.closes_on >= case(days, value=wards.c.zone),
            *in_scope(plots.c.ward_id, scope),
        )
        .group_by(*alike)
        .order_by(*alike)
    )
    for ward_id, *rest in rows:
        found[ward_id].append(PlannedWork(*rest))
    return found


@dataclass(frozen=True, slots=True)
class PlotGrown:
    """How close a plot's stations stand, and the rulebook of each season, oldest first."""

    stations_per_ha: int
    rulebooks: tuple[str, ...]


def plot_grown(c: Connection, plot_id: int, up_to: date) -> PlotGrown:
    """What has grown on a plot. Index: uq_seasons_plot_id_label.

    Parameters
    ----------
    c : connection
    plot_id : a plot with at least one season
    up_to : local day that the last season looked at starts on
    """
    rows = c.execute(
        select(plots.c.stations_per_ha, seasons.c.rulebook)
        .select_from(seasons.join(plots))
        .where(plots.c.id == plot_id, seasons.c.starts_on <= up_to)
        .order_by(seasons.c.starts_on, seasons.c.id)
    ).all()
    return PlotGrown(rows[-1].stations_per_ha, tuple(row.rulebook for row in rows))
