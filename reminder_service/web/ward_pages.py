"""Pages of wards: all at a glance, and one ward's plots with their season strips."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from flask import Blueprint, render_template, request, url_for

from reminder_service.kinds import Kind, SeasonId
from reminder_service.records import gauges, joining, views
from reminder_service.records.engine import reading
from reminder_service.records.views import PlotLine, ReportLine
from reminder_service.records.ward_views import ward_lines
from reminder_service.rules.plan import Task
from reminder_service.web.joining_pages import WAITING_SHOWN
from reminder_service.web.strip import SMALL, Strip, season_span, season_strip
from reminder_service.web.walls import may_change, scope, services, today_in, ward_or_404
from reminder_service.web.wording import titles_of

blueprint = Blueprint("wards", __name__)

PLOTS_A_PAGE = 25
"""Plots with their strips on one page; keeps it under 100 kB (setting)."""


@dataclass(frozen=True, slots=True)
class PlotGlance:
    """One plot in its ward's list: its strip, the next task, what is late, and a lost stand."""

    plot: PlotLine
    strip: Strip
    upcoming: Task | None
    late: tuple[Task, ...]
    waits: bool = False


@blueprint.get("/wards")
def overview() -> str:
    """Show each ward the person may see on one line."""
    with reading(services().engine) as c:
        zones = {ward.zone for ward in views.wards_seen(c, scope())}
        lines = ward_lines(c, scope(), {zone: today_in(zone) for zone in zones})
        waiting = joining.waiting_by_ward(c, scope())
    return render_template("wards.html", lines=lines, waiting=waiting)


@blueprint.get("/wards/<int:ward_id>")
def ward(ward_id: int) -> str:
    """Show a ward's plots by number, their season strips under each other."""
    after = request.args.get("after", "")[:12]
    late_only = request.args.get("show") == "late"
    with reading(services().engine) as c:
        here = ward_or_404(c, ward_id)
        today = today_in(here.zone)
        lines = views.plot_lines(c, ward_id, today, after, late_only, PLOTS_A_PAGE + 1)
        more, lines = len(lines) > PLOTS_A_PAGE, lines[:PLOTS_A_PAGE]
        ids = [line.season_id for line in lines]
        tasks = views.tasks_by_season(c, ids)
        reports = views.reports_by_season(c, ids)
        waiting = joining.waiting_in(c, ward_id, WAITING_SHOWN)
        keepers = gauges.keepers_in(c, ward_id)
    glances = plot_glances(lines, tasks, reports, today)
    show = "late" if late_only else None
    onward = url_for(".ward", ward_id=ward_id, after=lines[-1].plot_number, show=show)
    return render_template(
        "ward.html",
        ward=here,
        today=today,
        glances=glances,
        late_only=late_only,
        more=onward if more else None,
        after=after,
        waiting=waiting,
        keepers=keepers,
        may_change=may_change(),
    )


def plot_glances(
    lines: list[PlotLine],
    tasks: Mapping[SeasonId, list[Task]],
    reports: Mapping[SeasonId, list[ReportLine]],
    today: date,
) -> list[PlotGlance]:
    """Lay the strips of several plots along one common line of time.

    Parameters
    ----------
    lines : the plots
    tasks, reports : by season id; a season without any may be left out
    today : local day in the ward
    """
    facts = {line.season_id: standing_facts(reports.get(line.season_id, [])) for line in lines}
    span = season_span(
        [task for line in lines for task in tasks.get(line.season_id, [])],
        [fact for found in facts.values() for fact in found],
        today,
    )
    words = titles_of(services().rulebook)
    glances = []
    for line in lines:
        own = tasks.get(line.season_id, [])
        strip = season_strip(own, facts[line.season_id], [], today, words, SMALL, span)
        open_ones = [task for task in own if task.done_on is None and not task.waits]
        coming = next((task for task in open_ones if task.due >= today), None)
        late = tuple(task for task in open_ones if task.due < today)
        waits = any(task.waits for task in own)
        glances.append(PlotGlance(line, strip, coming, late, waits))
    return glances


def standing_facts(reports: list[ReportLine]) -> list[tuple[Kind, date]]:
    """Facts and their local days from the reports that nothing has replaced; without tasks done."""
    return [
        (report.kind, report.on)
        for report in reports
        if report.on is not None and not report.replaced and report.kind is not Kind.DONE
    ]
