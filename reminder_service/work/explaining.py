"""What farmer and coordinator are told about a report that was taken, or was not. Pure."""

from dataclasses import dataclass

from reminder_service.agronomy.borer import BorerAnswer, borer_answer
from reminder_service.agronomy.stand import PLANTS_A_STATION, Thinning, plants_to_leave
from reminder_service.agronomy.stand_sample import StandState, stand_state
from reminder_service.kinds import OF_THE_STAND, Kind
from reminder_service.rules.rulebook import Rulebook
from reminder_service.texts import refusals, replanting, replies
from reminder_service.texts.catalogues import catalogue
from reminder_service.texts.wording import fact_name, full_day, round_of, task_day_name
from reminder_service.work.checks import Fault
from reminder_service.work.reporting import Refused, ReportGiven, Taken

MEASURED = (Kind.RAIN, Kind.COUNT, Kind.BORER_COUNT)
"""Reports that carry a number besides their day."""


@dataclass(frozen=True, slots=True)
class Addressee:
    """Whom a reply speaks to: farmer's name, plot number, language."""

    name: str
    plot: str
    language: str


def reply_to(outcome: Taken | Refused, rulebook: Rulebook, to: Addressee) -> str:
    """The farmer's reply to one report.

    Parameters
    ----------
    outcome : what became of the report
    rulebook : for titles, the borer threshold and its caution
    to : whom it speaks to

    Returns
    -------
    the text
    """
    if isinstance(outcome, Refused):
        return _refusal(outcome, rulebook, to)
    given = outcome.given
    if outcome.repeated:
        return replies.known_already(
            what_of(given, rulebook, to.language),
            given.on,
            name=to.name,
            plot=to.plot,
            language=to.language,
        )
    if given.kind is Kind.DONE:
        return replies.done_noted(
            title_of(given.task, rulebook, to.language),
            given.on,
            name=to.name,
            plot=to.plot,
            number=given.number or 1,
            was=outcome.corrected,
            language=to.language,
        )
    if given.kind in MEASURED:
        return _measured(outcome, rulebook, to)
    if given.kind in OF_THE_STAND and outcome.corrected is None:
        return _of_the_stand(given, to)
    if outcome.corrected is not None:
        return replies.corrected(
            given.kind,
            outcome.corrected,
            given.on,
            name=to.name,
            plot=to.plot,
            language=to.language,
        )
    return replies.noted(given.kind, given.on, name=to.name, plot=to.plot, language=to.language)


def for_coordinator(outcome: Taken | Refused, rulebook: Rulebook) -> str:
    """One sentence on what became of a report entered on a page.

    Parameters
    ----------
    outcome : what became of the report
    rulebook : for titles

    Returns
    -------
    the sentence
    """
    given = outcome.given
    what = f"{what_of(given, rulebook, 'en')}, {full_day(given.on)}"
    if isinstance(outcome, Taken):
        if outcome.repeated:
            return f"Known already: {what}."
        was = f", was {full_day(outcome.corrected)}" if outcome.corrected else ""
        return f"Noted: {what}{was}."
    fault = outcome.fault
    if fault is None:
        return f"Not noted: {what}. The plot's plan has no such task."
    if outcome.opens_on is not None:
        return f"Not noted: {what}. It opens only on {full_day(outcome.opens_on)}."
    if fault.fault is Fault.FUTURE:
        return f"Not noted: {what}. That day is still to come."
    if fault.fault is Fault.BEFORE_SEASON and fault.other_on:
        return f"Not noted: {what}. The season starts on {full_day(fault.other_on)}."
    other = (
        f"{fact_name(fault.other)} on {full_day(fault.other_on)}"
        if (fault.other and fault.other_on)
        else "another report"
    )
    return f"Not noted: {what}. It does not fit {other}: correct one of them."


def title_of(task: str | None, rulebook: Rulebook, language: str) -> str:
    """Title of a task in a language, or its name where the rulebook no longer knows it."""
    rule = rulebook.by_name.get(task or "")
    return catalogue(language).gettext(rule.title) if rule else task or ""


