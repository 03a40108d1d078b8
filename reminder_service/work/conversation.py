"""Answer one text: act on what it says, all of it or nothing, and word the reply."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta

from reminder_service.kinds import REPORTS, Kind
from reminder_service.records import farmers, inbound, plans, reports
from reminder_service.records.farmers import PlotOnPhone
from reminder_service.rules.derive import derive
from reminder_service.rules.facts import plot_facts
from reminder_service.rules.plan import Task
from reminder_service.texts import refusals, replies
from reminder_service.texts.reading import decode, read
from reminder_service.texts.reading_types import Reading, Said, said_from, said_value
from reminder_service.texts.wording import fact_name, full_day
from reminder_service.texts.words import shipped_languages, word_list
from reminder_service.work.explaining import Addressee, anchor_name, reply_to, title_of, what_of
from reminder_service.work.replan import replan
from reminder_service.work.reporting import (
    Refused,
    ReportGiven,
    change_sentences,
    take_back,
    take_report,
)
from reminder_service.work.talk import Answer, Talk

CONTEXT_LIFE = timedelta(days=1)
"""How long a question of ours is open, and a report can be taken back with NO (setting)."""

MOST_PLOTS = 3
"""Plots that one answer to NEXT speaks of (setting)."""


def answer(talk: Talk) -> Answer:
    """Act on a text and say what goes back.

    STOP is obeyed before anything else, whoever sends it. A phone that has stopped is answered
    only when it stops or starts; what it reports is still taken.

    Parameters
    ----------
    talk : the text and what is known of its sender

    Returns
    -------
    what it came to
    """
    reading = _reading(talk)
    kinds = {said.kind for said in reading.said}
    if Kind.STOP in kinds:
        answered = _stop(talk)
    elif Kind.START in kinds:
        answered = _start(talk)
    elif not talk.plots:
        answered = Answer(refusals.unknown_phone(talk.settings.programme))
    else:
        answered = _act(talk, reading)
    answered = replace(answered, understood=answered.understood or _understood(reading.said))
    if talk.plots:
        first = talk.plots[0]
        answered = replace(answered, farmer_id=first.farmer_id, ward_id=first.ward_id)
    if talk.phone.stopped_at is not None and not answered.must_reply:
        answered = replace(answered, reply=None)
    return answered


def _language(talk: Talk) -> str:
    spoken = talk.plots[0].language if talk.plots else "en"
    return spoken if spoken in shipped_languages() else "en"


def _reading(talk: Talk) -> Reading:
    body = decode(talk.row.body)
    if body is None:
        return Reading(unread=True)
    return read(body, talk.today, word_list(_language(talk)), talk.task_words)


def _understood(said: Sequence[Said]) -> list[dict[str, object]]:
    return [_plain(each) for each in said]


def _plain(said: Said, plot: str | None = None) -> dict[str, object]:
    value = said_value(said)
    value["on"] = said.on.isoformat() if said.on else None
    return value if plot is None else value | {"plot": plot}


def _stop(talk: Talk) -> Answer:
    newly = farmers.stop_phone(talk.c, talk.phone.id, talk.now)
    plans.withdraw_for_phone(talk.c, talk.phone.id, "the farmer said stop", talk.now)
    changes = _replanned(talk)
    reply = replies.stopped(talk.settings.programme, language=_language(talk)) if newly else None
    return Answer(reply, changes=changes, must_reply=newly)


def _start(talk: Talk) -> Answer:
    farmers.start_phone(talk.c, talk.phone.id)
    if not talk.plots:
        return Answer(refusals.unknown_phone(talk.settings.programme))
    changes = _replanned(talk)
    reply = replies.started(talk.settings.programme, language=_language(talk))
    return Answer(reply, changes=changes, must_reply=True)


def _replanned(talk: Talk) -> list[str]:
    """Re-plan every season of the phone, so that its notices go or come back."""
    changes = []
    for plot in talk.plots:
        done = replan(talk.c, plot.season_id, talk.rulebook, talk.settings, talk.now)
        changes += change_sentences(done, talk.rulebook)
    return changes


def _act(talk: Talk, reading: Reading) -> Answer:
    language = _language(talk)
    if reading.bad_date is not None:
        return Answer(refusals.bad_date(reading.bad_date.written, language=language))
    if reading.ask:
        return _ask(talk, reading.ask, language)
    if reading.unread or not reading.said:
        return Answer(refusals.unread(language=language), unread=True)
    said = reading.said
    if said[0].kind in (Kind.CHOICE, Kind.YES):
        picked = _picked(talk, said[0])
        if picked is None:
            return Answer(refusals.nothing_asked(language=language))
        said = (picked,)
    if said[0].kind is Kind.NO:
        return _take_back(talk)
    return _speak(talk, said)


def _ask(talk: Talk, choices: Sequence[Said], language: str) -> Answer:
    days = [said.on for said in choices if said.kind is Kind.FIRST_RAIN and said.on]
    amounts = [said.mm for said in choices if said.mm is not None]
    if days and amounts:
        reply = refusals.rain_day_or_amount(days[0], amounts[0], language=language)
    else:
        named = [_choice(talk, each, language) for each in choices]
        reply = refusals.which_one(named, language=language)
    return Answer(reply, ask=_understood(choices))


def _choice(talk: Talk, said: Said, language: str) -> str:
    """One choice in words: its task's title or its fact, with the day where it names one."""
    what = (
        title_of(said.task, talk.rulebook, language)
        if said.task
        else fact_name(said.kind, language)
    )
    return f"{what}, {full_day(said.on, language)}" if said.on else what


