"""Texts that came in: kept raw, once, and worked once."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, func, select, update

from reminder_service.kinds import Stage
from reminder_service.records import tables as t
from reminder_service.records.once import insert_once


@dataclass(frozen=True, slots=True)
class InboundRow:
    """One text as it came.

    Attributes
    ----------
    body : the bytes, whatever they hold
    sent_at : aware UTC instant, by the gateway's clock
    """

    id: int
    gateway: str
    sender: str
    body: bytes
    sent_at: datetime
    received_at: datetime


def keep_inbound(
    c: Connection,
    *,
    gateway: str,
    message_id: str,
    sender: str,
    body: bytes,
    sent_at: datetime,
    received_at: datetime,
) -> tuple[int, bool]:
    """Keep one text unless it is kept already. Index: uq_inbound_gateway_message_id.

    Parameters
    ----------
    c : connection of a write transaction
    gateway, message_id : the same pair twice is the same text
    sender, body : as the gateway gave them
    sent_at, received_at : aware UTC instants

    Returns
    -------
    id of the text, and whether it is new
    """
    values = {
        "gateway": gateway,
        "message_id": message_id,
        "sender": sender,
        "body": body,
        "sent_at": sent_at,
        "received_at": received_at,
    }
    new_id = insert_once(c, t.inbound, values)
    if new_id is not None:
        return new_id, True
    kept = select(t.inbound.c.id).where(
        t.inbound.c.gateway == gateway, t.inbound.c.message_id == message_id
    )
    return c.execute(kept).scalar_one(), False


def take_inbound(c: Connection, inbound_id: int, at: datetime) -> InboundRow | None:
    """Take a text to work it in this transaction; None if somebody has. Index: primary key."""
    taken = (
        update(t.inbound)
        .where(t.inbound.c.id == inbound_id, t.inbound.c.handled_at.is_(None))
        .values(handled_at=at)
        .returning(
            t.inbound.c.id,
            t.inbound.c.gateway,
            t.inbound.c.sender,
            t.inbound.c.body,
            t.inbound.c.sent_at,
            t.inbound.c.received_at,
        )
    )
    row = c.execute(taken).one_or_none()
    return None if row is None else InboundRow(*row)


def note_reading(
    c: Connection, inbound_id: int, phone_id: int | None, read_as: Mapping[str, object]
) -> None:
    """Note whose a text is and what was made of it. Index: primary key.

    Parameters
    ----------
    c : connection of a write transaction
    inbound_id : the text
    phone_id : the sender's phone; None if the sender is no phone
    read_as : plain values, as JSON can hold them
    """
    c.execute(
        update(t.inbound)
        .where(t.inbound.c.id == inbound_id)
        .values(phone_id=phone_id, read_as=dict(read_as))
    )


def reading_of(c: Connection, inbound_id: int) -> dict[str, Any] | None:
    """What was made of a text; None if it was not worked yet. Index: primary key."""
    found = c.execute(select(t.inbound.c.read_as).where(t.inbound.c.id == inbound_id))
    reading: dict[str, Any] | None = found.scalar_one_or_none()
    return reading


def unhandled(c: Connection, limit: int) -> list[int]:
    """Ids of texts that nobody has worked yet, oldest first. Index: ix_inbound_unhandled."""
    waiting = select(t.inbound.c.id).where(t.inbound.c.handled_at.is_(None))
    return list(c.execute(waiting.order_by(t.inbound.c.id).limit(limit)).scalars())


def last_asked(
    c: Connection, phone_id: int, before_id: int, since: datetime
) -> list[dict[str, Any]]:
    """The choices that the answer to a phone's last text offered. Index: ix_inbound_phone_id_id.

    Parameters
    ----------
    c : connection
    phone_id : which phone
    before_id : the text being worked; the one before it counts
    since : aware UTC instant; an older text asks nothing any more

    Returns
    -------
    plain values in the order offered; empty if the last text asked nothing
    """
    last = (
        select(t.inbound.c.read_as, t.inbound.c.sent_at)
        .where(t.inbound.c.phone_id == phone_id, t.inbound.c.id < before_id)
        .order_by(t.inbound.c.id.desc())
        .limit(1)
    )
    row = c.execute(last).one_or_none()
    if row is None or row.sent_at < since or row.read_as is None:
        return []
    return list(row.read_as.get("ask", []))


def replies_since(c: Connection, phone_id: int, since: datetime) -> int:
    """How many replies a phone was given. Index: ix_notices_phone_id_send_at_id."""
    replies = (
        select(func.count())
        .select_from(t.notices)
        .where(
            t.notices.c.phone_id == phone_id,
            t.notices.c.send_at >= since,
            t.notices.c.stage == Stage.REPLY.value,
        )
    )
    return c.execute(replies).scalar_one()
