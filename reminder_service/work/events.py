"""What gateways bring in: texts and receipts, kept before they are acknowledged, then worked."""

import logging
from collections.abc import Callable
from datetime import timedelta
from functools import partial

from gateways.errors import TryLater
from gateways.protocol import Event, Incoming, Polled, Receipt
from reminder_service.records import inbound, receipts
from reminder_service.records.engine import reading, writing
from reminder_service.work.at_once import at_once
from reminder_service.work.services import Services

log = logging.getLogger(__name__)

RECEIPT_LIFE = timedelta(days=7)
"""How long a receipt waits for the attempt it speaks of (setting)."""


def keep_event(services: Services, route: str, event: Event) -> None:
    """Keep one event; when this returns it is safe to acknowledge it.

    Parameters
    ----------
    services : the services
    route : name of the route it came by
    event : a text or a receipt
    """
    now = services.clock()
    with writing(services.engine) as c:
        match event:
            case Incoming():
                inbound.keep_inbound(
                    c,
                    gateway=route,
                    message_id=event.message_id,
                    sender=event.sender,
                    body=event.body,
                    sent_at=event.sent_at,
                    received_at=now,
                )
            case Receipt():
                receipts.keep_receipt(
                    c,
                    gateway=route,
                    reference=event.reference,
                    client_reference=event.client_reference,
                    state=event.state.value,
                    at=event.at,
                    reason=event.reason,
                    received_at=now,
                )


def keeper(services: Services, route: str) -> Callable[[Event], None]:
    """What a gateway is given to bring its events to, when it listens or is polled."""

    def keep(event: Event) -> None:
        keep_event(services, route, event)

    return keep


def poll_carriers(services: Services) -> int:
    """Fetch what waits at the carriers that keep texts and receipts until then, all at once.

    Parameters
    ----------
    services : the services

    Returns
    -------
    how many events there were
    """
    polled = {
        name: partial(_polled, services, name, gateway)
        for name, gateway in services.gateways.items()
        if gateway.abilities.polled and isinstance(gateway, Polled)
    }
    return sum(at_once(polled).values())


def _polled(services: Services, route: str, gateway: Polled) -> int:
    try:
        return gateway.poll(keeper(services, route))
    except TryLater as wait:
        # What waits there stays there, and the next round comes soon.
        log.warning(
            "route %s has nothing to fetch now: %s", route, wait.reason, extra={"route": route}
        )
        return 0


def match_receipts(services: Services) -> int:
    """Let the receipts that wait settle their notices, each in a transaction of its own.

    Returns
    -------
    how many found their attempt
    """
    now = services.clock()
    with reading(services.engine) as c:
        waiting = receipts.matchable(c, now - RECEIPT_LIFE, limit=1000)
    found = 0
    for receipt_id in waiting:
        with writing(services.engine) as c:
            found += receipts.match_receipt(c, receipt_id, now)
    return found
