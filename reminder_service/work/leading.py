"""A lead farmer's report for a whole ward: asked back first, since it touches many plots."""

from collections.abc import Sequence

from reminder_service.kinds import DATED_FACTS, Kind
from reminder_service.records import plans, reports
from reminder_service.records.farmers import PlotOnPhone
from reminder_service.records.leads import Lead
from reminder_service.rules.facts import plot_facts
from reminder_service.texts import leading, refusals
from reminder_service.texts.reading_types import Said
from reminder_service.texts.wording import called
from reminder_service.work.explaining import what_of
from reminder_service.work.reporting import Taken, take_report
from reminder_service.work.talk import Answer, Talk
from reminder_service.work.telling import given, note_lead, plain, understood
from reminder_service.work.whose import led_plots

FOR_ALL = (*DATED_FACTS, Kind.RAIN, Kind.DONE)
"""Reports that can hold for a whole ward; what is counted holds for one plot."""


def ask_whole_ward(talk: Talk, said: Sequence[Said]) -> Answer:
    """Ask whether a report is meant for so many plots.

    Parameters
    ----------
    talk : the text
    said : what it says, of which one thing is for a whole ward

    Returns
    -------
    the question, or why it cannot be taken
    """
    lead = _lead(talk)
    if isinstance(lead, str):
        return Answer(lead)
    if len(said) > 1:
        return Answer(leading.one_at_a_time(language=talk.language))
    one = said[0]
    if one.kind not in FOR_ALL or (one.kind is Kind.DONE and one.task is None):
        return Answer(refusals.unread(language=talk.language), unread=True)
    what = what_of(given(talk, one), talk.rulebook, talk.language)
    open_ones = _without(talk, one)
    if not open_ones:
        text = leading.all_have_it(what, ward=lead.ward_name, language=talk.language)
        return Answer(text)
    reply = leading.sure(
        what,
        one.on or talk.today,
        len(open_ones),
        ward=lead.ward_name,
        language=talk.language,
    )
    return Answer(reply, ask=understood(said))


def report_whole_ward(talk: Talk, said: Said) -> Answer:
    """Take a report, which was asked back, for each plot of the ward that has no such day yet.

    What a farmer has reported stands: a lead farmer's day for the whole ward is the rougher one.
    A plot where the day cannot be true is left out.

    Parameters
    ----------
    talk : the text that says yes
    said : the report

    Returns
    -------
    for how many plots it was noted
    """
    lead = _lead(talk)
    if isinstance(lead, str):
        return Answer(lead)
    changes: list[str] = []
    noted: list[str] = []
    report = given(talk, said)
    for plot in sorted(_without(talk, said), key=lambda plot: plot.season_id):
        taken = take_report(talk.c, talk.rulebook, talk.settings, plot, talk.now, report)
        if isinstance(taken, Taken):
            changes += taken.changes
            noted.append(plot.plot_number)
    what = what_of(report, talk.rulebook, talk.language)
    if not noted:
        text = leading.none_fits(what, report.on, ward=lead.ward_name, language=talk.language)
        return Answer(text)
    note_lead(talk)
    reply = leading.noted(
        what, report.on, noted, called=called(lead.farmer_name), language=talk.language
    )
    return Answer(reply, [plain(said, number) for number in noted], changes)


def _lead(talk: Talk) -> Lead | str:
    """The one ward that the sender leads, or why it cannot be told."""
    wards = {lead.ward_id: lead for lead in talk.leads}
    if not wards:
        return leading.not_lead(language=talk.language)
    if len(wards) > 1:
        names = [lead.ward_name for lead in wards.values()]
        return leading.which_ward(names, language=talk.language)
    return talk.leads[0]


def _without(talk: Talk, said: Said) -> list[PlotOnPhone]:
    """Plots of the ward for which nobody has reported this yet."""
    return [plot for plot in led_plots(talk) if not _has(talk, plot, said)]


def _has(talk: Talk, plot: PlotOnPhone, said: Said) -> bool:
    if said.kind is Kind.DONE:
        rounds = [
            task
            for task in plans.tasks_of_season(talk.c, plot.season_id)
            if task.name == said.task and said.number in (None, task.number)
        ]
        return all(task.done_on is not None for task in rounds)
    kept = reports.reports_of_season(talk.c, plot.season_id)
    return said.kind in plot_facts(kept, plot.choices).dates
