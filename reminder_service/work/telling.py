"""Take the reports of one text, all of them or none, and say what was noted."""

from collections.abc import Sequence
from dataclasses import replace

from reminder_service.kinds import Kind
from reminder_service.records import leads
from reminder_service.records.farmers import PlotOnPhone
from reminder_service.texts import leading, refusals
from reminder_service.texts.reading_types import Said, said_value
from reminder_service.texts.wording import called
from reminder_service.texts.words import word_list
from reminder_service.work.explaining import MEASURED, Addressee, reply_to, what_of
from reminder_service.work.false_starts import open_questions, plants_again
from reminder_service.work.reporting import Refused, ReportGiven, Taken, take_report
from reminder_service.work.talk import Answer, Talk
from reminder_service.work.whose import is_of_gauge, plots_meant

MOST_TOLD = 2
"""Plots of one report that are answered one by one (setting)."""


def understood(said: Sequence[Said]) -> list[dict[str, object]]:
    """Things said as plain values, their days in ISO form."""
    return [plain(each) for each in said]


def plain(said: Said, plot: str | None = None) -> dict[str, object]:
    """One thing said as plain values, with the plot that it was noted for."""
    value = said_value(said)
    value["on"] = said.on.isoformat() if said.on else None
    return value if plot is None else value | {"plot": plot}


def given(talk: Talk, said: Said) -> ReportGiven:
    """The report that something said makes.

    Parameters
    ----------
    talk : the text that says it
    said : one of ``kinds.REPORTS``
    """
    return ReportGiven(
        kind=said.kind,
        on=said.on or talk.today,
        sent_at=min(talk.row.sent_at, talk.now),
        task=said.task,
        number=said.number,
        mm=said.mm,
        counts=said.counts,
        damaged=said.damaged,
        inbound_id=talk.row.id,
        observer=f"phone {talk.phone.id}",
        of_gauge=is_of_gauge(talk, said),
    )


def reported(talk: Talk, said: Sequence[Said]) -> Answer:
    """Take every report of a text, or none if one of them cannot be true.

    Parameters
    ----------
    talk : the text
    said : what it reports, each for plots that it names or for the phone's only one

    Returns
    -------
    what was noted, or why nothing was
    """
    texts: list[str] = []
    changes: list[str] = []
    noted: list[dict[str, object]] = []
    undo = talk.c.begin_nested()
    for each in said:
        taken = _taken(talk, each)
        if taken.reply is None or not taken.understood:
            undo.rollback()
            return taken
        texts.append(taken.reply)
        changes += taken.changes
        noted += taken.understood
    note_lead(talk)
    undo.commit()
    return Answer(" ".join(texts), noted, changes)


def note_lead(talk: Talk) -> None:
    """Keep that a lead farmer made the reports of this text on other people's plots."""
    if talk.leads:
        own = [plot.season_id for plot in talk.plots]
        leads.note_lead_reports(talk.c, talk.row.id, talk.leads[0].farmer_id, own)


def _taken(talk: Talk, said: Said) -> Answer:
    """Take one report for each of its plots; nothing is understood if one is refused."""
    named = plots_meant(talk, said)
    if isinstance(named, str):
        return Answer(named)
    if said.kind is Kind.DONE and said.task is None:
        return Answer(refusals.which_task(_task_words(talk), language=talk.language))
    outcomes: list[tuple[PlotOnPhone, Taken]] = []
    asked = open_questions(talk) if said.kind is Kind.PLANTED else []
    # Always in one order, so that two texts on the same plots never wait for each other.
    for plot in sorted(named, key=lambda plot: plot.season_id):
        meant = given(talk, said)
        if plants_again(talk, plot, meant, asked):
            meant = replace(meant, kind=Kind.REPLANTED)
        outcome = take_report(talk.c, talk.rulebook, talk.settings, plot, talk.now, meant)
        if isinstance(outcome, Refused):
            return Answer(reply_to(outcome, talk.rulebook, _to(plot, talk.language)))
        outcomes.append((plot, outcome))
    changes = [change for _, taken in outcomes for change in taken.changes]
    noted = [
        plain(replace(said, kind=taken.given.kind), plot.plot_number) for plot, taken in outcomes
    ]
    return Answer(_told(talk, said, outcomes), noted, changes)


def _task_words(talk: Talk) -> list[str]:
    """One word for each task: the farmer's language's own, else the rulebook's."""
    spoken = word_list(talk.language).tasks
    return [(spoken.get(name) or own)[0] for name, own in talk.task_words.items() if own]


def _to(plot: PlotOnPhone, language: str) -> Addressee:
    return Addressee(called(plot.farmer_name), plot.plot_number, language)


def _told(talk: Talk, said: Said, outcomes: Sequence[tuple[PlotOnPhone, Taken]]) -> str:
    """Answer for each plot in its farmer's language; for many or others' plots, one for all."""
    own = {plot.season_id for plot in talk.plots}
    all_own = all(plot.season_id in own for plot, _ in outcomes)
    if all_own and (len(outcomes) <= MOST_TOLD or said.kind in MEASURED):
        return " ".join(
            reply_to(taken, talk.rulebook, _to(plot, plot.language)) for plot, taken in outcomes
        )
    first = outcomes[0][1].given
    sender = talk.leads[0].farmer_name if talk.leads else outcomes[0][0].farmer_name
    return leading.noted(
        what_of(first, talk.rulebook, talk.language),
        first.on,
        [plot.plot_number for plot, _ in outcomes],
        called=called(sender),
        language=talk.language,
    )
