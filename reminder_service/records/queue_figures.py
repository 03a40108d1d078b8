"""Counts of the outbound queue and of texts that came in, for the figures of the whole service."""

from sqlalchemy import Connection, func, select

from reminder_service.kinds import NoticeState
from reminder_service.records.tables import inbound, notices


def notices_by_state(c: Connection) -> dict[NoticeState, int]:
    """How many notices stand in each state, since the first; 0 for a state without any.

    Index: ix_notices_state_send_at_id, read through; no row is touched.
    """
    found = select(notices.c.state, func.count()).group_by(notices.c.state)
    counts = {NoticeState(state): count for state, count in c.execute(found)}
    return {state: counts.get(state, 0) for state in NoticeState}


def unworked_texts(c: Connection) -> int:
    """How many texts came in and were not worked yet. Index: ix_inbound_unhandled."""
    waiting = select(func.count()).select_from(inbound).where(inbound.c.handled_at.is_(None))
    count: int = c.execute(waiting).scalar_one()
    return count
