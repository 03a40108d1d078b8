"""The notices that a plan asks for, given what has been sent already."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from reminder_service.kinds import Stage
from reminder_service.rules.errors import NaiveInstant
from reminder_service.rules.plan import (
    Estimate,
    Plan,
    SendingHours,
    SentNotice,
    Task,
    WantedNotice,
)
from reminder_service.rules.quiet_days import open_day_from, open_day_until
from reminder_service.rules.rulebook import Reminder, Rulebook, TaskRule
from reminder_service.rules.sending import Slot, local_day, sending_span, slot

IN_WINDOW = (Stage.LAST_CALL, Stage.OPENS, Stage.NUDGE)
"""Stages that go out while a task is open; of two on one day the first one here does."""

PRECEDENCE = (Stage.CORRECTION, *IN_WINDOW, Stage.GETTING_READY)
"""Of several notices for one round of a task on one day, the first one here goes out."""

REPLANTED_KEY = "replanted-"
"""What the keys of all notices to a stand that was replanted begin with."""

BEFORE_QUIET = (Stage.GETTING_READY, Stage.LAST_CALL)
"""Stages that come before a day; if theirs is quiet, they go out before it, not after."""

ONE_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class _Sending:
    """What all notices of one call share."""

    rulebook: Rulebook
    now: datetime
    today: date
    hours: SendingHours
    spread: int
    stand: str

    def slot(self, on: date, last: date) -> Slot | None:
        return slot(self.hours, self.spread, on, self.now, last)

    def days(self, setting: str) -> int:
        return self.rulebook.setting_days[setting]


@dataclass(frozen=True, slots=True)
class _Candidate:
    """A notice that might go out: its key, what it is, when, and on which day it expires."""

    key: str
    stage: Stage
    slot: Slot
    last: date


def wanted_notices(
    plan: Plan,
    rulebook: Rulebook,
    sent: Sequence[SentNotice],
    now: datetime,
    hours: SendingHours,
    spread: int,
) -> tuple[WantedNotice, ...]:
    """Every notice still to be sent for one season.

    A key that was sent is never asked for again, whatever moved. A round of a task that is done
    or closed gets nothing; others get at most one notice a day. If a task is open, its days for
    sending are past and the farmer has heard nothing, the opening notice goes out once, late; a
    last call that was missed goes out late too. Nothing goes out on a quiet day: what says that a
    task will open or close goes out before it, the rest after it. If the task moved by more than
    the rulebook's tolerance since the farmer last heard of it, one correction goes out. A date that
    is only estimated is asked for on its likely and on its latest day. What was said of a stand
    before a replanting says nothing of the one that grows now.

    Parameters
    ----------
    plan : of the season
    rulebook : that the plan was derived by
    sent : notices of the season that left us, oldest first
    now : aware UTC instant
    hours : sending hours of the ward; they must open before they close
    spread : number of the phone, 0 or more, that spreads texts over the hours

    Returns
    -------
    the notices by time and key; none is before ``now``

    Raises
    ------
    NaiveInstant
        ``now`` has no time zone.

    References
    ----------
    Own choices; the numbers of days stand in the rulebook.
    """
    if now.tzinfo is None:
        raise NaiveInstant("now", now)
    stand = stand_prefix(plan.replantings)
    sending = _Sending(rulebook, now, local_day(now, hours), hours, spread, stand)
    spent = {notice.key for notice in sent}
    told: dict[tuple[str, int], list[SentNotice]] = {}
    for notice in sent:
        if notice.stage is not Stage.QUESTION and _is_of_stand(notice.key, stand):
            told.setdefault((notice.task, notice.number), []).append(notice)
    wanted = [
        notice
        for task in plan.tasks
        if task.done_on is None and not task.waits and task.closes >= sending.today
        for notice in _of_task(task, told.get((task.name, task.number), ()), sending)
    ]
    for estimate in plan.estimates.values():
        wanted += (each for each in _questions(estimate, sending) if each.key not in spent)
    return tuple(sorted(wanted, key=lambda notice: (notice.send_at, notice.key)))


def stand_prefix(replantings: int) -> str:
    """What the keys of a stand's notices begin with: nothing until a plot is replanted.

    Parameters
    ----------
    replantings : how often the plot was replanted

    Returns
    -------
    the beginning, so that each stand is told of its own tasks

    Examples
    --------
    >>> stand_prefix(0), stand_prefix(1)
    ('', 'replanted-1/')
    """
    return f"{REPLANTED_KEY}{replantings}/" if replantings else ""


def _is_of_stand(key: str, stand: str) -> bool:
    return key.startswith(stand or REPLANTED_KEY) is bool(stand)


def _of_task(task: Task, told: Sequence[SentNotice], sending: _Sending) -> Iterator[WantedNotice]:
    """Notices of one round of a task, at most one a day."""
    rule = sending.rulebook.by_name[task.name]
    heard_on = {notice.sent_on for notice in told}
    by_day: dict[date, _Candidate] = {}
    stages = list(_stages(task, rule, told, sending))
    for candidate in (*_correction(task, rule, told, sending), *stages):
        other = by_day.get(candidate.slot.on)
        first = other is None or _rank(candidate) < _rank(other)
        again = candidate.slot.on in heard_on and candidate.stage is not Stage.CORRECTION
        if first and not again:
            by_day[candidate.slot.on] = candidate
    yield from (_notice(task, rule, candidate, sending) for candidate in by_day.values())


def _rank(candidate: _Candidate) -> int:
    return PRECEDENCE.index(candidate.stage)


def _stages(
    task: Task, rule: TaskRule, told: Sequence[SentNotice], sending: _Sending
) -> Iterator[_Candidate]:
    """Stages that are still to come, or that are late and still worth sending."""
    spent = {notice.stage for notice in told}
    days = {Stage(each.stage): _stage_day(task, each) for each in rule.reminders}
    found: list[_Candidate] = []
    for stage, planned_on in days.items():
        early = stage is Stage.GETTING_READY
        if stage in spent or (planned_on < task.opens and not early):
            continue
        on = _off_quiet(task, stage, planned_on, told, sending)
        if on >= sending.today or _is_late_last_call(stage, on, told):
            last = task.opens - ONE_DAY if early else task.closes
            found += _candidate(task, stage, sending, on, last)
    yield from found
    if Stage.OPENS in spent or days.get(Stage.OPENS, date.max) >= sending.today:
        return
    if task.opens <= sending.today and not _has_heard(task, told):
        catch_up = _candidate(task, Stage.OPENS, sending, sending.today, task.closes)
        yield from (late for late in catch_up if not _comes_by(found, late.slot.on))


def _stage_day(task: Task, reminder: Reminder) -> date:
    start = {"opens": task.opens, "due": task.due, "closes": task.closes}[reminder.start]
    return start + timedelta(reminder.days)


def _off_quiet(
    task: Task, stage: Stage, on: date, told: Sequence[SentNotice], sending: _Sending
) -> date:
    """Last open day before a quiet one, for a stage that must come before a day.

    The day itself if there is none any more on which the farmer has not heard: `slot` then looks
    after it.
    """
    if stage not in BEFORE_QUIET or on not in sending.hours.quiet:
        return on
    first = sending.today if stage is Stage.GETTING_READY else max(task.opens, sending.today)
    before = open_day_until(sending.hours.quiet, on, first)
    heard = any(notice.sent_on == before for notice in told)
    return on if before is None or heard else before


def _is_late_last_call(stage: Stage, on: date, told: Sequence[SentNotice]) -> bool:
    """Whether a missed last call is still news: the farmer heard before, but not since its day."""
    heard = [notice.sent_on for notice in told if notice.stage in IN_WINDOW]
    return stage is Stage.LAST_CALL and bool(heard) and all(n.sent_on < on for n in told)


def _has_heard(task: Task, told: Sequence[SentNotice]) -> bool:
    """Whether the farmer was told that the task is open."""
    return any(
        notice.stage in IN_WINDOW
        or (notice.stage is Stage.CORRECTION and notice.sent_on >= task.opens)
        for notice in told
    )


def _comes_by(found: Sequence[_Candidate], day: date) -> bool:
    """Whether another notice of the open task goes out on or before a day."""
    return any(each.stage in IN_WINDOW and each.slot.on <= day for each in found)


def _candidate(
    task: Task, stage: Stage, sending: _Sending, on: date, last: date
) -> tuple[_Candidate, ...]:
    """One stage at the first time there is; none if there is no time until ``last``."""
    found = sending.slot(on, last)
    key = f"{sending.stand}{task.name}/{task.number}/{stage}"
    return () if found is None else (_Candidate(key, stage, found, last),)


def _correction(
    task: Task, rule: TaskRule, told: Sequence[SentNotice], sending: _Sending
) -> tuple[_Candidate, ...]:
    """Say the new days, if they are too far from what the farmer heard last."""
    if not told or Stage.CORRECTION not in rule.wordings:
        return ()
    heard = told[-1]
    moved = max(abs((task.opens - heard.opens).days), abs((task.due - heard.due).days))
    if moved <= sending.days("correction_tolerance_days"):
        return ()
    found = sending.slot(sending.today, task.closes)
    said = f"{task.name}/{task.number}/{Stage.CORRECTION}/{task.due.isoformat()}"
    key = f"{sending.stand}{said}"
    if found is None or any(notice.key == key for notice in told):
        return ()
    return (_Candidate(key, Stage.CORRECTION, found, task.closes),)


def _notice(task: Task, rule: TaskRule, candidate: _Candidate, sending: _Sending) -> WantedNotice:
    return WantedNotice(
        key=candidate.key,
        task=task.name,
        number=task.number,
        stage=candidate.stage,
        on=candidate.slot.on,
        send_at=candidate.slot.at,
        expires_at=_end_of(candidate.last, candidate.slot, sending),
        template=rule.wordings[candidate.stage],
        caution=rule.caution or "",
        importance=task.importance,
        about=task,
        need=rule.need,
        most_segments=rule.most_segments,
        while_wet=rule.while_wet and candidate.stage in IN_WINDOW,
    )


def _questions(estimate: Estimate, sending: _Sending) -> Iterator[WantedNotice]:
    """Ask for a date on its likely day and on its latest one, the second time also late."""
    if not estimate.question:
        return
    late = timedelta(sending.days("question_late_days"))
    asked = [(2, estimate.latest, estimate.latest + late)]
    if estimate.on < estimate.latest:
        first = open_day_from(sending.hours.quiet, estimate.on, estimate.latest - ONE_DAY)
        asked.insert(0, (1, estimate.on, first or estimate.on))
    for number, on, until in asked:
        found = sending.slot(on, until) if sending.today <= until else None
        if found is not None:
            yield _question(estimate, number, found, sending)


def _question(estimate: Estimate, number: int, found: Slot, sending: _Sending) -> WantedNotice:
    useful = found.on + timedelta(sending.days("question_useful_days"))
    return WantedNotice(
        key=f"{sending.stand}{estimate.fact.value}/{number}/{Stage.QUESTION}",
        task=estimate.fact.value,
        number=number,
        stage=Stage.QUESTION,
        on=found.on,
        send_at=found.at,
        expires_at=_end_of(useful, found, sending),
        template=estimate.question,
        caution="",
        importance=estimate.importance,
        asks=estimate,
    )


def _end_of(day: date, found: Slot, sending: _Sending) -> datetime:
    """End of a day's sending hours; where the day has none, of the day that the text goes out."""
    start, end = sending_span(sending.hours, day)
    return end if end > max(start, found.at) else sending_span(sending.hours, found.on)[1]
