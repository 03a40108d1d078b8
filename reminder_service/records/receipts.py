"""Receipts: kept as they come, matched to the attempt they speak of, in any order."""

from datetime import datetime

from sqlalchemy import Connection, and_, bindparam, exists, insert, or_, select, update

from reminder_service.kinds import NoticeState
from reminder_service.records import tables as t
from reminder_service.records.doubts import settle_as
from reminder_service.records.hooks import note_notices
from reminder_service.records.tables import Outcome, SettledBy

SETTLING = frozenset({NoticeState.DELIVERED.value, NoticeState.UNDELIVERED.value})
"""States of a receipt that are final, and become the notice's own."""


def keep_receipt(
    c: Connection,
    *,
    gateway: str,
    reference: str | None,
    client_reference: str | None,
    state: str,
    at: datetime,
    reason: str,
    received_at: datetime,
    attempt_id: int | None = None,
) -> int:
    """Keep one receipt as it came and answer its id; no notice is moved yet.

    Parameters
    ----------
    c : connection of a write transaction
    gateway : name of the route it came by
    reference, client_reference : the carrier's id of the text and ours; one of them is known
    state : what the carrier says
    at, received_at : aware UTC instants
    reason : the carrier's own words, perhaps empty
    attempt_id : the attempt it speaks of, where that is known because the carrier was asked
    """
    kept = insert(t.receipts).values(
        gateway=gateway,
        reference=reference,
        client_reference=client_reference,
        state=state,
        at=at,
        reason=reason,
        received_at=received_at,
        attempt_id=attempt_id,
    )
    new_id: int = c.execute(kept.returning(t.receipts.c.id)).scalar_one()
    return new_id


def matchable(c: Connection, since: datetime, limit: int) -> list[int]:
    """Receipts whose attempt is known by now but that have not been matched, oldest first.

    Those that no attempt is known for do not stand in the way of the others. Index:
    ix_receipts_unmatched, then ix_attempts_gateway_carrier_reference and
    ix_attempts_client_reference.

    Parameters
    ----------
    c : connection
    since : aware UTC instant; older ones are kept, but no longer looked at
    limit : how many at most
    """
    receipt, attempt = t.receipts.c, t.attempts.c
    same_gateway = attempt.gateway == receipt.gateway
    by_theirs = exists().where(same_gateway, attempt.carrier_reference == receipt.reference)
    by_ours = exists().where(same_gateway, attempt.client_reference == receipt.client_reference)
    waiting = select(receipt.id).where(
        receipt.attempt_id.is_(None), receipt.received_at >= since, or_(by_theirs, by_ours)
    )
    return list(c.execute(waiting.order_by(receipt.id).limit(limit)).scalars())


def match_receipt(c: Connection, receipt_id: int, at: datetime) -> bool:
    """Let a receipt settle the notices of the attempt it speaks of.

    A final state is never moved: a receipt that is repeated or comes late changes nothing. A text
    that is being sent, for the first time or again, is left for the next time. Index:
    ix_attempts_gateway_carrier_reference or ix_attempts_client_reference, then
    ix_notices_attempt_id.

    Parameters
    ----------
    c : connection of a write transaction
    receipt_id : a kept receipt
    at : aware UTC instant

    Returns
    -------
    whether its attempt was found
    """
    receipt = c.execute(select(t.receipts).where(t.receipts.c.id == receipt_id)).one()
    attempts = t.attempts.c
    # A comparison with NULL is never true, so the reference that is not known finds nothing.
    names_it = or_(
        attempts.carrier_reference == bindparam("reference", receipt.reference),
        attempts.client_reference == bindparam("client_reference", receipt.client_reference),
    )
    found = c.execute(
        select(attempts.id, attempts.client_reference)
        .where(
            attempts.gateway == receipt.gateway,
            names_it,
            attempts.outcome.in_((Outcome.TAKEN.value, Outcome.UNSURE.value)),
        )
        .order_by(attempts.id.desc())
        .limit(1)
        # Whoever would send the text again locks its attempt first: here that has to wait.
        .with_for_update()
    ).one_or_none()
    if found is None or _is_being_sent(c, receipt.gateway, found.client_reference):
        return False
    c.execute(update(t.receipts).where(t.receipts.c.id == receipt_id).values(attempt_id=found.id))
    take_word(
        c,
        found.id,
        receipt.state,
        by=SettledBy.RECEIPT,
        who=f"route {receipt.gateway}",
        at=at,
        reason=receipt.reason or None,
        reference=receipt.reference,
    )
    return True


def _is_being_sent(c: Connection, gateway: str, client_reference: str) -> bool:
    """Whether a worker has the notices of a text."""
    claimed = (
        select(t.notices.c.id)
        .join(t.attempts, t.notices.c.attempt_id == t.attempts.c.id)
        .where(
            t.attempts.c.client_reference == client_reference,
            t.attempts.c.gateway == gateway,
            t.notices.c.state == NoticeState.CLAIMED.value,
        )
    )
    return c.execute(claimed.limit(1)).one_or_none() is not None


def take_word(
    c: Connection,
    attempt_id: int,
    state: str,
    *,
    by: SettledBy,
    who: str,
    at: datetime,
    reason: str | None,
    reference: str | None,
) -> int:
    """Let a carrier's word on a text move its notices, unless their state is final already.

    A text in doubt is settled by it: delivered, undelivered, or handed over when it is under way.
    Index: primary key, ix_notices_attempt_id.

    Parameters
    ----------
    c : connection of a write transaction
    attempt_id : the attempt it speaks of
    state : what the carrier says
    by : how we came to know
    who : name of what acts, for the audit log
    at : aware UTC instant
    reason : the carrier's own words
    reference : the carrier's id of the text, kept if it was not known

    Returns
    -------
    how many notices were moved
    """
    if reference is not None:
        unknown = and_(t.attempts.c.id == attempt_id, t.attempts.c.carrier_reference.is_(None))
        c.execute(update(t.attempts).where(unknown).values(carrier_reference=reference))
    final = state in SETTLING
    if final:
        handed_over = t.notices.c.state == NoticeState.HANDED_OVER.value
        moved = (
            update(t.notices)
            .where(t.notices.c.attempt_id == attempt_id, handed_over)
            .values(state=state, reason=reason, changed_at=at)
            .returning(t.notices.c.id)
        )
        ids = c.execute(moved).scalars().all()
        if ids:
            return len(note_notices(c, ids, at))
    settled = NoticeState(state) if final else NoticeState.HANDED_OVER
    return len(settle_as(c, attempt_id, settled, by=by, who=who, at=at, reason=reason))
