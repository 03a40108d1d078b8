"""One plot's season: the strip, tasks with their because, reports, conversation, corrections."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from flask import Blueprint, abort, redirect, render_template, request, url_for
from sqlalchemy import Connection
from werkzeug.wrappers import Response

from reminder_service.kinds import DATED_FACTS, MOVABLE, OF_THE_STAND, Kind, SeasonId
from reminder_service.records import farmers, input_views, leads, queue_views, views, ward_rains
from reminder_service.records.engine import reading
from reminder_service.records.queue_views import InboundLine, NoticeLine
from reminder_service.records.views import ReportLine, SeasonHead
from reminder_service.rules.estimates import estimated_dates
from reminder_service.rules.facts import COUNTS, PlotFacts, plot_facts
from reminder_service.rules.stands import stand_of
from reminder_service.web.queue_pages import TO_GO
from reminder_service.web.said import Undo, say
from reminder_service.web.strip import season_strip
from reminder_service.web.task_notes import AGAINST_WEEDS, PlotNow, is_open, task_notes
from reminder_service.web.walls import (
    may_change,
    person,
    season_or_404,
    services,
    today_in,
)
from reminder_service.web.ward_pages import standing_facts
from reminder_service.web.wording import counted, titles_of
from reminder_service.work import by_hand
from reminder_service.work.choices_by_hand import change_choices, choices_offered
from reminder_service.work.false_starts import standing
from reminder_service.work.moisture import FieldSoil, dressing_tasks, field_soil, planted_day
from reminder_service.work.normals import ward_normals

blueprint = Blueprint("plots", __name__, url_prefix="/plots")

TEXTS_SHOWN = 60
"""Latest texts from the farmer in the conversation (setting)."""

AT_ONCE = 5
"""Reminders to go that are shown unfolded (setting)."""

REPORTABLE = (*DATED_FACTS, *OF_THE_STAND, Kind.DONE)
"""What a coordinator can enter on a farmer's behalf."""


@dataclass(frozen=True, slots=True)
class Turn:
    """One text of a conversation: either one that came in or one that went out."""

    at: datetime
    came: InboundLine | None
    went: NoticeLine | None


def conversation(came: list[InboundLine], went: list[NoticeLine]) -> list[Turn]:
    """Texts both ways in the order of time; what has not gone out is left out.

    Parameters
    ----------
    came : what the phone sent
    went : what was queued for it
    """
    turns = [Turn(line.sent_at, line, None) for line in came]
    turns += [Turn(line.sent_at, None, line) for line in went if line.sent_at is not None]
    return sorted(turns, key=lambda turn: (turn.at, turn.went is not None))


@blueprint.get("/<int:season_id>")
def page(season_id: int) -> str:
    """Show one plot's season."""
    with reading(services().engine) as c:
        season = season_or_404(c, season_id)
        today = today_in(season.ward.zone)
        tasks = views.tasks_by_season(c, [season.season_id])[season.season_id]
        lines = views.reports_by_season(c, [season.season_id])[season.season_id]
        phones = views.phones_of_farmer(c, season.farmer_id)
        notices = queue_views.notices_of_season_seen(c, season_id)
        came = queue_views.inbound_of_phones(c, [phone.id for phone in phones], TEXTS_SHOWN)
        replies = queue_views.replies_to(c, [line.id for line in came])
        is_lead = leads.is_lead(c, season.farmer_id, season.ward.id)
        plot = plot_now(c, season, lines)
        by_soil = dressing_tasks(services().rulebook) | AGAINST_WEEDS
        if any(task.name in by_soil and is_open(task, today) for task in tasks):
            plot = replace(plot, soil=soil_now(c, season.season_id, plot.facts, today))
    known = standing_facts(lines)
    rain_on = plot.facts.dates.get(Kind.FIRST_RAIN)
    ward_rain_on = None if (Kind.FIRST_RAIN, rain_on) in known else rain_on
    strip = season_strip(
        tasks,
        [*known, (Kind.FIRST_RAIN, ward_rain_on)] if ward_rain_on else known,
        [(line.state, line.day) for line in notices],
        today,
        titles_of(services().rulebook),
    )
    return render_template(
        "plot.html",
        season=season,
        today=today,
        tasks=tasks,
        notes=task_notes(tasks, services().rulebook, plot),
        reports=lines,
        outlived=of_stands_before(lines, plot.facts),
        ward_rain_on=ward_rain_on,
        phones=phones,
        strip=strip,
        coming=[line for line in notices if line.state in TO_GO],
        dropped=[line for line in notices if line.sent_at is None and line.state not in TO_GO],
        at_once=AT_ONCE,
        turns=conversation(came, notices + replies),
        reportable=REPORTABLE,
        offered=choices_offered(services().rulebook),
        movable=any(line.state in MOVABLE for line in notices),
        may_change=may_change(),
        is_lead=is_lead,
        back=url_for(".page", season_id=season_id),
    )


