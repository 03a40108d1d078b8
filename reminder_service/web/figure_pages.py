"""A season's figures for the programme: page, CSV, and two pages of paper for the funder."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from flask import Blueprint, Response, abort, render_template, request

from reminder_service.kinds import Kind
from reminder_service.records.engine import reading
from reminder_service.records.season_figures import Timeliness, season_starts
from reminder_service.records.views import wards_seen
from reminder_service.web.csv_cells import csv_text
from reminder_service.web.funder_paper import funder_paper
from reminder_service.web.on_time_bars import OnTimeBars, on_time_bars, percent
from reminder_service.web.text_pages import language_name
from reminder_service.web.walls import scope, services, today_in
from reminder_service.web.wording import titles_of
from reminder_service.work.routes import routes_file
from reminder_service.work.season_figures import (
    SeasonFigures,
    arrived_rate,
    season_figures,
    summed,
    tasks_in_order,
    whole,
)

blueprint = Blueprint("figures", __name__)

REPORTS_SHOWN = (
    Kind.FIRST_RAIN,
    Kind.PLANTED,
    Kind.GERMINATED,
    Kind.TASSELLED,
    Kind.HARVESTED,
)
"""Reports whose share of the plots is told."""

CSV_HEAD = ("season_from", "ward", "language", "task", "in_time", "late", "missed", "ahead")


@dataclass(frozen=True, slots=True)
class Seasons:
    """The season asked for, the one before it, and all that may be asked for."""

    asked: SeasonFigures
    before: SeasonFigures | None
    starts: tuple[date, ...]


@blueprint.get("/figures")
def page() -> str:
    """Show the figures of one season beside those of the season before."""
    found = _figures()
    if found is None:
        return render_template("figures.html", figures=None)
    asked = found.asked
    return render_template(
        "figures.html",
        figures=asked,
        starts=found.starts,
        before=found.before,
        by_task=task_bars(asked, found.before),
        by_ward=ward_bars(asked, found.before),
        by_language=summed(asked.done, lambda group: group.language),
        language_name=language_name,
        total=whole(asked.done.values()),
        total_before=whole(found.before.done.values()) if found.before else None,
        reports=REPORTS_SHOWN,
        arrived_rate=arrived_rate,
        percent=percent,
        currency=_currency(),
    )


@blueprint.get("/figures.csv")
def table() -> Response:
    """Hand out the counts by ward, language and task."""
    found = _figures() or abort(404)
    answer = Response(csv_text(_csv_rows(found.asked)), content_type="text/csv; charset=utf-8")
    name = f"figures-{found.asked.starts_on}.csv"
    answer.headers.set("Content-Disposition", "attachment", filename=name)
    return answer


@blueprint.get("/figures.pdf")
def paper() -> Response:
    """Hand out two pages for the funder, with how each figure is made."""
    found = _figures() or abort(404)
    printed_on = today_in(found.asked.wards[0].zone) if found.asked.wards else today_in("UTC")
    titles = titles_of(services().rulebook)
    content = funder_paper(
        found.asked,
        found.before,
        [(titles(name, 0), name) for name in tasks_in_order(found.asked, _known_tasks())],
        REPORTS_SHOWN,
        printed_on,
        _currency(),
    )
    answer = Response(content, content_type="application/pdf")
    name = f"season-{found.asked.starts_on}.pdf"
    answer.headers.set("Content-Disposition", "attachment", filename=name)
    return answer


def task_bars(asked: SeasonFigures, before: SeasonFigures | None) -> OnTimeBars | None:
    """Bars of tasks, in the order of the rulebook."""
    titles = titles_of(services().rulebook)
    now = summed(asked.done, lambda group: group.task)
    then = summed(before.done, lambda group: group.task) if before else {}
    names = tasks_in_order(asked, _known_tasks())
    return on_time_bars([(titles(name, 0), now[name], then.get(name)) for name in names])


def ward_bars(asked: SeasonFigures, before: SeasonFigures | None) -> OnTimeBars | None:
    """Bars of wards, by name."""
    now = summed(asked.done, lambda group: group.ward_id)
    then = summed(before.done, lambda group: group.ward_id) if before else {}
    none = Timeliness()
    return on_time_bars(
        [(ward.name, now.get(ward.id, none), then.get(ward.id)) for ward in asked.wards]
    )


def _known_tasks() -> list[str]:
    return [task.name for task in services().rulebook.tasks]


def _currency() -> str:
    budget = routes_file(services().settings).budget
    return budget.currency if budget is not None else ""


def _figures() -> Seasons | None:
    """Figures of the season in the address, else of the latest; 404 if there is none such."""
    with reading(services().engine) as c:
        starts = season_starts(c, scope())
        if not starts:
            return None
        asked_on = _start_given(starts)
        days: Mapping[str, date] = {
            ward.zone: today_in(ward.zone) for ward in wards_seen(c, scope())
        }
        asked = season_figures(c, scope(), asked_on, days)
        earlier = [start for start in starts if start < asked_on]
        before = season_figures(c, scope(), earlier[0], days) if earlier else None
    return Seasons(asked, before, tuple(starts))


def _start_given(starts: list[date]) -> date:
    text = request.args.get("from")
    if not text:
        return starts[0]
    found = [start for start in starts if start.isoformat() == text]
    return found[0] if found else abort(404)


def _csv_rows(figures: SeasonFigures) -> Iterator[list[str | int]]:
    yield list(CSV_HEAD)
    names = {ward.id: ward.name for ward in figures.wards}
    season = figures.starts_on.isoformat()
    in_order = sorted(
        figures.done.items(),
        key=lambda each: (names[each[0].ward_id], each[0].language, each[0].task),
    )
    for group, counts in in_order:
        named = [season, names[group.ward_id], group.language, group.task]
        yield [*named, counts.in_time, counts.late, counts.missed, counts.ahead]
