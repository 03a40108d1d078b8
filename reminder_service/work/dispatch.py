"""Hand due notices to the gateways: claim, write the attempt down, send, note the answer."""

import logging
from collections.abc import Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from uuid import uuid4
from zoneinfo import ZoneInfo

from sqlalchemy import Connection

from gateways.errors import Refused, TryLater, Unsure
from gateways.protocol import Outgoing
from reminder_service.records import queue
from reminder_service.records.engine import writing
from reminder_service.records.queue import ClaimedNotice
from reminder_service.records.tables import Outcome
from reminder_service.work.bundles import Bundle, bundles, joined_body
from reminder_service.work.routing import Letter, note_route, outside_hours, routed
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


def dispatch_due(services: Services) -> Dispatched:
    """Send everything that is due now, batch by batch, until nothing is left.

    A batch that a crash cuts short comes back when its lease runs out (`sweep`).

    Parameters
    ----------
    services : database, clock, routes and their gateways, settings

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
        made = bundles(claimed, services.settings.segment_limit)
        letters, put_off = _addressed(services, claim, made)
        total += put_off
        for sent in _sent(services, claim, letters):
            total += sent


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


def _claim(services: Services, claim: str) -> list[ClaimedNotice]:
    """Claim a batch that is due, and texts in doubt whose gateway drops repeats."""
    now = services.clock()
    settings = services.settings
    lease_until = now + timedelta(seconds=settings.lease_s)
    with writing(services.engine) as c:
        found = queue.claim_due(
            c, now=now, claim=claim, lease_until=lease_until, limit=settings.claim_batch
        )
        for name, gateway in services.gateways.items():
            if gateway.abilities.client_reference:
                found += queue.claim_in_doubt(
                    c,
                    gateway=name,
                    before=now - DOUBT_WAIT,
                    now=now,
                    claim=claim,
                    lease_until=lease_until,
                    limit=settings.claim_batch,
                )
    return found


def _addressed(
    services: Services, claim: str, made: Sequence[Bundle]
) -> tuple[list[Letter], Dispatched]:
    """Find each bundle its route; what may not go now is put off, what nobody carries refused."""
    now = services.clock()
    put_off = Dispatched()
    open_now = []
    with writing(services.engine) as c:
        for bundle in made:
            later = outside_hours(services.settings, bundle.notices[0], now)
            if later is None:
                open_now.append(bundle)
            else:
                put_off += _postponed(c, claim, bundle, later, "outside sending hours")
        letters, waiting, unserved = routed(c, services, open_now, now)
        for bundle, at, reason in waiting:
            put_off += _postponed(c, claim, bundle, at, reason)
        for bundle in unserved:
            ids = [notice.id for notice in bundle.notices]
            reason = "no route serves this number, ward or language: add one"
            count = queue.refuse(c, notice_ids=ids, claim=claim, reason=reason, at=now)
            put_off += Dispatched(refused=count)
    return letters, put_off


def _postponed(
    c: Connection, claim: str, bundle: Bundle, send_at: datetime, reason: str
) -> Dispatched:
    zone = ZoneInfo(bundle.notices[0].zone or "UTC")
    queue.postpone(
        c,
        notice_ids=[notice.id for notice in bundle.notices],
        claim=claim,
        send_at=send_at,
        day=send_at.astimezone(zone).date(),
        reason=reason,
    )
    return Dispatched(postponed=len(bundle.notices))


def _sent(services: Services, claim: str, letters: Sequence[Letter]) -> Iterable[Dispatched]:
    """Send the letters, as many at once as each route has connections."""
    connections = {route.name: route.connections for route in services.routes}
    by_route: dict[str, list[Letter]] = {}
    for letter in letters:
        by_route.setdefault(letter.route, []).append(letter)
    if sum(connections[name] for name in by_route) <= 1:
        return [_send(services, claim, letter) for letter in letters]
    with ExitStack() as pools:
        futures = []
        for name, theirs in by_route.items():
            pool = pools.enter_context(ThreadPoolExecutor(connections[name], f"route-{name}"))
            futures += [pool.submit(_send, services, claim, letter) for letter in theirs]
    return [future.result() for future in futures]


def _send(services: Services, claim: str, letter: Letter) -> Dispatched:
    bundle = letter.bundle
    with writing(services.engine) as c:
        begun = queue.begin_attempt(
            c,
            notice_ids=[notice.id for notice in bundle.notices],
            claim=claim,
            gateway=letter.route,
            client_reference=bundle.reference,
            at=services.clock(),
        )
    if begun is None:
        return Dispatched()
    attempt_id, ids = begun
    if len(ids) < len(bundle.notices):
        body = joined_body([notice for notice in bundle.notices if notice.id in set(ids)])
        letter = replace(letter, bundle=replace(bundle, body=body))
    return _hand_over(services, claim, letter, attempt_id)


def _hand_over(services: Services, claim: str, letter: Letter, attempt_id: int) -> Dispatched:
    bundle = letter.bundle
    first = bundle.notices[0]
    expires_at = min(notice.expires_at for notice in bundle.notices)
    message = Outgoing(first.number, bundle.body, bundle.reference, expires_at)
    carrier_reference: str | None = None
    reason: str | None = None
    again_at: datetime | None = None
    try:
        carrier_reference = services.gateways[letter.route].send(message).reference
        outcome = Outcome.TAKEN
    except Refused as refusal:
        outcome, reason = Outcome.REFUSED, refusal.reason
    except TryLater as wait:
        outcome, reason = Outcome.LATER, wait.reason
        again_at = _retry_at(services, letter, wait.after_s)
    except Unsure as doubt:
        outcome, reason = Outcome.UNSURE, doubt.reason
    fared_well = outcome in (Outcome.TAKEN, Outcome.REFUSED)
    if outcome is Outcome.LATER and first.attempt_id is not None:
        # An earlier try may have got through, so this one must not become movable again.
        outcome = Outcome.UNSURE
    elif outcome is Outcome.LATER and again_at is None:
        outcome, reason = Outcome.REFUSED, f"given up after {first.tries} tries: {reason}"
    now = services.clock()
    with writing(services.engine) as c:
        count = queue.end_attempt(
            c,
            attempt_id=attempt_id,
            claim=claim,
            outcome=outcome,
            at=now,
            carrier_reference=carrier_reference,
            reason=reason,
            send_again_at=again_at,
        )
        note_route(c, services, letter.route, now, None if fared_well else reason or "")
    if reason is not None:
        log.warning("attempt %s by %s: %s (%s)", attempt_id, letter.route, outcome.value, reason)
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


def _retry_at(services: Services, letter: Letter, asked_s: float) -> datetime | None:
    """When to try again, inside the hours; None when the tries are used up.

    While there is another route that was not tried yet, that is at once.
    """
    settings, notice = services.settings, letter.bundle.notices[0]
    if notice.tries >= settings.retry_attempts:
        return None
    now = services.clock()
    if notice.tries < letter.routes:
        return now
    wait_s = retry_wait_s(notice.tries, settings.retry_first_s, settings.retry_cap_s, asked_s)
    # A carrier may ask for a wait that no clock can hold; the notice expires long before.
    at = now + timedelta(seconds=min(wait_s, 7 * 86_400))
    return outside_hours(settings, notice, at) or at
