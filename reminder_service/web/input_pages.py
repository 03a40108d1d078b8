"""Inputs by week: what a ward needs before the windows open, as page, picture and CSV."""

from collections.abc import Iterator, Sequence
from datetime import date
from math import ceil

from flask import Blueprint, Response, render_template

from reminder_service.records import views
from reminder_service.records.engine import reading
from reminder_service.records.input_views import planned_work
from reminder_service.records.views import Ward
from reminder_service.rules.inputs import WeekInputs, inputs_by_week
from reminder_service.rules.labour import HOURS_A_DAY
from reminder_service.rules.needs import CupNeed
from reminder_service.web.csv_cells import csv_text
from reminder_service.web.input_bars import input_bars
from reminder_service.web.walls import scope, services, today_in, ward_or_404

blueprint = Blueprint("inputs", __name__)

PRODUCT_WORDS = {"an": "ammonium nitrate", "can": "calcium ammonium nitrate", "urea": "urea"}
"""Each fertiliser of the rulebooks as the pages say it."""

CSV_HEAD = ("ward", "iso_week", "monday", "first_needed_on", "product", "kg", "bags_50kg")
CSV_REST = ("manure_kg", "tea_litres", "labour_days")


@blueprint.get("/wards/<int:ward_id>/inputs")
def page(ward_id: int) -> str:
    """Show what a ward needs week by week."""
    with reading(services().engine) as c:
        here = ward_or_404(c, ward_id)
        today = today_in(here.zone)
        work = planned_work(c, {ward_id}, {here.zone: today})[ward_id]
    weeks = inputs_by_week(work, services().rulebook, today)
    return render_template(
        "inputs.html",
        ward=here,
        today=today,
        weeks=weeks,
        products=products(),
        product_words=PRODUCT_WORDS,
        bars=input_bars(weeks),
        total=total(weeks),
        hours_a_day=HOURS_A_DAY,
    )


@blueprint.get("/wards/<int:ward_id>/inputs.csv")
def ward_csv(ward_id: int) -> Response:
    """Hand out one ward's table."""
    with reading(services().engine) as c:
        here = ward_or_404(c, ward_id)
        today = today_in(here.zone)
        work = planned_work(c, {ward_id}, {here.zone: today})[ward_id]
    weeks = inputs_by_week(work, services().rulebook, today)
    return _csv(csv_rows([(here, weeks)]), f"inputs-ward-{ward_id}-{today}.csv")


@blueprint.get("/inputs.csv")
def csv_of_all() -> Response:
    """Hand out the tables of every ward that the person may see, as one."""
    with reading(services().engine) as c:
        wards = views.wards_seen(c, scope())
        days = {ward.zone: today_in(ward.zone) for ward in wards}
        work = planned_work(c, scope(), days)
    book = services().rulebook
    found = [(ward, inputs_by_week(work[ward.id], book, days[ward.zone])) for ward in wards]
    day = max(days.values(), default=date.min)
    return _csv(csv_rows(found), f"inputs-{day}.csv")


def products() -> list[str]:
    """Fertilisers that the programme's rulebook lays, by name."""
    needs = [task.need for task in services().rulebook.tasks]
    return sorted({need.product for need in needs if isinstance(need, CupNeed)})


def total(weeks: Sequence[WeekInputs]) -> WeekInputs | None:
    """All weeks added up; None if there is none."""
    if not weeks:
        return None
    names = {name for week in weeks for name in week.fertiliser_kg}
    return WeekInputs(
        weeks[0].monday,
        {name: sum(week.fertiliser_kg.get(name, 0.0) for week in weeks) for name in names},
        sum(week.manure_kg for week in weeks),
        sum(week.tea_l for week in weeks),
        sum(week.labour_days for week in weeks),
    )


def csv_rows(found: Sequence[tuple[Ward, Sequence[WeekInputs]]]) -> Iterator[list[str | float]]:
    """Rows of the table: one for each week, and one more for each further product in it.

    Parameters
    ----------
    found : each ward's weeks
    """
    yield [*CSV_HEAD, *CSV_REST]
    for ward, weeks in found:
        for week in weeks:
            first = week.first_on.isoformat() if week.first_on else ""
            head = [ward.name, week.label, week.monday.isoformat(), first]
            rest = [week.manure_kg, ceil(round(week.tea_l, 6)), round(week.labour_days, 1)]
            laid = [(n, ceil(round(kg, 6)), week.bags[n]) for n, kg in week.fertiliser_kg.items()]
            for product in laid or [("", 0, 0)]:
                yield [*head, *product, *rest]
                rest = [0, 0, 0]  # so that a column can be added up


def _csv(rows: Iterator[list[str | float]], name: str) -> Response:
    answer = Response(csv_text(rows), content_type="text/csv; charset=utf-8")
    answer.headers.set("Content-Disposition", "attachment", filename=name)
    return answer
