"""False starts of the rains, noticed ward by ward: whom we ask, and what a text then answers."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from sqlalchemy import Connection

from reminder_service.kinds import Kind
from reminder_service.records import false_starts, reports, views, ward_rains
from reminder_service.records.engine import reading, writing
from reminder_service.records.false_starts import Asked
from reminder_service.records.farmers import PlotOnPhone
from reminder_service.records.views import ReportLine, Ward
from reminder_service.rules.facts import Report, plot_facts
from reminder_service.rules.false_starts import DryStart, answer_to
from reminder_service.rules.stands import is_same_replanting
from reminder_service.work.reporting import ReportGiven
from reminder_service.work.season_rain import season_rain
from reminder_service.work.services import Services
from reminder_service.work.talk import Talk
from reminder_service.work.ward_rain import AT_ONCE, replan_some, ward_today

ASKED_LIFE = timedelta(days=21)
"""How long YES or NO answers the question, and a planting reported is a replanting (setting)."""


@dataclass(frozen=True, slots=True)
class OpenQuestion:
    """A question that went out and that nothing has answered yet."""

    asked: Asked
    start: DryStart


@dataclass(frozen=True, slots=True)
class AskedPlot:
    """One plot of a ward that was asked, and what it answered.

    Attributes
    ----------
    asked : the question
    answer : the report that answers it; None if the farmer is silent
    """

    asked: Asked
    answer: Report | None


def note_false_starts(services: Services) -> int:
    """Look for false starts in every ward's rain book, and re-plan the wards where they changed.

    Parameters
    ----------
    services : the services

    Returns
    -------
    how many wards changed
    """
    with reading(services.engine) as c:
        wards = views.wards_seen(c, None)
    return sum(_note(services, ward) for ward in wards)


def _note(services: Services, ward: Ward) -> bool:
    today = ward_today(services, ward)
    starts_on = services.settings.season_start(today)
    with reading(services.engine) as c:
        found = season_rain(c, ward.id, starts_on, today).onset.false_starts
    days = [
        (start.on, start.dry_from, start.dry_from + timedelta(days=start.dry_days - 1))
        for start in found
    ]
    with writing(services.engine) as c:
        changed = false_starts.note_starts(c, ward.id, starts_on, days, services.clock())
        if changed:
            ward_rains.ask_replans(c, ward.id)
    if changed:
        replan_some(services, ward.id, AT_ONCE)
    return changed


def open_questions(talk: Talk) -> list[OpenQuestion]:
    """Questions to the sender's plots that went out lately and that nothing has answered.

    Parameters
    ----------
    talk : the text being worked
    """
    plots = {plot.season_id: plot for plot in talk.plots}
    asked = false_starts.asked_on_phone(talk.c, talk.phone.id, talk.now - ASKED_LIFE)
    found = []
    for each in asked:
        plot = plots.get(each.season_id)
        if plot is None:
            continue
        starts_on = talk.settings.season_start(plot.starts_on)
        known = false_starts.starts_ever(talk.c, plot.ward_id, starts_on)
        start = next((start for start in known if start.id == each.start_id), None)
        kept = reports.reports_of_season(talk.c, each.season_id)
        if start is not None and answer_to(start, kept) is None:
            found.append(OpenQuestion(each, start))
    return found


def plants_again(
    talk: Talk, plot: PlotOnPhone, given: ReportGiven, asked: Iterable[OpenQuestion]
) -> bool:
    """Whether a planting that a farmer reports is a replanting: the answer to our question.

    It is where the plot was asked about, and the day lies in the dry run or after it, and more than
    a few days after the planting that is known; or where the stand was reported lost since, and
    the day lies as long after that planting.

    Parameters
    ----------
    talk : the text being worked
    plot : whose
    given : the report
    asked : questions that nothing has answered
    """
    start = next((each.start for each in asked if each.asked.season_id == plot.season_id), None)
    if given.kind is not Kind.PLANTED:
        return False
    facts = plot_facts(reports.reports_of_season(talk.c, plot.season_id), plot.choices)
    known = facts.dates.get(Kind.PLANTED)
    in_answer = start is not None and given.on >= start.dry_from
    if not in_answer and facts.lost_on is None:
        return False
    return known is None or not is_same_replanting(known, given.on)


def asked_plots(c: Connection, ward: Ward, season_starts_on: date) -> list[AskedPlot]:
    """Plots of a ward that were asked in a season, by number, with what they answered.

    Parameters
    ----------
    c : connection
    ward : which ward
    season_starts_on : first local day of the season
    """
    since = datetime.combine(season_starts_on, time(), ZoneInfo(ward.zone))
    known = false_starts.starts_ever(c, ward.id, season_starts_on)
    starts = {start.id: start for start in known}
    asked = [
        each for each in false_starts.asked_in_ward(c, ward.id, since) if each.start_id in starts
    ]
    lines = views.reports_by_season(c, [each.season_id for each in asked])
    return [
        AskedPlot(each, answer_to(starts[each.start_id], standing(lines[each.season_id])))
        for each in asked
    ]


def standing(lines: Iterable[ReportLine]) -> list[Report]:
    """Reports of a page's lines that nothing has replaced."""
    return [
        Report(str(line.id), line.kind, line.on, line.sent_at, line.task, line.number)
        for line in lines
        if not line.replaced
    ]
