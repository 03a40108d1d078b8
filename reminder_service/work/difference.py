"""What must change in the queue so that it says what the plan says. Pure."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from reminder_service.kinds import MOVABLE, NoticeState
from reminder_service.records.plans import WAITS_FOR_RAIN, NewNotice, NoticeRow
from reminder_service.rules.plan import Task

REVIVABLE = frozenset({NoticeState.WITHDRAWN, NoticeState.EXPIRED})


@dataclass(frozen=True, slots=True)
class Difference:
    """The three changes to a season's notices.

    Attributes
    ----------
    insert : notices the queue does not hold yet
    move : row id and what the row must say now; revived if it had been withdrawn
    withdraw : ids of rows that the plan no longer asks for
    """

    insert: tuple[NewNotice, ...]
    move: tuple[tuple[int, NewNotice], ...]
    withdraw: tuple[int, ...]


def is_spent(row: NoticeRow) -> bool:
    """Whether planning must leave a row alone: it left us, was refused, or a person dropped it."""
    if row.state in MOVABLE:
        return False
    return not (row.state in REVIVABLE and row.person_id is None)


def is_again(row: NoticeRow) -> bool:
    """Whether a person asked for this row to be sent again: the plan has no say over it."""
    return "/again-" in row.key


def difference(
    rows: Iterable[NoticeRow],
    wanted: Iterable[NewNotice],
    tasks: Mapping[tuple[str, int], Task],
    now: datetime,
) -> Difference:
    """Changes that lead from the rows in the queue to the notices wanted.

    A row whose time has come but that no worker has taken yet stays as it is while its task
    still has the same days: a re-plan must not eat what is about to go out.

    Parameters
    ----------
    rows : every notice of the season
    wanted : what the plan asks for, with bodies written; no spent key among them
    tasks : the plan's tasks by name and number
    now : aware UTC instant

    Returns
    -------
    the difference
    """
    by_key = {row.key: row for row in rows}
    asked = {notice.key: notice for notice in wanted}
    insert = tuple(notice for key, notice in asked.items() if key not in by_key)
    move = tuple(
        (by_key[key].id, notice)
        for key, notice in asked.items()
        if key in by_key and _says_other(by_key[key], notice)
    )
    withdraw = tuple(
        row.id
        for row in by_key.values()
        if row.state in MOVABLE and row.key not in asked and not _about_to_go(row, tasks, now)
    )
    return Difference(insert, move, withdraw)


def _says_other(row: NoticeRow, notice: NewNotice) -> bool:
    if row.state in REVIVABLE:
        return True
    if (row.reason == WAITS_FOR_RAIN) is not notice.waits_for_rain:
        return True
    is_retry = row.state is NoticeState.WAITING and not notice.waits_for_rain
    if is_retry and row.body == notice.body and row.day == notice.day:
        return False  # a retry keeps its own time
    return (row.body, row.send_at, row.expires_at, row.phone_id, row.due_on) != (
        notice.body,
        notice.send_at,
        notice.expires_at,
        notice.phone_id,
        notice.due_on,
    )


def _about_to_go(row: NoticeRow, tasks: Mapping[tuple[str, int], Task], now: datetime) -> bool:
    if row.state is NoticeState.HELD or row.send_at > now or row.expires_at <= now:
        return False
    task = tasks.get((row.task, row.number))
    if task is None or task.done_on is not None or task.waits:
        return False
    return (task.opens, task.due, task.closes) == (row.opens_on, row.due_on, row.closes_on)
