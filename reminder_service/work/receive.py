"""Receive a text: keep it raw, once; then read it, act and queue the reply in one transaction."""

from dataclasses import dataclass, field
from datetime import timedelta

import phonenumbers
from sqlalchemy import Connection

from gateways.protocol import Incoming
from reminder_service.kinds import PhoneNumber, Stage
from reminder_service.records import farmers, inbound, plans, unread
from reminder_service.records.engine import reading, writing
from reminder_service.records.farmers import Phone
from reminder_service.records.inbound import InboundRow
from reminder_service.records.plans import NewNotice
from reminder_service.records.types import Waits
from reminder_service.texts.letters import economical
from reminder_service.texts.segments import segments
from reminder_service.work.conversation import answer
from reminder_service.work.services import Services
from reminder_service.work.talk import Answer, Talk, begin_talk
from reminder_service.work.waiting import note_waiting

REPLY_LIFE = timedelta(days=1)
"""How long a reply is worth sending (setting)."""


@dataclass(frozen=True, slots=True)
class Received:
    """What became of a text.

    Attributes
    ----------
    inbound_id : its row
    duplicate : the same message id had come before; nothing was done again
    understood : one entry a thing said: kind, date, plot and so on
    reply : the text that goes back, or None
    segments : of the reply
    changes : one sentence a change to the plan
    """

    inbound_id: int
    duplicate: bool
    understood: list[dict[str, object]] = field(default_factory=list)
    reply: str | None = None
    segments: int = 0
    changes: list[str] = field(default_factory=list)


def e164(sender: str, region: str | None) -> PhoneNumber | None:
    """E.164 form of a sender, or None for what is no phone number (a name, a short code).

    Parameters
    ----------
    sender : as the gateway gave it
    region : ISO 3166 region for numbers without a country code, or None
    """
    try:
        parsed = phonenumbers.parse(sender, region)
    except phonenumbers.NumberParseException:
        return None
    if not phonenumbers.is_possible_number(parsed):
        return None
    return PhoneNumber(phonenumbers.format_number(parsed, phonenumbers.PhoneNumberFormat.E164))


def receive(services: Services, *, gateway: str, message: Incoming) -> Received:
    """Take one inbound text: kept before anything else, worked once.

    Parameters
    ----------
    services : the services
    gateway : name of the gateway it came by
    message : the text as it came

    Returns
    -------
    what became of it; for a repeated message id, what became of it the first time
    """
    with writing(services.engine) as c:
        inbound_id, is_new = inbound.keep_inbound(
            c,
            gateway=gateway,
            message_id=message.message_id,
            sender=message.sender,
            body=message.body,
            sent_at=message.sent_at,
            received_at=services.clock(),
        )
    if is_new:
        return work_inbound(services, inbound_id)
    return _as_before(services, inbound_id)


def work_inbound(services: Services, inbound_id: int) -> Received:
    """Read a kept text, act on it and queue the reply, all in one transaction.

    Two workers may try the same text: only one gets it.

    Parameters
    ----------
    services : the services
    inbound_id : row of a kept text

    Returns
    -------
    what became of it
    """
    now = services.clock()
    with writing(services.engine) as c:
        row = inbound.take_inbound(c, inbound_id, now)
        if row is not None:
            return _work(c, services, row)
    return _as_before(services, inbound_id)


def _work(c: Connection, services: Services, row: InboundRow) -> Received:
    number = e164(row.sender, services.settings.default_region)
    if number is None:
        inbound.note_reading(c, row.id, None, {"unread": True, "why": "the sender is no phone"})
        unread.keep_waiting(c, row.id, Waits.UNREAD)
        return Received(row.id, duplicate=False)
    phone = farmers.phone_for(c, number)
    talk = begin_talk(c, services, row, phone)
    said = answer(talk)
    reply = (
        said.reply and economical(said.reply, said.language).body
        if _may_reply(talk, said)
        else None
    )
    read_as = {
        "understood": said.understood,
        "unread": said.unread,
        "ask": said.ask,
        "changes": said.changes,
        "reply": reply,
    }
    if said.reply is not None and reply is None:
        read_as["why"] = "no reply: this phone has had its share of replies for one day"
    inbound.note_reading(c, row.id, phone.id, read_as)
    note_waiting(c, row.id, phone.id, said, talk.now)
    if reply is not None:
        plans.insert_notices(c, [_reply(talk, phone, said, reply)], talk.now)
    count = segments(reply).segments if reply else 0
    return Received(row.id, False, said.understood, reply, count, said.changes)


def _may_reply(talk: Talk, said: Answer) -> bool:
    """Refuse to feed an auto-responder: a phone gets so many replies in a day; STOP always one."""
    if said.reply is None or said.must_reply:
        return said.reply is not None
    since = talk.now - timedelta(days=1)
    return inbound.replies_since(talk.c, talk.phone.id, since) < talk.settings.reply_cap_per_day


def _reply(talk: Talk, phone: Phone, said: Answer, body: str) -> NewNotice:
    return NewNotice(
        key=f"reply/{talk.row.id}",
        phone_id=phone.id,
        farmer_id=said.farmer_id,
        ward_id=said.ward_id,
        season_id=None,
        inbound_id=talk.row.id,
        task="reply",
        number=1,
        stage=Stage.REPLY,
        opens_on=None,
        due_on=None,
        closes_on=None,
        body=body,
        segments=segments(body).segments,
        importance=1,
        day=talk.today,
        send_at=talk.now,
        expires_at=talk.now + REPLY_LIFE,
    )


def _as_before(services: Services, inbound_id: int) -> Received:
    with reading(services.engine) as c:
        read_as = inbound.reading_of(c, inbound_id) or {}
    reply = read_as.get("reply")
    return Received(
        inbound_id,
        True,
        list(read_as.get("understood", [])),
        reply,
        segments(reply).segments if reply else 0,
        list(read_as.get("changes", [])),
    )