def plot_now(c: Connection, season: SeasonHead, lines: Sequence[ReportLine]) -> PlotNow:
    """What the notes beside a plot's tasks are made of.

    Parameters
    ----------
    c : connection
    season : which season
    lines : its reports
    """
    settings = services().settings
    rain = ward_rains.declared(c, season.ward.id, settings.season_start(season.starts_on))
    rain_on = rain.on if rain and rain.on and rain.on >= season.starts_on else None
    grown = input_views.plot_grown(c, season.plot_id, season.starts_on)
    normals = ward_normals(settings, season.ward.name)
    facts = plot_facts(standing(lines), season.choices, rain_on, normals)
    return PlotNow(
        facts,
        season.stations,
        grown.stations_per_ha,
        last_counts(lines, facts.replanted),
        grown.rulebooks,
    )


def soil_now(c: Connection, season_id: SeasonId, facts: PlotFacts, today: date) -> FieldSoil:
    """Soil of a plot as today's reminders go by it.

    Parameters
    ----------
    c : connection
    season_id : which season
    facts : of the plot
    today : local day in the ward
    """
    planted_on = planted_day(facts, estimated_dates(facts, services().rulebook))
    place = farmers.season(c, season_id)
    return field_soil(c, place, planted_on, today, services().settings)


def of_stands_before(lines: Sequence[ReportLine], facts: PlotFacts) -> set[int]:
    """Ids of the reports on a stand that was replanted since, which no longer count.

    Parameters
    ----------
    lines : reports of the plot
    facts : that they add up to
    """
    replanted = facts.replanted
    return {
        line.id
        for line in lines
        if line.on is not None and stand_of(line.kind, line.on, replanted) < len(replanted)
    }


def last_counts(
    lines: Sequence[ReportLine], replanted: Sequence[date] = ()
) -> dict[Kind, Mapping[str, object]]:
    """What was counted last on a plot's stand, by kind of count, with its local day under ``on``.

    Parameters
    ----------
    lines : reports, oldest first
    replanted : local days of replanting; counts of the stands before are left out
    """
    standing = [
        line
        for line in lines
        if line.on is not None
        and not line.replaced
        and stand_of(line.kind, line.on, replanted) == len(replanted)
    ]
    return {
        line.kind: {**(line.detail or {}), "on": line.on}
        for line in sorted(standing, key=lambda line: line.on or date.min)
        if line.kind in COUNTS
    }


@blueprint.post("/<int:season_id>/report")
def report(season_id: int) -> Response:
    """Enter or correct a report on the farmer's behalf."""
    with reading(services().engine) as c:
        season = season_or_404(c, season_id)
    given = _report_given()
    if given is None:
        say("Nothing was entered: give the day, and the task if one was done.", failed=True)
    else:
        outcome = by_hand.report(services(), season.season_id, person(), *given)
        say(outcome.sentence, failed=not outcome.accepted, more=outcome.changes)
    return redirect(url_for(".page", season_id=season_id))


@blueprint.post("/<int:season_id>/choices")
def choices(season_id: int) -> Response:
    """Change what the plot has chosen."""
    with reading(services().engine) as c:
        season = season_or_404(c, season_id)
    offered = choices_offered(services().rulebook)
    given = {name: request.form[name] for name in offered if name in request.form}
    if any(value and value not in offered[name] for name, value in given.items()):
        abort(400)
    if season.closed_at is not None:
        say("Nothing was changed: the season is closed.", failed=True)
    else:
        changes = change_choices(services(), season.season_id, given, person())
        said = "Nothing was other than before." if changes is None else "Changed; planned anew."
        say(said, more=changes or ())
    return redirect(url_for(".page", season_id=season_id))


def _report_given() -> tuple[Kind, date, str | None, int | None] | None:
    """What the form says; None if a part is missing, 400 if one is none of its choices."""
    if request.form.get("kind") not in REPORTABLE:
        abort(400)
    kind = Kind(request.form["kind"])
    name, _, number = request.form.get("task", "").rpartition(":")
    try:
        on = date.fromisoformat(request.form.get("on", ""))
        return (kind, on, name, int(number)) if kind is Kind.DONE else (kind, on, None, None)
    except ValueError:
        return None


@blueprint.post("/<int:season_id>/hold")
def hold(season_id: int) -> Response:
    """Hold every reminder of the plot that has not gone out."""
    with reading(services().engine) as c:
        season = season_or_404(c, season_id)
    held = by_hand.hold_season(services(), season.season_id, person())
    back = url_for(".page", season_id=season_id)
    undo = Undo("release", held, back) if held else None
    say(f"Held {counted(len(held), 'text', 'texts')} of this plot.", undo=undo)
    return redirect(back)
