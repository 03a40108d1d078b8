"""Claims on the outbound queue: which notices a worker takes, and in which order."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import ColumnElement, Connection, and_, exists, or_, select, update

from reminder_service.kinds import NoticeState, PhoneNumber, Stage
from reminder_service.records.queue_rows import DUE, has_stopped, is_reply, urgency
from reminder_service.records.tables import attempts, farmers, notices, phones, wards


@dataclass(frozen=True, slots=True)
class ClaimedNotice:
    """One notice that a worker has.

    Attributes
    ----------
    tries : how often it was claimed to be sent, this time too
    zone : IANA name of the ward's time zone; None for a reply to a phone of no ward
    ward, language : of the farmer; None for a phone that serves nobody
    attempt_id, client_reference, gateway : of the attempt that ended in doubt, for one that is
        tried again
    """

    id: int
    phone_id: int
    number: PhoneNumber
    body: str
    segments: int
    stage: Stage
    importance: int
    send_at: datetime
    expires_at: datetime
    tries: int
    zone: str | None
    attempt_id: int | None
    client_reference: str | None
    ward: str | None = None
    language: str | None = None
    gateway: str | None = None


def claim_due(
    c: Connection, *, now: datetime, claim: str, lease_until: datetime, limit: int
) -> list[ClaimedNotice]:
    """Claim notices that may go out now: replies first, then what expires first.

    Index: ix_notices_state_send_at_id up to now, then primary keys. What another worker is
    claiming at this moment is passed over.

    Parameters
    ----------
    c : connection of a write transaction
    now, lease_until : aware UTC instants
    claim : token of this round, new each time
    limit : how many at most

    Returns
    -------
    the notices that are ours now, in that order
    """
    due = (
        select(notices.c.id)
        .where(
            notices.c.state.in_(DUE),
            notices.c.send_at <= now,
            notices.c.expires_at > now,
            or_(is_reply(), ~has_stopped(notices.c.phone_id)),
        )
        .order_by(*urgency())
        .limit(limit)
        .with_for_update(skip_locked=True)
        .cte("due")
    )
    which = and_(notices.c.id.in_(select(due.c.id)), notices.c.state.in_(DUE))
    return _claimed(c, which, now, claim, lease_until)


def claim_in_doubt(
    c: Connection,
    *,
    before: datetime,
    now: datetime,
    claim: str,
    lease_until: datetime,
    limit: int,
    gateway: str | None = None,
) -> list[ClaimedNotice]:
    """Claim notices in doubt, to send each text again under the reference it had.

    Only whole texts are claimed: all notices of an attempt, or none. Index:
    ix_notices_state_send_at_id for the state, then ix_notices_attempt_id.

    Parameters
    ----------
    c : connection of a write transaction
    before : aware UTC instant; a text that fell in doubt later than this rests a while
    now, lease_until : aware UTC instants
    claim : token of this round, new each time
    limit : how many texts at most
    gateway : only texts that this gateway was given, since no other knows their reference

    Returns
    -------
    the notices that are ours now
    """
    stands = notices.alias("stands")
    rests = and_(
        stands.c.attempt_id == attempts.c.id,
        or_(
            stands.c.state != NoticeState.IN_DOUBT.value,
            stands.c.changed_at >= before,
            stands.c.send_at > now,
            stands.c.expires_at <= now,
            and_(stands.c.stage != Stage.REPLY.value, has_stopped(stands.c.phone_id)),
        ),
    )
    in_doubt = notices.c.state == NoticeState.IN_DOUBT.value
    maybe = select(notices.c.attempt_id).where(in_doubt, notices.c.send_at <= now)
    # The attempt is what is locked: a text is then claimed whole, or by somebody else.
    texts = select(attempts.c.id).where(attempts.c.id.in_(maybe), ~exists().where(rests))
    if gateway is not None:
        texts = texts.where(attempts.c.gateway == gateway)
    ours = texts.order_by(attempts.c.id).limit(limit)
    locked = ours.with_for_update(of=attempts, skip_locked=True).cte("ours")
    which = and_(notices.c.attempt_id.in_(select(locked.c.id)), in_doubt)
    return _claimed(c, which, now, claim, lease_until)


def _claimed(
    c: Connection, which: ColumnElement[bool], now: datetime, claim: str, lease_until: datetime
) -> list[ClaimedNotice]:
    taken = (
        update(notices)
        .where(which)
        .values(
            state=NoticeState.CLAIMED.value,
            claim=claim,
            lease_until=lease_until,
            tries=notices.c.tries + 1,
            changed_at=now,
        )
        .returning(notices.c.id)
    )
    return _claimed_notices(c, c.execute(taken).scalars().all())


def _claimed_notices(c: Connection, ids: Sequence[int]) -> list[ClaimedNotice]:
    """What a worker must know of notices just claimed. Index: primary keys."""
    own = [name for name in ClaimedNotice.__slots__ if name in notices.c]
    rows = c.execute(
        select(
            *(notices.c[name] for name in own if name != "number"),
            phones.c.number,
            wards.c.zone,
            attempts.c.client_reference,
            attempts.c.gateway,
            wards.c.name.label("ward"),
            farmers.c.language,
        )
        .select_from(
            notices.join(phones)
            .outerjoin(farmers, notices.c.farmer_id == farmers.c.id)
            .outerjoin(wards, notices.c.ward_id == wards.c.id)
            .outerjoin(attempts, notices.c.attempt_id == attempts.c.id)
        )
        .where(notices.c.id.in_(ids))
        .order_by(*urgency())
    ).mappings()
    return [ClaimedNotice(**row | {"stage": Stage(row["stage"])}) for row in map(dict, rows)]
