"""After a false start of the rains: which plots it hit, what they answered, whom to ask. Pure."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from reminder_service.kinds import OF_THE_STAND, Kind, Stage
from reminder_service.rules.facts import Report, replanted_days, standing_reports
from reminder_service.rules.plan import SendingHours, SentNotice, WantedNotice
from reminder_service.rules.rulebook import Rulebook
from reminder_service.rules.sending import local_day, sending_span, slot

QUESTION_ABOUT = "false-start"
"""What the question is about, where a reminder has its task's name."""

GREW_ON = (Kind.GERMINATED, Kind.TASSELLED, Kind.HARVESTED, Kind.COUNT)
"""Reports that speak of a living stand; one from after the dry days answers the question."""


@dataclass(frozen=True, slots=True)
class DryStart:
    """One false start of a ward's rains.

    Attributes
    ----------
    id : in the records; the same one whatever later observations move
    on : local day of the rain that was taken for the onset
    dry_from, dry_until : first and last known local day of the dry run after it
    """

    id: int
    on: date
    dry_from: date
    dry_until: date


def start_that_hit(starts: Iterable[DryStart], reports: Iterable[Report]) -> DryStart | None:
    """The false start that the stand of a plot was planted on.

    It is the first whose dry days ended on or after the day of planting. A plot that reported
    neither planting nor germination was hit by none, since nobody knows whether it was planted.

    Parameters
    ----------
    starts : of the ward's season
    reports : all reports of the plot's season, in any order

    Returns
    -------
    the false start; None if there is none
    """
    planted_on = _first_planted(standing_reports(reports))
    if planted_on is None:
        return None
    hits = [start for start in starts if planted_on <= start.dry_until]
    return min(hits, key=lambda start: (start.on, start.id), default=None)


def answer_to(start: DryStart, reports: Iterable[Report]) -> Report | None:
    """The report that says what became of the stand: the last of those sent.

    That it survived, was lost, or was replanted; else germination, a stand count, tassels or
    harvest from after the dry days.

    Parameters
    ----------
    start : the false start
    reports : all reports of the plot's season, in any order

    Returns
    -------
    the report; None as long as there is none
    """
    told = [report for report in standing_reports(reports) if _tells(report, start)]
    said = [report for report in told if report.kind in OF_THE_STAND] or told
    return said[-1] if said else None


def survival_question(
    starts: Iterable[DryStart],
    reports: Sequence[Report],
    rulebook: Rulebook,
    sent: Sequence[SentNotice],
    now: datetime,
    hours: SendingHours,
    spread: int,
) -> WantedNotice | None:
    """The question whether a stand survived, while it is worth asking and nothing answers it.

    Parameters
    ----------
    starts : false starts of the ward's season
    reports : all reports of the plot's season, in any order
    rulebook : the programme's
    sent : notices of the season that left us
    now : aware UTC instant
    hours : sending hours of the ward; they must open before they close
    spread : number of the phone, 0 or more, that spreads texts over the hours

    Returns
    -------
    the question; None if there is nothing to ask, or it was asked
    """
    rule, today = rulebook.after_false_start, local_day(now, hours)
    start = start_that_hit(starts, reports)
    if rule is None or start is None or answer_to(start, reports) is not None:
        return None
    key = f"{QUESTION_ABOUT}/{start.id}/{Stage.QUESTION}"
    if any(notice.key == key for notice in sent):
        return None
    found = slot(hours, spread, today, now, start.dry_until + timedelta(days=rule.days))
    if found is None:
        return None
    useful = timedelta(days=rulebook.setting_days["question_useful_days"])
    end = max(sending_span(hours, found.on + useful)[1], sending_span(hours, found.on)[1])
    return WantedNotice(
        key=key,
        task=QUESTION_ABOUT,
        number=start.id,
        stage=Stage.QUESTION,
        on=found.on,
        send_at=found.at,
        expires_at=end,
        template=rule.question,
        caution="",
        importance=rule.importance,
    )


def _first_planted(standing: Sequence[Report]) -> date | None:
    """Day the stand that grows now was planted, or came up where no planting was reported."""
    replanted = replanted_days(standing)
    if replanted:
        return replanted[-1]
    for kind in (Kind.PLANTED, Kind.GERMINATED):
        days = [report.on for report in standing if report.kind is kind]
        if days:
            return days[-1]
    return None


def _tells(report: Report, start: DryStart) -> bool:
    if report.on is None:
        return False
    if report.kind in OF_THE_STAND:
        return report.on > start.on
    return report.kind in GREW_ON and report.on > start.dry_until