def _picked(talk: Talk, said: Said) -> Said | None:
    """The choice that a lone number picks from our last question to this phone."""
    asked = inbound.last_asked(
        talk.c, talk.phone.id, before_id=talk.row.id, since=talk.now - CONTEXT_LIFE
    )
    number = said.number or 1
    return said_from(asked[number - 1]) if 1 <= number <= len(asked) else None


def _speak(talk: Talk, said: Sequence[Said]) -> Answer:
    """Take the reports, all or none of them, then answer the questions."""
    reported = [each for each in said if each.kind in REPORTS]
    taken = _reported(talk, reported) if reported else Answer(None)
    if reported and not taken.understood:
        return taken  # one of them was refused, so nothing was kept
    texts = [taken.reply, *(_asked(talk, each) for each in said if each.kind not in REPORTS)]
    return replace(taken, reply=" ".join(text for text in texts if text) or None)


def _reported(talk: Talk, said: Sequence[Said]) -> Answer:
    texts: list[str] = []
    changes: list[str] = []
    understood: list[dict[str, object]] = []
    undo = talk.c.begin_nested()
    for each in said:
        named = _plots(talk, each)
        if isinstance(named, str):
            undo.rollback()
            return Answer(named)
        if each.kind is Kind.DONE and each.task is None:
            undo.rollback()
            words = [words[0] for words in talk.task_words.values() if words]
            return Answer(refusals.which_task(words, language=_language(talk)))
        for plot in named:
            outcome = take_report(
                talk.c, talk.rulebook, talk.settings, plot, talk.now, _given(talk, each)
            )
            to = Addressee(plot.farmer_name, plot.plot_number, plot.language)
            texts.append(reply_to(outcome, talk.rulebook, to))
            if isinstance(outcome, Refused):
                undo.rollback()
                return Answer(texts[-1])
            changes += outcome.changes
            understood.append(_plain(each, plot.plot_number))
    undo.commit()
    return Answer(" ".join(texts), understood, changes)


def _given(talk: Talk, said: Said) -> ReportGiven:
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
    )


def _plots(talk: Talk, said: Said) -> Sequence[PlotOnPhone] | str:
    """The plots that something is said of, or the text that asks which."""
    language = _language(talk)
    numbers = [plot.plot_number for plot in talk.plots]
    if not said.plots:
        if len(talk.plots) > 1:
            return refusals.which_plot(numbers, language=language)
        return talk.plots
    named: list[PlotOnPhone] = []
    for written in said.plots:
        found = [plot for plot in talk.plots if plot.plot_number == written]
        if not found:
            return refusals.unknown_plot(written, numbers, language=language)
        if len(found) > 1:
            return refusals.which_plot(numbers, language=language)
        named += found
    return named


def _take_back(talk: Talk) -> Answer:
    language = _language(talk)
    last = reports.last_from_phone(talk.c, talk.phone.id, since=talk.now - CONTEXT_LIFE)
    if not last:
        return Answer(refusals.nothing_to_take_back(language=language))
    numbers = {plot.season_id: plot.plot_number for plot in talk.plots}
    texts, changes = [], []
    for report in last:
        changes += take_back(talk.c, talk.rulebook, talk.settings, report, talk.now)
        given = ReportGiven(report.kind, report.on, talk.now, report.task, report.number)
        what = what_of(given, talk.rulebook, language)
        plot = numbers.get(report.season_id, "")
        texts.append(replies.taken_back(what, report.on, plot=plot, language=language))
    return Answer(" ".join(texts), changes=changes)


def _asked(talk: Talk, said: Said) -> str:
    """Answer one question."""
    language = _language(talk)
    if said.kind is Kind.NEXT:
        plots = talk.plots if not said.plots else _plots(talk, said)
        if isinstance(plots, str):
            return plots
        most = replies.MOST_NEXT if len(plots) == 1 else 1
        return " ".join(_next(talk, plot, most) for plot in plots[:MOST_PLOTS])
    if said.kind in (Kind.WHY, Kind.PLOT):
        plots = _plots(talk, said)
        if isinstance(plots, str):
            return plots
        tell = _why if said.kind is Kind.WHY else _known
        return " ".join(tell(talk, plot, said) for plot in plots)
    return replies.help_text(talk.settings.programme, language=language)


def _next(talk: Talk, plot: PlotOnPhone, most: int) -> str:
    tasks = plans.tasks_of_season(talk.c, plot.season_id)
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
    facts = plot_facts(reports.reports_of_season(talk.c, plot.season_id), plot.choices)
    named = [task for task in derive(facts, talk.rulebook).tasks if task.name == said.task]
    coming = [task for task in named if task.done_on is None and task.closes >= talk.today]
    wanted = next((task for task in named if task.number == said.number), None)
    task = wanted or next(iter(coming or named), None)
    if task is None or task.counted is None:
        title = title_of(said.task, talk.rulebook, plot.language)
        return refusals.no_such_task(title, plot=plot.plot_number, language=plot.language)
    counted = task.counted
    reason = replies.ShortReason(
        anchor_name(counted.start, talk.rulebook, plot.language),
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
    kept = reports.reports_of_season(talk.c, plot.season_id)
    facts: Mapping[Kind, date] = plot_facts(kept, plot.choices).dates
    return replies.plot_known(facts, plot=plot.plot_number, language=plot.language)
