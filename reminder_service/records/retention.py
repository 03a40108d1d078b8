"""Bodies of old texts and notices, emptied batch by batch; rows, days and counts stay."""

from datetime import datetime

from sqlalchemy import Connection, Index, select, text, update

from reminder_service.kinds import NoticeState
from reminder_service.records.tables import inbound, notices

_FULL = text("length(body) > 0")

Index(
    "ix_inbound_full",
    inbound.c.received_at,
    sqlite_where=_FULL,
    postgresql_where=_FULL,
)
Index("ix_notices_full", notices.c.send_at, sqlite_where=_FULL, postgresql_where=_FULL)

FINAL = tuple(
    state.value
    for state in (
        NoticeState.HANDED_OVER,
        NoticeState.DELIVERED,
        NoticeState.UNDELIVERED,
        NoticeState.REFUSED,
        NoticeState.EXPIRED,
        NoticeState.WITHDRAWN,
    )
)
"""States in which nobody needs a notice's body any more."""


def empty_texts(c: Connection, before: datetime, limit: int) -> int:
    """Empty texts that came in before an instant and were worked. Index: ix_inbound_full.

    What they were read as goes too: it repeats them. The reports made of them stay.

    Parameters
    ----------
    c : connection of a write transaction
    before : aware UTC instant
    limit : most rows at once

    Returns
    -------
    how many were emptied
    """
    old = (
        select(inbound.c.id)
        .where(_FULL, inbound.c.received_at < before, inbound.c.handled_at.is_not(None))
        .order_by(inbound.c.received_at)
        .limit(limit)
    )
    emptied = update(inbound).where(inbound.c.id.in_(old)).values(body=b"", read_as=None)
    return c.execute(emptied).rowcount


def empty_notices(c: Connection, before: datetime, limit: int) -> int:
    """Empty notices that were to go out before an instant and are done. Index: ix_notices_full.

    Parameters
    ----------
    c : connection of a write transaction
    before : aware UTC instant
    limit : most rows at once

    Returns
    -------
    how many were emptied
    """
    old = (
        select(notices.c.id)
        .where(_FULL, notices.c.send_at < before, notices.c.state.in_(FINAL))
        .order_by(notices.c.send_at)
        .limit(limit)
    )
    return c.execute(update(notices).where(notices.c.id.in_(old)).values(body="")).rowcount
