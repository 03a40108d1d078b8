"""Questions that farmers ask: what is next, why, what is known of a plot, how it works."""

from collections.abc import Mapping
from datetime import date

from reminder_service.kinds import Kind
from reminder_service.records import plans, reports
from reminder_service.records.farmers import PlotOnPhone
from reminder_service.rules.derive import derive
from reminder_service.rules.facts import PlotFacts, plot_facts
from reminder_service.rules.plan import Task
from reminder_service.texts import refusals, replanting, replies
from reminder_service.texts.reading_types import Said
from reminder_service.texts.wording import called
from reminder_service.work.explaining import anchor_name, title_of
from reminder_service.work.normals import ward_normals
from reminder_service.work.replan import ward_first_rain
from reminder_service.work.talk import Talk
from reminder_service.work.whose import plots_meant

MOST_PLOTS = 3
"""Plots that one answer to NEXT speaks of (setting)."""


def answer_to(talk: Talk, said: Said) -> str:
    """The answer to one question.

    Parameters
    ----------
    talk : the text being worked
    said : the question; anything unknown is answered as HELP
    """
    if said.kind is Kind.NEXT:
        plots = plots_meant(talk, said) if said.plots or not talk.plots else talk.plots
        if isinstance(plots, str):
            return plots
        most = replies.MOST_NEXT if len(plots) == 1 else 1
        return " ".join(_next(talk, plot, most) for plot in plots[:MOST_PLOTS])
    if said.kind in (Kind.WHY, Kind.PLOT):
        plots = plots_meant(talk, said)
        if isinstance(plots, str):
            return plots
        tell = _why if said.kind is Kind.WHY else _known
        return " ".join(tell(talk, plot, said) for plot in plots)
    return replies.help_text(talk.settings.programme, language=talk.language)


def _next(talk: Talk, plot: PlotOnPhone, most: int) -> str:
    tasks = plans.tasks_of_season(talk.c, plot.season_id)
    if any(task.waits for task in tasks):
        return replanting.lost(
            name=called(plot.farmer_name), plot=plot.plot_number, language=plot.language
        )
    coming = [task for task in tasks if task.done_on is None and task.closes >= talk.today]
    named = [
        _named(talk, task, plot.language)
        for task in sorted(coming, key=lambda task: (task.opens, task.due))
        if task.name in talk.rulebook.by_name
    ][:most]
    return replies.next_tasks(named, plot=plot.plot_number, near=talk.today, language=plot.language)


def _named(talk: Talk, task: Task, language: str) -> replies.NextTask:
    title = title_of(task.name, talk.rulebook, language)
    return replies.NextTask(title, task.opens, task.closes, "opens" in task.estimated)


def _why(talk: Talk, plot: PlotOnPhone, said: Said) -> str:
    """The task's days and what they were counted from, worked out anew from the same facts."""
    facts = _facts(talk, plot)
    named = [task for task in derive(facts, talk.rulebook).tasks if task.name == said.task]
    coming = [task for task in named if task.done_on is None and task.closes >= talk.today]
    wanted = next((task for task in named if task.number == said.number), None)
    task = wanted or next(iter(coming or named), None)
    if task is None or task.counted is None:
        title = title_of(said.task, talk.rulebook, plot.language)
        return refusals.no_such_task(title, plot=plot.plot_number, language=plot.language)
    counted = task.counted
    replanted = counted.start == Kind.PLANTED and bool(facts.replanted)
    start = Kind.REPLANTED.value if replanted else counted.start
    reason = replies.ShortReason(
        anchor_name(start, talk.rulebook, plot.language),
        counted.since,
        counted.days,
        counted.estimated,
    )
    return replies.why(
        _named(talk, task, plot.language),
        reason,
        plot=plot.plot_number,
        near=talk.today,
        language=plot.language,
    )


def _known(talk: Talk, plot: PlotOnPhone, said: Said) -> str:
    facts: Mapping[Kind, date] = _facts(talk, plot).dates
    return replies.plot_known(facts, plot=plot.plot_number, language=plot.language)


def _facts(talk: Talk, plot: PlotOnPhone) -> PlotFacts:
    """What the plot's plan is derived from: its reports, and what is known of its ward."""
    kept = reports.reports_of_season(talk.c, plot.season_id)
    ward_rain_on = ward_first_rain(talk.c, plot, talk.settings)
    normals = ward_normals(talk.settings, plot.ward_name)
    return plot_facts(kept, plot.choices, ward_rain_on, normals)
