"""Receipts: kept as they come, matched to the attempt they speak of, in any order."""

from datetime import datetime

from sqlalchemy import Connection, bindparam, insert, or_, select, update

from reminder_service.kinds import NoticeState
from reminder_service.records import tables as t
from reminder_service.records.tables import Outcome

SETTLING = frozenset({NoticeState.DELIVERED.value, NoticeState.UNDELIVERED.value})
"""States of a receipt that are final, and become the notice's own."""

OPEN_TO_RECEIPTS = (NoticeState.HANDED_OVER.value, NoticeState.IN_DOUBT.value)
"""States that a receipt may still settle; any other is final already or not sent at all."""


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
) -> int:
    """Keep one receipt as it came and answer its id; nothing is matched yet.

    Parameters
    ----------
    c : connection of a write transaction
    gateway : name of the route it came by
    reference, client_reference : the carrier's id of the text and ours; one of them is known
    state : what the carrier says
    at, received_at : aware UTC instants
    reason : the carrier's own words, perhaps empty
    """
    kept = insert(t.receipts).values(
        gateway=gateway,
        reference=reference,
        client_reference=client_reference,
        state=state,
        at=at,
        reason=reason,
        received_at=received_at,
    )
    new_id: int = c.execute(kept.returning(t.receipts.c.id)).scalar_one()
    return new_id


def unmatched(c: Connection, since: datetime, limit: int) -> list[int]:
    """Receipts that no attempt was found for yet, oldest first. Index: ix_receipts_unmatched.

    Parameters
    ----------
    c : connection
    since : aware UTC instant; older ones are kept, but no longer looked at
    limit : how many at most
    """
    waiting = select(t.receipts.c.id).where(
        t.receipts.c.attempt_id.is_(None), t.receipts.c.received_at >= since
    )
    return list(c.execute(waiting.order_by(t.receipts.c.id).limit(limit)).scalars())


def match_receipt(c: Connection, receipt_id: int, at: datetime) -> bool:
    """Let a receipt settle the notices of the attempt it speaks of.

    A final state is never moved: a receipt that is repeated or comes late changes nothing. An
    attempt that is still under way is left for the next time. Index:
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
        select(attempts.id, attempts.outcome)
        .where(
            attempts.gateway == receipt.gateway,
            names_it,
            attempts.outcome.in_((Outcome.TAKEN.value, Outcome.UNSURE.value)),
        )
        .order_by(attempts.id.desc())
        .limit(1)
    ).one_or_none()
    if found is None:
        return False
    c.execute(update(t.receipts).where(t.receipts.c.id == receipt_id).values(attempt_id=found.id))
    if receipt.state in SETTLING:
        _settle(c, found.id, receipt.state, receipt.reason or None, at)
    return True


def _settle(c: Connection, attempt_id: int, state: str, reason: str | None, at: datetime) -> None:
    c.execute(
        update(t.notices)
        .where(t.notices.c.attempt_id == attempt_id, t.notices.c.state.in_(OPEN_TO_RECEIPTS))
        .values(state=state, reason=reason, changed_at=at, lease_until=None)
    )
