"""One plot's season: the strip, tasks with their because, reports, conversation, corrections."""

from dataclasses import dataclass
from datetime import date, datetime

from flask import Blueprint, abort, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from reminder_service.kinds import DATED_FACTS, MOVABLE, Kind
from reminder_service.records import leads, queue_views, views
from reminder_service.records.engine import reading
from reminder_service.records.queue_views import InboundLine, NoticeLine
from reminder_service.web.queue_pages import TO_GO
from reminder_service.web.said import Undo, say
from reminder_service.web.strip import season_strip
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

blueprint = Blueprint("plots", __name__, url_prefix="/plots")

TEXTS_SHOWN = 60
"""Latest texts from the farmer in the conversation (setting)."""

AT_ONCE = 5
"""Reminders to go that are shown unfolded (setting)."""

REPORTABLE = (*DATED_FACTS, Kind.DONE)
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
        reports = views.reports_by_season(c, [season.season_id])[season.season_id]
        phones = views.phones_of_farmer(c, season.farmer_id)
        notices = queue_views.notices_of_season_seen(c, season_id)
        came = queue_views.inbound_of_phones(c, [phone.id for phone in phones], TEXTS_SHOWN)
        replies = queue_views.replies_to(c, [line.id for line in came])
        is_lead = leads.is_lead(c, season.farmer_id, season.ward.id)
    strip = season_strip(
        tasks,
        standing_facts(reports),
        [(line.state, line.day) for line in notices],
        today,
        titles_of(services().rulebook),
    )
    return render_template(
        "plot.html",
        season=season,
        today=today,
        tasks=tasks,
        reports=reports,
        phones=phones,
        strip=strip,
        coming=[line for line in notices if line.state in TO_GO],
        dropped=[line for line in notices if line.sent_at is None and line.state not in TO_GO],
        at_once=AT_ONCE,
        turns=conversation(came, notices + replies),
        reportable=REPORTABLE,
        movable=any(line.state in MOVABLE for line in notices),
        may_change=may_change(),
        is_lead=is_lead,
        back=url_for(".page", season_id=season_id),
    )


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
