"""Hand due notices to the gateway: claim, write the attempt down, send, note the answer."""

import logging
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import groupby
from uuid import NAMESPACE_URL, uuid4, uuid5
from zoneinfo import ZoneInfo

from gateways.errors import Refused, TryLater, Unsure
from gateways.protocol import Outgoing
from reminder_service.kinds import Stage
from reminder_service.records import queue
from reminder_service.records.engine import writing
from reminder_service.records.queue import ClaimedNotice
from reminder_service.records.tables import Outcome
from reminder_service.texts.segments import segments
from reminder_service.work.hours import next_allowed
from reminder_service.work.replan import sending_hours
from reminder_service.work.services import Services

log = logging.getLogger(__name__)

DOUBT_WAIT = timedelta(minutes=1)
"""How long a notice in doubt rests before a gateway that drops repeats gets it again (setting)."""


@dataclass(frozen=True, slots=True)
class Dispatched:
    """How many notices one round brought to which end."""

    handed_over: int = 0
    refused: int = 0
    waiting: int = 0
    in_doubt: int = 0
    postponed: int = 0

    def __add__(self, other: "Dispatched") -> "Dispatched":
        return Dispatched(
            self.handed_over + other.handed_over,
            self.refused + other.refused,
            self.waiting + other.waiting,
            self.in_doubt + other.in_doubt,
            self.postponed + other.postponed,
        )


@dataclass(frozen=True, slots=True)
class Bundle:
    """Notices of one phone that go out as one text.

    Attributes
    ----------
    notices : in the order their bodies are joined
    body : the text
    reference : our id of it; the same members always carry the same one
    """

    notices: tuple[ClaimedNotice, ...]
    body: str
    reference: str


def dispatch_due(services: Services) -> Dispatched:
    """Send everything that is due now, batch by batch, until nothing is left.

    A batch that a crash cuts short comes back when its lease runs out (`sweep`).

    Parameters
    ----------
    services : database, clock, gateway, settings

    Returns
    -------
    counts of notices
    """
    total = Dispatched()
    while True:
        claim = uuid4().hex
        claimed = _claim(services, claim)
        if not claimed:
            return total
        for bundle in bundles(claimed, services.settings.segment_limit):
            total += _send(services, claim, bundle)


def sweep(services: Services) -> tuple[int, int, int]:
    """Bring back lapsed leases and expire what is useless by now.

    Returns
    -------
    notices returned to the queue, put in doubt, expired
    """
    now = services.clock()
    with writing(services.engine) as c:
        returned, doubtful = queue.release_lapsed(c, now)
        expired = queue.expire(c, now)
    return returned, doubtful, expired


def bundles(claimed: Iterable[ClaimedNotice], segment_limit: int) -> list[Bundle]:
    """Join the claimed notices of each phone into as few texts as fit.

    Replies stand alone; a bundle in doubt is put together exactly as it was, so that it keeps
    its reference.

    Parameters
    ----------
    claimed : notices of one claim
    segment_limit : most segments one joined text may have; a single longer notice still goes

    Returns
    -------
    the bundles, replies first, then by what expires first
    """
    made: list[Bundle] = []
    ordered = sorted(claimed, key=lambda n: (n.number, n.attempt_id or 0))
    for (_, attempt), group in groupby(ordered, key=lambda n: (n.number, n.attempt_id or 0)):
        notices = sorted(group, key=lambda n: (n.importance, n.expires_at, n.id))
        if attempt:
            made.append(_bundle(sorted(notices, key=lambda n: n.id)))
        else:
            made.extend(_joined(notices, segment_limit))
    return sorted(made, key=_urgency)


def _joined(notices: Sequence[ClaimedNotice], segment_limit: int) -> list[Bundle]:
    alone = [[notice] for notice in notices if notice.stage is Stage.REPLY]
    groups: list[list[ClaimedNotice]] = []
    for notice in notices:
        if notice.stage is Stage.REPLY:
            continue
        room = next((g for g in groups if _fits([*g, notice], segment_limit)), None)
        if room is None:
            groups.append([notice])
        else:
            room.append(notice)
    # Members stand by id so that a bundle put together again after a crash is the same text.
    return [_bundle(sorted(group, key=lambda n: n.id)) for group in [*alone, *groups]]


def _fits(notices: Sequence[ClaimedNotice], segment_limit: int) -> bool:
    return segments(_body(notices)).segments <= segment_limit


def _body(notices: Sequence[ClaimedNotice]) -> str:
    return "\n".join(notice.body for notice in notices)


def _bundle(notices: Sequence[ClaimedNotice]) -> Bundle:
    members = ",".join(str(notice.id) for notice in notices)
    reference = notices[0].client_reference or uuid5(NAMESPACE_URL, f"notices:{members}").hex
    return Bundle(tuple(notices), _body(notices), reference)


def _urgency(bundle: Bundle) -> tuple[bool, datetime]:
    first = min(bundle.notices, key=lambda n: n.expires_at)
    return (bundle.notices[0].stage is not Stage.REPLY, first.expires_at)


