"""Take one report for a season: check it, keep it, re-plan, and say what moved."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from sqlalchemy import Connection

from reminder_service.agronomy.rain_book import Observer
from reminder_service.kinds import DATED_FACTS, Basis, Kind
from reminder_service.records import farmers, hooks, plans, rain, reports, unread
from reminder_service.records.farmers import PlotOnPhone, SeasonForPlanning
from reminder_service.records.rain import NewObservation
from reminder_service.rules.facts import Report, plot_facts, replanted_days, standing_reports
from reminder_service.rules.plan import Plan, Task
from reminder_service.rules.rulebook import Rulebook
from reminder_service.rules.stands import is_same_replanting, stand_of
from reminder_service.settings import Settings
from reminder_service.work.checks import DateFault, Fault, date_fault
from reminder_service.work.replan import Moved, Replanned, replan

EARLY_DAYS = 7
"""A task reported done more days than this before it opens is asked back (setting)."""


@dataclass(frozen=True, slots=True)
class ReportGiven:
    """One report as it was given, by text or on a page.

    Attributes
    ----------
    kind : what happened
    on : local day
    sent_at : aware UTC instant
    task, number : for ``done``; a round left out is found from the plan
    mm : rain, in millimetres
    counts : seedlings at each station
    damaged : plants of 100 with funnel damage
    inbound_id, person_id : the text or the person it comes from
    observer : who saw rain, e.g. ``phone 7``; empty for the plot's farmer
    of_gauge : the rain was read off the ward's own gauge, by its keeper
    """

    kind: Kind
    on: date
    sent_at: datetime
    task: str | None = None
    number: int | None = None
    mm: float | None = None
    counts: tuple[int, ...] = ()
    damaged: int | None = None
    inbound_id: int | None = None
    person_id: int | None = None
    observer: str = ""
    of_gauge: bool = False

    @property
    def detail(self) -> dict[str, object] | None:
        """What was measured, as plain values; None if nothing was."""
        measured = {"mm": self.mm, "counts": list(self.counts) or None, "damaged": self.damaged}
        return {name: got for name, got in measured.items() if got is not None} or None


@dataclass(frozen=True, slots=True)
class Taken:
    """A report that was kept.

    Attributes
    ----------
    given : the report, with its round filled in
    corrected : the day that an earlier report on the same thing had, if this one changed it
    repeated : the same thing with the same day was known already; nothing was written
    changes : one sentence a task that appeared, went, moved or was done
    opens_on : for a count: the day that the task it settles opens, if it is planned
    tasselled_on : day of tasselling; while nobody reported it, the day after the latest estimate
    """

    given: ReportGiven
    corrected: date | None = None
    repeated: bool = False
    changes: list[str] = field(default_factory=list)
    opens_on: date | None = None
    tasselled_on: date | None = None


@dataclass(frozen=True, slots=True)
class Refused:
    """A report that was not kept, and why.

    Attributes
    ----------
    given : the report
    fault : what is wrong with its day; None if the plot has no such task
    opens_on : for a task reported done too early: the day it opens
    """

    given: ReportGiven
    fault: DateFault | None
    opens_on: date | None = None


def take_report(
    c: Connection,
    rulebook: Rulebook,
    settings: Settings,
    season: SeasonForPlanning | PlotOnPhone,
    now: datetime,
    given: ReportGiven,
) -> Taken | Refused:
    """Keep one report and bring plan and queue in line with it.

    A report on a fact that is known already corrects it; a day that cannot be true changes
    nothing. Rain with an amount goes into the rain book too.

    Parameters
    ----------
    c : connection of a write transaction
    rulebook, settings : the programme's
    season : the season it is about
    now : aware UTC instant
    given : the report

    Returns
    -------
    what was taken, or why not
    """
    standing = standing_reports(reports.reports_of_season(c, season.season_id))
    if given.kind is Kind.DONE:
        found = _round(plans.tasks_of_season(c, season.season_id), given)
        if isinstance(found, Refused):
            return found
        given = found
    earlier = _earlier(standing, given)
    if earlier is not None and earlier.on == given.on:
        _note_rain(c, season, given, int(earlier.ref), now)
        return Taken(given, repeated=True)
    others = standing
    if given.kind is Kind.REPLANTED:
        others = [report for report in standing if report is not earlier]
    known = plot_facts(others, season.choices).dates
    fault = date_fault(
        given.kind,
        given.on,
        today=now.astimezone(ZoneInfo(season.zone)).date(),
        season_starts=season.starts_on,
        known=known,
    )
    if fault is not None:
        return Refused(given, fault)
    report_id = _keep(c, season, given, earlier)
    _note_rain(c, season, given, report_id, now)
    _tell_kept(c, season, given, report_id, now)
    done = replan(c, season.season_id, rulebook, settings, now)
    changes = change_sentences(done, rulebook)
    return Taken(
        given,
        earlier.on if earlier else None,
        changes=changes,
        opens_on=_opening_of(done.plan, rulebook, given.kind),
        tasselled_on=known.get(Kind.TASSELLED) or _latest(done.plan, Kind.TASSELLED),
    )


def _opening_of(plan: Plan, rulebook: Rulebook, kind: Kind) -> date | None:
    """Day that the task opens which a count settles."""
    settled = {rule.name for rule in rulebook.tasks if rule.answered_by == kind}
    return next((task.opens for task in plan.tasks if task.name in settled), None)


def _latest(plan: Plan, fact: Kind) -> date | None:
    """Day by which a fact that nobody reported has surely happened."""
    estimate = plan.estimates.get(fact)
    return estimate.latest + timedelta(days=1) if estimate else None


def take_back(
    c: Connection, rulebook: Rulebook, settings: Settings, report: reports.KeptReport, now: datetime
) -> list[str]:
    """Undo one report: what it corrected stands again, or nothing does.

    A text that a person had made the report of waits for a person again.

    Parameters
    ----------
    c : connection of a write transaction
    rulebook, settings : the programme's
    report : the report to undo; it must still stand
    now : aware UTC instant

    Returns
    -------
    one sentence a change to the plan
    """
    by_ref = {kept.ref: kept for kept in reports.reports_of_season(c, report.season_id)}
    corrected = by_ref.get(by_ref[str(report.id)].replaces or "")
    again = reports.add_report(
        c,
        season_id=report.season_id,
        kind=report.kind,
        on=corrected.on if corrected else None,
        sent_at=now,
        task=report.task,
        number=report.number,
        replaces_id=report.id,
    )
    if corrected is not None:
        rain.keep_again(c, int(corrected.ref), again)
    unread.reopen_text_of(c, report.id)
    hooks.note_event(
        c,
        hooks.REPORT_TAKEN_BACK,
        f"report {report.id}",
        farmers.season(c, report.season_id).ward_id,
        {"report_id": report.id, "season_id": report.season_id, "kind": report.kind.value},
        now,
    )
    return change_sentences(replan(c, report.season_id, rulebook, settings, now), rulebook)


def change_sentences(done: Replanned, rulebook: Rulebook) -> list[str]:
    """What a re-plan changed, one sentence a task, for a coordinator."""
    titles = {task.name: task.title for task in rulebook.tasks}
    return [change_sentence(moved, titles) for moved in done.moved]


def _round(tasks: Sequence[Task], given: ReportGiven) -> ReportGiven | Refused:
    """Which round of a task was done: the one named, else the first open one not yet done."""
    rounds = sorted((t for t in tasks if t.name == given.task), key=lambda task: task.number)
    if given.number is not None:
        rounds = [task for task in rounds if task.number == given.number]
    if not rounds:
        return Refused(given, None)
    undone = [task for task in rounds if task.done_on is None]
    running = [task for task in undone if task.opens <= given.on <= task.closes]
    task = (running or undone or rounds)[0]
    if task.basis is Basis.REPORTED and given.on < task.opens - timedelta(days=EARLY_DAYS):
        return Refused(given, DateFault(Fault.CONTRADICTION), task.opens)
    return replace(given, number=task.number)


def _earlier(standing: Sequence[Report], given: ReportGiven) -> Report | None:
    """The report that this one would correct: the same fact of a stand, or the same round done."""
    if given.kind is Kind.REPLANTED:
        return _same_replanting(standing, given.on)
    replanted = replanted_days(standing)
    stand = stand_of(given.kind, given.on, replanted)
    same = [
        report
        for report in standing
        if report.kind is given.kind
        and (given.kind in DATED_FACTS or given.kind is Kind.DONE)
        and (report.task, report.number) == (given.task, given.number)
        and report.on is not None
        and stand_of(report.kind, report.on, replanted) == stand
    ]
    return same[-1] if same else None


def _same_replanting(standing: Sequence[Report], on: date) -> Report | None:
    """The replanting that one reported for a day corrects, the nearest; None for one more."""
    found = [
        (abs((on - report.on).days), nth, report)
        for nth, report in enumerate(standing)
        if report.kind is Kind.REPLANTED
        and report.on is not None
        and is_same_replanting(report.on, on)
    ]
    return min(found)[2] if found else None


def _keep(
    c: Connection,
    season: SeasonForPlanning | PlotOnPhone,
    given: ReportGiven,
    earlier: Report | None,
) -> int:
    return reports.add_report(
        c,
        season_id=season.season_id,
        kind=given.kind,
        on=given.on,
        sent_at=given.sent_at,
        task=given.task,
        number=given.number,
        detail=given.detail,
        inbound_id=given.inbound_id,
        person_id=given.person_id,
        replaces_id=int(earlier.ref) if earlier else None,
    )


def _tell_kept(
    c: Connection,
    season: SeasonForPlanning | PlotOnPhone,
    given: ReportGiven,
    report_id: int,
    now: datetime,
) -> None:
    """Let other programs know of a report."""
    data = {
        "report_id": report_id,
        "ward_id": season.ward_id,
        "plot_id": season.plot_id,
        "season_id": season.season_id,
        "kind": given.kind.value,
        "on": given.on.isoformat(),
        "task": given.task,
        "number": given.number,
    }
    hooks.note_event(c, hooks.REPORT_KEPT, f"report {report_id}", season.ward_id, data, now)


def _note_rain(
    c: Connection,
    season: SeasonForPlanning | PlotOnPhone,
    given: ReportGiven,
    report_id: int,
    now: datetime,
) -> None:
    """Put the amount of rain that a report names into the rain book, if it names one.

    It counts as long as the report stands.
    """
    if given.mm is None:
        return
    new = NewObservation(
        ward_id=season.ward_id,
        plot_id=None if given.of_gauge else season.plot_id,
        day=given.on,
        mm=given.mm,
        trace=False,
        observer=Observer.KEEPER if given.of_gauge else Observer.FARMER,
        by=given.observer or f"farmer {season.farmer_id}",
        report_id=report_id,
        person_id=given.person_id,
    )
    rain.keep_reported(c, new, now)


def change_sentence(moved: Moved, titles: Mapping[str, str]) -> str:
    """One change to the plan, for a coordinator.

    Parameters
    ----------
    moved : the task before and after
    titles : of the rulebook's tasks by name

    Returns
    -------
    a sentence such as ``Thin to two plants: Sat 5 Dec to Sat 12 Dec, was Mon 7 Dec to …``
    """
    task = moved.after or moved.before
    if task is None:
        return ""
    name = titles.get(task.name, task.name)
    if task.number > 1:
        name = f"{name} (round {task.number})"
    if moved.after is None:
        return f"{name}: no longer planned"
    if moved.after.done_on is not None:
        return f"{name}: done on {_day(moved.after.done_on)}"
    if moved.after.waits:
        return f"{name}: waits for replanting"
    if moved.before is None or moved.before.waits:
        return f"{name}: {_window(moved.after)}"
    if _window(moved.after) == _window(moved.before):
        return f"{name}: {_window(moved.after)}, due {_day(moved.after.due)}"
    return f"{name}: {_window(moved.after)}, was {_window(moved.before)}"


def _window(task: Task) -> str:
    about = "about " if task.basis is Basis.ESTIMATED else ""
    return f"{about}{_day(task.opens)} to {_day(task.closes)}"


def _day(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b} {day.year}"
