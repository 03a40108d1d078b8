"""Texts of the queue whose words follow the weather of the day they go out."""

from collections.abc import Collection
from datetime import datetime

from sqlalchemy import Connection, select, update

from reminder_service.kinds import MOVABLE, SeasonId, Stage
from reminder_service.records import tables as t
from reminder_service.records.plans import NewNotice

_MOVABLE = sorted(state.value for state in MOVABLE)


def seasons_going_out(
    c: Connection, tasks: Collection[str], stages: Collection[Stage], now: datetime, until: datetime
) -> list[SeasonId]:
    """Seasons with a text of some tasks that no worker has taken and that goes out soon, by id.

    Index: ix_notices_state_send_at_id.

    Parameters
    ----------
    c : connection
    tasks, stages : names of the tasks, and stages
    now : aware UTC instant; what is expired by then is left out
    until : aware UTC instant up to which it goes out
    """
    n = t.notices.c
    ids = select(n.season_id).where(
        n.state.in_(_MOVABLE),
        n.send_at <= until,
        n.expires_at > now,
        n.task.in_(sorted(tasks)),
        n.stage.in_(sorted(stage.value for stage in stages)),
    )
    # Sorted here: asked to sort, SQLite would rather walk every season's notices.
    return sorted({SeasonId(id_) for id_ in c.execute(ids).scalars() if id_ is not None})


def reword(c: Connection, notice_id: int, notice: NewNotice, at: datetime) -> int:
    """Give a text other words, if it is about the same days and still ours. Index: primary key.

    Parameters
    ----------
    c : connection that holds the season's lock
    notice_id : the row
    notice : what it should say
    at : aware UTC instant

    Returns
    -------
    1 if it was changed, else 0
    """
    n = t.notices.c
    same = (
        n.opens_on == notice.opens_on,
        n.due_on == notice.due_on,
        n.closes_on == notice.closes_on,
        n.phone_id == notice.phone_id,
    )
    changed = (
        update(t.notices)
        .where(n.id == notice_id, n.state.in_(_MOVABLE), n.body != notice.body, *same)
        .values(body=notice.body, segments=notice.segments, changed_at=at)
    )
    return c.execute(changed).rowcount
