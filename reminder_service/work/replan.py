"""Re-plan one season: its reports give the plan, the plan gives its notices, all in one go."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

from sqlalchemy import Connection

from reminder_service.agronomy.field_moisture import Answer
from reminder_service.kinds import SeasonId, Stage
from reminder_service.records import false_starts, farmers, plans, reports, ward_rains
from reminder_service.records.farmers import Phone, PlotOnPhone, SeasonForPlanning
from reminder_service.records.plans import NewNotice, NoticeRow
from reminder_service.rules.derive import derive
from reminder_service.rules.facts import Report, plot_facts
from reminder_service.rules.false_starts import survival_question
from reminder_service.rules.plan import Plan, SendingHours, SentNotice, Task
from reminder_service.rules.reminders import wanted_notices
from reminder_service.rules.rulebook import Rulebook
from reminder_service.rules.sending import local_day, phone_spread
from reminder_service.settings import Settings
from reminder_service.work.difference import Difference, difference, is_again, is_spent
from reminder_service.work.dry_weeks import is_while_wet_on, put_off
from reminder_service.work.moisture import field_soil, is_dressing_on, planted_day
from reminder_service.work.normals import ward_normals
from reminder_service.work.pace import late_minutes
from reminder_service.work.rendering import new_notice


@dataclass(frozen=True, slots=True)
class Moved:
    """One task whose days changed.

    Attributes
    ----------
    before, after : the task as it was planned and as it is now; None if it was not or is no more
    """

    before: Task | None
    after: Task | None


@dataclass(frozen=True, slots=True)
class Replanned:
    """What a re-plan came to.

    Attributes
    ----------
    plan : the new plan
    moved : tasks that appeared, went, moved or were done
    inserted, changed, withdrawn : number of notices
    """

    plan: Plan
    moved: tuple[Moved, ...]
    inserted: int
    changed: int
    withdrawn: int


def sending_hours(settings: Settings, zone: str) -> SendingHours:
    """The programme's sending hours and quiet days in a ward's time zone."""
    opens, closes = settings.sending_opens, settings.sending_closes
    return SendingHours(
        zone,
        opens.hour * 60 + opens.minute,
        closes.hour * 60 + closes.minute,
        settings.quiet_days,
    )


def planning_hours(c: Connection, settings: Settings, season: SeasonForPlanning) -> SendingHours:
    """Sending hours for planning: late texts wait their turn among those of their ward."""
    hours = sending_hours(settings, season.zone)
    minutes = late_minutes(c, settings, season, hours.closes_minute - hours.opens_minute)
    return replace(hours, late_minutes=minutes)


def replan(
    c: Connection, season_id: SeasonId, rulebook: Rulebook, settings: Settings, now: datetime
) -> Replanned:
    """Bring a season's tasks and unsent notices in line with its reports.

    Runs inside the caller's transaction, so that report, plan and notices commit together.

    Parameters
    ----------
    c : connection of a write transaction
    season_id : which season
    rulebook : the programme's rulebook
    settings : sending hours and segment limit
    now : aware UTC instant

    Returns
    -------
    what changed

    Raises
    ------
    NotFound
        There is no such season.
    """
    season = farmers.lock_season(c, season_id)
    plan, change = planned_change(
        c, season, rulebook, settings, now, ward_first_rain(c, season, settings)
    )
    before = plans.tasks_of_season(c, season_id)
    plans.write_tasks(c, season_id, plan.tasks)
    plans.insert_notices(c, change.insert, now)
    plans.move_notices(c, change.move, now)
    plans.withdraw_notices(c, change.withdraw, _why_withdrawn(plan), now)
    farmers.mark_planned(c, season_id, plan.rulebook, now)
    return Replanned(
        plan,
        moved_tasks(before, plan.tasks),
        len(change.insert),
        len(change.move),
        len(change.withdraw),
    )


def _why_withdrawn(plan: Plan) -> str:
    return "the plan changed" if plan.lost_on is None else "the stand is lost: waits for replanting"


def planned_change(
    c: Connection,
    season: SeasonForPlanning,
    rulebook: Rulebook,
    settings: Settings,
    now: datetime,
    ward_rain_on: date | None,
) -> tuple[Plan, Difference]:
    """What a re-plan of a season would come to; nothing is written.

    Parameters
    ----------
    c : connection
    season : which season
    rulebook, settings : the programme's
    now : aware UTC instant
    ward_rain_on : local day of the ward's first rain; None if there is none

    Returns
    -------
    the plan, and what it does to the season's notices
    """
    kept = reports.reports_of_season(c, season.season_id)
    normals = ward_normals(settings, season.ward_name)
    facts = plot_facts(kept, season.choices, ward_rain_on, normals)
    plan = derive(facts, rulebook)
    rows = [row for row in plans.notices_of_season(c, season.season_id) if not is_again(row)]
    planted_on = planted_day(facts, plan.estimates)
    wanted = _wanted(c, season, kept, plan, planted_on, rows, rulebook, settings, now)
    tasks = {(task.name, task.number): task for task in plan.tasks}
    return plan, difference(rows, wanted, tasks, now)


def _wanted(
    c: Connection,
    season: SeasonForPlanning,
    kept: Sequence[Report],
    plan: Plan,
    planted_on: date | None,
    rows: Sequence[NoticeRow],
    rulebook: Rulebook,
    settings: Settings,
    now: datetime,
) -> list[NewNotice]:
    """What the plan asks for, as the soil of today has it where that matters."""
    phone = texting_phone(season)
    if phone is None:
        return []
    hours = planning_hours(c, settings, season)
    spread = phone_spread(phone.id, hours)
    sent = _sent(rows, season.zone)
    wishes = wanted_notices(plan, rulebook, sent, now, hours, spread)
    starts = false_starts.starts_of(c, season.ward_id, settings.season_start(season.starts_on))
    asked = survival_question(starts, kept, rulebook, sent, now, hours, spread)
    wishes += (asked,) if asked else ()
    today = local_day(now, hours)
    if not any(is_dressing_on(wish, today) or is_while_wet_on(wish, today) for wish in wishes):
        return [new_notice(wish, season, phone.id) for wish in wishes]
    soil = field_soil(c, season, planted_on, today, settings)
    found = []
    for wish in wishes:
        waits = is_while_wet_on(wish, today) and soil.weeds is Answer.NO
        hold = soil.hold if is_dressing_on(wish, today) else None
        then = put_off(wish, hours, spread, today, now) if waits else wish
        found.append(replace(new_notice(then, season, phone.id, hold), waits_for_rain=waits))
    return found


def ward_first_rain(c: Connection, season: PlotOnPhone, settings: Settings) -> date | None:
    """The first rain declared for a season's ward, if it falls into the season.

    Parameters
    ----------
    c : connection
    season : which season
    settings : for the first day of a season

    Returns
    -------
    local day, or None
    """
    starts_on = settings.season_start(season.starts_on)
    found = ward_rains.declared(c, season.ward_id, starts_on)
    on = None if found is None else found.on
    return on if on is not None and on >= season.starts_on else None


def texting_phone(season: SeasonForPlanning) -> Phone | None:
    """The phone that a season's reminders go to: the farmer's first.

    A farmer who said stop on any phone gets no reminder at all, nor does one who joined by text
    before a coordinator has approved.
    """
    stopped = any(phone.stopped_at is not None for phone in season.phones)
    if stopped or not season.phones or not season.let_in:
        return None
    return season.phones[0]


def _sent(rows: Sequence[NoticeRow], zone: str) -> list[SentNotice]:
    """Spent rows of tasks as planning must know them, oldest first."""
    return [
        SentNotice(
            row.key.partition("/")[2],
            row.task,
            row.number,
            row.stage,
            row.opens_on or row.day,
            row.due_on or row.day,
            row.closes_on or row.day,
            row.sent_at.astimezone(ZoneInfo(zone)).date() if row.sent_at else row.day,
        )
        for row in sorted(rows, key=lambda row: (row.send_at, row.id))
        if is_spent(row) and row.stage is not Stage.REPLY
    ]


def moved_tasks(before: Sequence[Task], after: Sequence[Task]) -> tuple[Moved, ...]:
    """Tasks that appeared, went, moved or were done, by due day.

    Parameters
    ----------
    before, after : the tasks of one season as they were planned and as they are now
    """
    old = {(task.name, task.number): task for task in before}
    new = {(task.name, task.number): task for task in after}
    pairs = [Moved(old.get(key), new.get(key)) for key in {**old, **new}]
    changed = [pair for pair in pairs if _days(pair.before) != _days(pair.after)]
    return tuple(sorted(changed, key=_order))


def _days(task: Task | None) -> tuple[object, ...] | None:
    if task is None:
        return None
    if task.done_on is not None:
        return (task.done_on,)  # where its window moves to matters to nobody any more
    return (task.opens, task.due, task.closes, task.basis, task.waits)


def _order(pair: Moved) -> tuple[object, ...]:
    task = pair.after or pair.before
    return (task.due, task.name, task.number) if task else ()