def anchor_name(start: str, rulebook: Rulebook, language: str) -> str:
    """Name of what a day is counted from: a fact, or a day of a task.

    Parameters
    ----------
    start : the rulebook's name for it, such as ``germinated`` or ``thin.done``
    rulebook : for titles
    language : ISO 639-1 code
    """
    name, dot, which = start.partition(".")
    if not dot:
        return fact_name(Kind(name), language)
    return task_day_name(title_of(name, rulebook, language), which, language)


def what_of(given: ReportGiven, rulebook: Rulebook, language: str) -> str:
    """What a report is about: its fact, or its task's title with the round."""
    if given.kind is Kind.DONE:
        title = title_of(given.task, rulebook, language)
        return round_of(title, given.number or 1, language)
    return fact_name(given.kind, language)


def _measured(outcome: Taken, rulebook: Rulebook, to: Addressee) -> str:
    """Answer to what was counted or measured."""
    given = outcome.given
    if given.mm is not None:
        return replies.amount_noted(
            given.mm, given.on, name=to.name, plot=to.plot, language=to.language
        )
    if given.damaged is not None:
        return _borers(outcome, given.damaged, rulebook, to)
    thinning = plants_to_leave(given.counts)
    return replies.count_noted(
        given.counts,
        thinning.leave,
        name=to.name,
        plot=to.plot,
        poor_percent=_poor_percent(thinning),
        language=to.language,
    )


def _of_the_stand(given: ReportGiven, to: Addressee) -> str:
    """Answer to what became of a stand after dry days."""
    if given.kind is Kind.REPLANTED:
        return replanting.replanted(given.on, name=to.name, plot=to.plot, language=to.language)
    said = replanting.survived if given.kind is Kind.SURVIVED else replanting.lost
    return said(name=to.name, plot=to.plot, language=to.language)


def _poor_percent(thinning: Thinning) -> int | None:
    """How full a stand is, where it is too poor; None where it is not."""
    full_share = thinning.mean / PLANTS_A_STATION
    return int(100 * full_share) if stand_state(full_share) is StandState.POOR else None


def _borers(outcome: Taken, damaged: int, rulebook: Rulebook, to: Addressee) -> str:
    """Nothing is used too early, too late or up to the threshold; above it the adviser is asked."""
    given = outcome.given
    task = next((task for task in rulebook.tasks if task.act_above is not None), None)
    if task is None or task.act_above is None:  # this crop's rulebook has no threshold
        return replies.noted(given.kind, given.on, name=to.name, plot=to.plot, language=to.language)
    threshold, opens_on = task.act_above, outcome.opens_on
    answer = borer_answer(
        damaged, threshold, given.on, opens=opens_on, tasselled=outcome.tasselled_on
    )
    who = {"name": to.name, "plot": to.plot, "language": to.language}
    if answer is BorerAnswer.TOO_LATE:
        return replies.borers_late(damaged, **who)
    if answer is BorerAnswer.NOT_YET and opens_on is not None:
        return replies.borers_early(damaged, opens_on, **who)
    if answer is BorerAnswer.FEW:
        return replies.borers_few(damaged, threshold, **who)
    caution = catalogue(to.language).gettext(task.caution) if task.caution else ""
    return replies.borers_many(damaged, threshold, caution, **who)


def _refusal(refused: Refused, rulebook: Rulebook, to: Addressee) -> str:
    given, fault = refused.given, refused.fault
    what = what_of(given, rulebook, to.language)
    if fault is None:
        return refusals.no_such_task(
            title_of(given.task, rulebook, to.language),
            plot=to.plot,
            number=given.number,
            language=to.language,
        )
    if refused.opens_on is not None:
        return refusals.too_early(
            what, given.on, refused.opens_on, plot=to.plot, language=to.language
        )
    if fault.fault is Fault.FUTURE or fault.other_on is None:
        return refusals.still_to_come(what, given.on, plot=to.plot, language=to.language)
    if fault.fault is Fault.BEFORE_SEASON or fault.other is None:
        return refusals.before_season(
            what, given.on, fault.other_on, plot=to.plot, language=to.language
        )
    return refusals.contradiction(
        given.kind, given.on, fault.other, fault.other_on, plot=to.plot, language=to.language
    )
