"""Take back what the last text of a phone reported, after NO."""

from collections.abc import Sequence
from datetime import date

from reminder_service.records import reports
from reminder_service.records.reports import KeptReport
from reminder_service.texts import leading, refusals, replies
from reminder_service.work.explaining import what_of
from reminder_service.work.reporting import ReportGiven, take_back
from reminder_service.work.talk import CONTEXT_LIFE, Answer, Talk


def take_back_last(talk: Talk) -> Answer:
    """Undo every report of the last text that made any and is at most a day old.

    Parameters
    ----------
    talk : the text that says NO

    Returns
    -------
    what was taken back, or that there is nothing
    """
    last = reports.last_from_phone(talk.c, talk.phone.id, since=talk.now - CONTEXT_LIFE)
    if not last:
        return Answer(refusals.nothing_to_take_back(language=talk.language))
    changes = []
    for report in sorted(last, key=lambda report: (report.season_id, report.id)):
        changes += take_back(talk.c, talk.rulebook, talk.settings, report, talk.now)
    same: dict[tuple[str, date], list[KeptReport]] = {}
    for report in last:
        same.setdefault((_what(talk, report), report.on), []).append(report)
    texts = [_told(talk, what, on, group) for (what, on), group in same.items()]
    return Answer(" ".join(texts), changes=changes)


def _what(talk: Talk, report: KeptReport) -> str:
    given = ReportGiven(report.kind, report.on, talk.now, report.task, report.number)
    return what_of(given, talk.rulebook, talk.language)


def _told(talk: Talk, what: str, on: date, group: Sequence[KeptReport]) -> str:
    """Name the plot where it is one of the sender's own; else say how many there were."""
    numbers = {plot.season_id: plot.plot_number for plot in talk.plots}
    if len(group) == 1 and group[0].season_id in numbers:
        plot = numbers[group[0].season_id]
        return replies.taken_back(what, on, plot=plot, language=talk.language)
    return leading.taken_back(what, on, len(group), language=talk.language)
