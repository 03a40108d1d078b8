"""The dispatcher: claim what is due, find each text its route, hand it over, look after leases."""

from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from datetime import timedelta
from functools import partial
from uuid import uuid4

from sqlalchemy import Connection

from reminder_service.records import phone_weeks, queue
from reminder_service.records.engine import writing
from reminder_service.records.queue import ClaimedNotice
from reminder_service.work.bundles import Bundle, Room, bundles
from reminder_service.work.capping import over_cap
from reminder_service.work.handing_over import Dispatched, hand_over, postponed
from reminder_service.work.prices import tables_of
from reminder_service.work.routes import serving
from reminder_service.work.routing import Letter, outside_hours, routed
from reminder_service.work.services import Services

DOUBT_WAIT = timedelta(minutes=1)
"""How long a notice in doubt rests before a gateway that drops repeats gets it again (setting)."""


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
    total, queued = Dispatched(), Counter[str]()
    while True:
        claim = uuid4().hex
        claimed = _claim(services, claim)
        if not claimed:
            return total
        made = bundles(claimed, partial(_room, services))
        letters, put_off = _addressed(services, claim, made, queued)
        total += put_off + _sent(services, claim, letters)


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
    services: Services, claim: str, made: Sequence[Bundle], queued: Counter[str]
) -> tuple[list[Letter], Dispatched]:
    """Find each bundle its route; what may not go now is put off, what nobody carries refused.

    What is over its phone's cap is taken out. ``queued`` counts texts that wait for each route.
    """
    now = services.clock()
    put_off = Dispatched()
    open_now = []
    with writing(services.engine) as c:
        for bundle in made:
            later = outside_hours(services.settings, bundle.notices[0], now)
            if later is None:
                open_now.append(bundle)
            else:
                put_off += postponed(
                    c, claim, bundle, later, "outside sending hours or on a quiet day"
                )
        open_now = _within_cap(c, services, claim, open_now)
        letters, waiting, unserved = routed(c, services, open_now, now, queued)
        for bundle, at, reason in waiting:
            put_off += postponed(c, claim, bundle, at, reason)
        for bundle in unserved:
            ids = [notice.id for notice in bundle.notices]
            reason = "no route serves this number, ward or language: add one"
            count = queue.refuse(c, notice_ids=ids, claim=claim, reason=reason, at=now)
            put_off += Dispatched(refused=count)
    return letters, put_off


def _within_cap(
    c: Connection, services: Services, claim: str, made: Sequence[Bundle]
) -> list[Bundle]:
    """Take out what a phone would get beyond its cap; answer the rest."""
    now, cap = services.clock(), services.settings.weekly_cap
    held: set[str] = set()
    for bundle, reason in over_cap(c, made, cap, now, partial(_room, services)):
        ids = [notice.id for notice in bundle.notices]
        phone_weeks.hold_back(c, notice_ids=ids, claim=claim, reason=reason, at=now)
        held.add(bundle.reference)
    return [bundle for bundle in made if bundle.reference not in held]


def _room(services: Services, notice: ClaimedNotice) -> Room:
    """What a phone's joined text may take, by the route that this try will probably go by."""
    fitting = serving(services.routes, notice.number, notice.ward, notice.language)
    if fitting:
        route = fitting[(max(notice.tries, 1) - 1) % len(fitting)]
        tables = tables_of(services, route)
        return Room(services.settings.segment_limit if tables else None, tables)
    return Room(services.settings.segment_limit)


def _sent(services: Services, claim: str, letters: Sequence[Letter]) -> Dispatched:
    """Hand the letters over, as many calls at once as each route has connections."""
    calls = list(_calls(services, letters))
    names = {name for name, _ in calls}
    connections = {route.name: route.connections for route in services.routes}
    if sum(connections[name] for name in names) <= 1:
        return sum((hand_over(services, claim, call) for _, call in calls), Dispatched())
    with ExitStack() as stack:
        pools = {
            name: stack.enter_context(ThreadPoolExecutor(connections[name], f"route-{name}"))
            for name in names
        }
        futures = [pools[name].submit(hand_over, services, claim, call) for name, call in calls]
    return sum((future.result() for future in futures), Dispatched())


def _calls(services: Services, letters: Sequence[Letter]) -> Iterator[tuple[str, list[Letter]]]:
    """The letters of each route, as many together as its gateway takes in one call."""
    by_route: dict[str, list[Letter]] = {}
    for letter in letters:
        by_route.setdefault(letter.route, []).append(letter)
    for name, theirs in by_route.items():
        size = services.gateways[name].abilities.batch
        for first in range(0, len(theirs), size):
            yield name, theirs[first : first + size]
