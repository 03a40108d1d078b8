"""The outbound queue looked after: lapsed leases, what came too late, and what comes next."""

from datetime import datetime

from sqlalchemy import Connection, and_, exists, func, select, union_all, update

from reminder_service.kinds import MOVABLE, NoticeState
from reminder_service.records.hooks import note_notices
from reminder_service.records.queue_rows import DUE, unclaimed
from reminder_service.records.tables import Outcome, attempts, notices

LATE = "too late to be of use"
CUT_SHORT = "the worker stopped before the gateway answered"


def release_lapsed(c: Connection, now: datetime) -> tuple[int, int]:
    """Bring back what workers left when their leases ran out.

    Index: ix_notices_state_send_at_id for the few that are claimed.

    Returns
    -------
    how many notices went back to planned, and how many are in doubt
    """
    lapsed = and_(notices.c.state == NoticeState.CLAIMED.value, notices.c.lease_until < now)
    # Attempts come first, as in `end_attempt`: an answer that is being noted wins.
    c.execute(
        update(attempts)
        .where(
            attempts.c.ended_at.is_(None),
            attempts.c.id.in_(select(notices.c.attempt_id).where(lapsed)),
        )
        .values(ended_at=now, outcome=Outcome.UNSURE.value, reason=CUT_SHORT)
    )
    is_over = exists().where(
        attempts.c.id == notices.c.attempt_id, attempts.c.ended_at.is_not(None)
    )
    doubt = unclaimed(NoticeState.IN_DOUBT.value, changed_at=now, reason=CUT_SHORT)
    doubtful = c.execute(update(notices).where(lapsed, is_over).values(doubt)).rowcount
    untried = and_(lapsed, notices.c.attempt_id.is_(None))
    planned = unclaimed(NoticeState.PLANNED.value, changed_at=now)
    returned = c.execute(update(notices).where(untried).values(planned)).rowcount
    return returned, doubtful


def expire(c: Connection, now: datetime) -> int:
    """Close what is too late to be of use. Index: ix_notices_state_send_at_id up to now.

    No notice expires before its send time (ck_notices_timely), so later ones need no look.

    Returns
    -------
    how many expired
    """
    late = (
        select(notices.c.id)
        .where(
            notices.c.state.in_(sorted(state.value for state in MOVABLE)),
            notices.c.send_at <= now,
            notices.c.expires_at <= now,
        )
        # What somebody else is changing waits for the next round.
        .with_for_update(skip_locked=True)
    )
    expired = {"state": NoticeState.EXPIRED.value, "reason": LATE, "changed_at": now}
    changed = update(notices).where(notices.c.id.in_(late)).values(expired)
    ids = c.execute(changed.returning(notices.c.id)).scalars().all()
    return len(note_notices(c, ids, now))


def next_due_at(c: Connection) -> datetime | None:
    """Send time of the first notice that is still to go out. Index: ix_notices_state_send_at_id."""
    firsts = [
        select(func.min(notices.c.send_at).label("at")).where(notices.c.state == state)
        for state in DUE
    ]
    first = union_all(*firsts).subquery()
    found: datetime | None = c.execute(select(func.min(first.c.at))).scalar_one()
    return found
