"""Other programs are told of events: signed calls, repeated with growing waits for a day.

References
----------
Standard Webhooks 1.0.0, standard-webhooks/spec (from memory): headers webhook-id,
webhook-timestamp and webhook-signature; HMAC-SHA256 over ``id.timestamp.body``; secrets of 24 to 64
bytes in base64 after ``whsec_``; 2xx means taken, 410 means stop for good.
"""

import hmac
import logging
from base64 import b64decode, b64encode
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from hashlib import sha256
from secrets import token_bytes
from urllib.parse import urlsplit

from requests import PreparedRequest, Request

from gateways.http.exchange import Exchange, NotSent, Unanswered
from gateways.http.profile import Limits
from reminder_service.errors import ReminderError
from reminder_service.records import audit, hooks
from reminder_service.records.engine import reading, writing
from reminder_service.records.hooks import DueCall, Hook
from reminder_service.records.open_tables import CallState
from reminder_service.records.people import Person
from reminder_service.work.at_once import at_once
from reminder_service.work.locked_secrets import BadLock, locked, unlocked
from reminder_service.work.services import Services

log = logging.getLogger(__name__)

SECRET_BEGINS = "whsec_"  # noqa: S105 - what every secret of the scheme begins with
SECRET_BYTES = 32

WAITS_S = (5, 60, 300, 1_800, 3_600, 7_200, 14_400, 28_800, 28_800)
"""Seconds between two tries of one call, about a day together; then it is given up (setting)."""

LEASE = timedelta(minutes=2)
"""How long a worker has a call before another may make it; longer than a call takes (setting)."""

MOST_AT_ONCE = 50
"""Most calls to one program in one round (setting)."""

KEPT_FOR = timedelta(days=7)
"""How long a call that ended stays on record (setting)."""

LIMITS = Limits(connect_s=5, read_s=10, total_s=20, answer_bytes=4_096)
"""Bounds of one call (setting)."""

GONE = 410


class BadAddress(ReminderError):
    """An address that cannot be told of anything; the message says what is allowed."""


@dataclass(frozen=True, slots=True)
class _Reach:
    """Which addresses may be reached, for the exchange."""

    allow_private_addresses: bool
    limits: Limits = LIMITS
    ca_file: str | None = None


def checked_address(services: Services, url: str) -> str:
    """An address that may be called.

    Names are looked up at each call, and only then is it known whether they are private.

    Raises
    ------
    BadAddress
        It is no address of a program, or one without encryption.
    """
    try:
        parts = urlsplit(url)
        host, _ = parts.hostname, parts.port
    except ValueError:
        raise BadAddress(f'the address "{url[:100]}" cannot be read: give https://…') from None
    schemes = ("https", "http") if services.settings.hooks_to_private else ("https",)
    if parts.scheme not in schemes or not host or len(url) > 400 or parts.username is not None:
        expected = f"{' or '.join(schemes)}:// with a host, no login, at most 400 letters"
        raise BadAddress(f'the address "{url[:100]}" cannot be called: allowed is {expected}')
    return url


def make_hook(
    services: Services,
    person: Person,
    *,
    url: str,
    events: Collection[str],
    ward_ids: Collection[int] | None,
) -> str:
    """Let another program be told of events from now on.

    Parameters
    ----------
    services : the services
    person : who says so
    url : that is called
    events : some of `reminder_service.records.hooks.EVENTS`
    ward_ids : whose events; None for all

    Returns
    -------
    the secret that calls are signed with, which is shown once

    Raises
    ------
    BadAddress
        The address cannot be called.
    """
    checked_address(services, url)
    secret = SECRET_BEGINS + b64encode(token_bytes(SECRET_BYTES)).decode("ascii")
    now = services.clock()
    with writing(services.engine) as c:
        hook_id = hooks.add_hook(
            c,
            url=url,
            events=events,
            ward_ids=ward_ids,
            secret_sealed=locked(services.settings, secret),
            person_id=person.id,
            at=now,
        )
        seen = None if ward_ids is None else sorted(ward_ids)
        after = {"url": url, "events": sorted(events), "wards": seen}
        subject = f"hook {hook_id}"
        audit.note(c, at=now, who=person.login, what="make hook", subject=subject, after=after)
    return secret


