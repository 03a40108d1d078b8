"""The queue after a restore: what may have gone out since the backup waits for a person."""

from datetime import datetime

from sqlalchemy import Connection, and_, or_, update

from reminder_service.kinds import NoticeState
from reminder_service.records.tables import notices


def hold_due(c: Connection, now: datetime, made_at: datetime) -> int:
    """Hold what is due by now and has no attempt under way. Index: ix_notices_state_send_at_id.

    A claim with an attempt is left to the sweep, which puts it in doubt.

    Parameters
    ----------
    c : connection of a write transaction
    now : aware UTC instant
    made_at : aware UTC instant of the backup

    Returns
    -------
    how many are held
    """
    movable = [NoticeState.PLANNED.value, NoticeState.WAITING.value]
    untried = and_(notices.c.state == NoticeState.CLAIMED.value, notices.c.attempt_id.is_(None))
    held = {
        "state": NoticeState.HELD.value,
        "reason": f"restored from the backup of {made_at:%Y-%m-%d %H:%M} UTC: it may have gone out",
        "claim": None,
        "lease_until": None,
        "changed_at": now,
    }
    due = and_(or_(notices.c.state.in_(movable), untried), notices.c.send_at <= now)
    return c.execute(update(notices).where(due).values(held)).rowcount