def _claim(services: Services, claim: str) -> list[ClaimedNotice]:
    """Claim a batch that may go out now; what falls outside the hours is put off."""
    now = services.clock()
    settings = services.settings
    lease_until = now + timedelta(seconds=settings.lease_s)
    with writing(services.engine) as c:
        found = queue.claim_due(
            c, now=now, claim=claim, lease_until=lease_until, limit=settings.claim_batch
        )
        if services.gateway.abilities.client_reference:
            found += queue.claim_in_doubt(
                c,
                gateway=services.gateway.name,
                before=now - DOUBT_WAIT,
                now=now,
                claim=claim,
                lease_until=lease_until,
                limit=settings.claim_batch,
            )
        return found


def _outside_hours(services: Services, notice: ClaimedNotice, now: datetime) -> datetime | None:
    """When a notice may go out if not now; replies answer a text just sent and go at any hour."""
    if notice.stage is Stage.REPLY or notice.zone is None:
        return None
    at = next_allowed(now, sending_hours(services.settings, notice.zone))
    return at if at > now else None


def _send(services: Services, claim: str, bundle: Bundle) -> Dispatched:
    now = services.clock()
    later = _outside_hours(services, bundle.notices[0], now)
    if later is not None:
        return _postpone(services, claim, bundle, later)
    with writing(services.engine) as c:
        begun = queue.begin_attempt(
            c,
            notice_ids=[notice.id for notice in bundle.notices],
            claim=claim,
            gateway=services.gateway.name,
            client_reference=bundle.reference,
            at=now,
        )
    if begun is None:
        return Dispatched()
    attempt_id, ids = begun
    if len(ids) < len(bundle.notices):
        bundle = replace(bundle, body=_body([n for n in bundle.notices if n.id in set(ids)]))
    return _hand_over(services, claim, bundle, attempt_id)


def _postpone(services: Services, claim: str, bundle: Bundle, send_at: datetime) -> Dispatched:
    zone = ZoneInfo(bundle.notices[0].zone or "UTC")
    with writing(services.engine) as c:
        queue.postpone(
            c,
            notice_ids=[notice.id for notice in bundle.notices],
            claim=claim,
            send_at=send_at,
            day=send_at.astimezone(zone).date(),
            reason="outside sending hours",
        )
    return Dispatched(postponed=len(bundle.notices))


def _hand_over(services: Services, claim: str, bundle: Bundle, attempt_id: int) -> Dispatched:
    first = bundle.notices[0]
    expires_at = min(notice.expires_at for notice in bundle.notices)
    message = Outgoing(first.number, bundle.body, bundle.reference, expires_at)
    carrier_reference: str | None = None
    reason: str | None = None
    again_at: datetime | None = None
    try:
        carrier_reference = services.gateway.send(message).reference
        outcome = Outcome.TAKEN
    except Refused as refusal:
        outcome, reason = Outcome.REFUSED, refusal.reason
    except TryLater as wait:
        outcome, reason = Outcome.LATER, wait.reason
        again_at = _retry_at(services, first, wait.after_s)
    except Unsure as doubt:
        outcome, reason = Outcome.UNSURE, doubt.reason
    if outcome is Outcome.LATER and first.attempt_id is not None:
        # An earlier try may have got through, so this one must not become movable again.
        outcome = Outcome.UNSURE
    elif outcome is Outcome.LATER and again_at is None:
        outcome, reason = Outcome.REFUSED, f"given up after {first.tries} tries: {reason}"
    with writing(services.engine) as c:
        count = queue.end_attempt(
            c,
            attempt_id=attempt_id,
            claim=claim,
            outcome=outcome,
            at=services.clock(),
            carrier_reference=carrier_reference,
            reason=reason,
            send_again_at=again_at,
        )
    if reason is not None:
        log.warning("attempt %s: %s (%s)", attempt_id, outcome.value, reason)
    return _counted(outcome, count)


def _counted(outcome: Outcome, count: int) -> Dispatched:
    match outcome:
        case Outcome.TAKEN:
            return Dispatched(handed_over=count)
        case Outcome.REFUSED:
            return Dispatched(refused=count)
        case Outcome.LATER:
            return Dispatched(waiting=count)
        case Outcome.UNSURE:
            return Dispatched(in_doubt=count)


def retry_wait_s(tries: int, first_s: float, cap_s: float, asked_s: float) -> float:
    """Seconds to wait before the next try: doubled each time, never less than asked for.

    Parameters
    ----------
    tries : tries made so far, 1 or more
    first_s, cap_s : wait after the first try, and the longest wait
    asked_s : what the gateway asked for

    Returns
    -------
    s

    References
    ----------
    Arithmetic.

    Examples
    --------
    >>> [retry_wait_s(n, 60, 3600, 0) for n in (1, 2, 3, 9)]
    [60.0, 120.0, 240.0, 3600]
    """
    return max(min(first_s * 2.0 ** (tries - 1), cap_s), asked_s)


def _retry_at(services: Services, notice: ClaimedNotice, asked_s: float) -> datetime | None:
    """When to try again, inside the hours; None when the tries are used up."""
    settings = services.settings
    if notice.tries >= settings.retry_attempts:
        return None
    wait_s = retry_wait_s(notice.tries, settings.retry_first_s, settings.retry_cap_s, asked_s)
    now = services.clock()
    # A carrier may ask for a wait that no clock can hold; the notice expires long before.
    at = now + timedelta(seconds=min(wait_s, 7 * 86_400))
    return _outside_hours(services, notice, at) or at