def end_hook(services: Services, hook_id: int, person: Person) -> bool:
    """Tell a program nothing any more; False if it is told nothing as it is."""
    now = services.clock()
    with writing(services.engine) as c:
        ended = hooks.end_hook(c, hook_id, f"ended by {person.login}"[:80], now)
        if ended:
            audit.note(c, at=now, who=person.login, what="end hook", subject=f"hook {hook_id}")
    return ended


def signature(secret: str, message_id: str, at: datetime, body: bytes) -> str:
    """What proves that a call is ours, as the header carries it.

    Parameters
    ----------
    secret : with or without its beginning
    message_id : of the call
    at : aware UTC instant of this try
    body : as it is sent
    """
    key = b64decode(secret.removeprefix(SECRET_BEGINS))
    said = f"{message_id}.{int(at.timestamp())}.".encode() + body
    return "v1," + b64encode(hmac.new(key, said, sha256).digest()).decode("ascii")


def tell_hooks(services: Services) -> int:
    """Make the calls that are due, to each program on a thread of its own.

    Returns
    -------
    how many were taken
    """
    now = services.clock()
    with reading(services.engine) as c:
        due = hooks.hooks_due(c, now)
    taken = at_once({f"hook {each.id}": partial(_told, services, each) for each in due})
    with writing(services.engine) as c:
        hooks.drop_calls(c, now - KEPT_FOR)
    return sum(taken.values())


def _told(services: Services, hook: Hook) -> int:
    """Tell one program what is due, until something fails: then the rest waits for a round."""
    exchange = Exchange(_Reach(services.settings.hooks_to_private))
    try:
        for taken in range(MOST_AT_ONCE):
            with writing(services.engine) as c:
                call = hooks.take_call(c, hook.id, services.clock(), LEASE)
            if call is None or not _made(services, exchange, hook, call):
                return taken
        return MOST_AT_ONCE
    finally:
        exchange.close()


def _made(services: Services, exchange: Exchange, hook: Hook, call: DueCall) -> bool:
    """Make one call and note what became of it; False if it was not taken."""
    status, answer = _answer(services, exchange, hook, call)
    now = services.clock()
    with writing(services.engine) as c:
        if status is not None and 200 <= status < 300:
            hooks.call_ended(c, call, CallState.TAKEN, answer, now)
            return True
        if status == GONE:
            hooks.end_hook(c, hook.id, "the program answered 410: it wants no more", now)
        elif call.tries > len(WAITS_S):
            hooks.call_ended(c, call, CallState.GIVEN_UP, answer, now)
        else:
            wait = timedelta(seconds=WAITS_S[call.tries - 1])
            hooks.call_later(c, call, now + wait, answer)
    log.warning("hook %s was not told: %s", hook.id, answer)
    return False


def _answer(
    services: Services, exchange: Exchange, hook: Hook, call: DueCall
) -> tuple[int | None, str]:
    """Status that the program answered, and the answer in words."""
    try:
        request = _request(services, hook, call)
        status = exchange(request).status
    except NotSent:
        return None, "no connection: wrong address, a private one, or nobody there"
    except (Unanswered, BadLock) as fault:
        return None, str(fault).replace("the carrier", "the program")[:200]
    return status, f"answered {status}"


def _request(services: Services, hook: Hook, call: DueCall) -> PreparedRequest:
    now = services.clock()
    body = call.body.encode()
    headers = {
        "Content-Type": "application/json",
        "User-Agent": "field-reminders",
        "webhook-id": call.message_id,
        "webhook-timestamp": str(int(now.timestamp())),
        "webhook-signature": signature(
            unlocked(services.settings, hook.secret_sealed), call.message_id, now, body
        ),
    }
    return Request("POST", hook.url, headers=headers, data=body).prepare()
