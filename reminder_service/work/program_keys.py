"""Keys for other programs: made and ended by a person, looked up when one is shown."""

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum
from hashlib import sha256
from secrets import token_urlsafe

from reminder_service.records import audit, keys, people
from reminder_service.records.engine import reading, writing
from reminder_service.records.keys import ProgramKey
from reminder_service.records.people import Person
from reminder_service.records.tables import Role
from reminder_service.work.services import Services

BEGINS = "field_"
"""What every key begins with, so that one left lying about is known for what it is."""

LONGEST_LIFE = timedelta(days=730)
"""Longest time until a key expires (setting)."""

KEPT_FOR = timedelta(days=1)
"""How long the answer to an Idempotency-Key is kept (setting)."""


class KeyScope(StrEnum):
    """What a key may let a program do."""

    WARDS_READ = "wards:read"
    FARMERS_READ = "farmers:read"
    PHONES_READ = "phones:read"
    PLOTS_READ = "plots:read"
    REPORTS_READ = "reports:read"
    REPORTS_WRITE = "reports:write"
    NOTICES_READ = "notices:read"
    NOTICES_WRITE = "notices:write"
    RAIN_READ = "rain:read"
    RAIN_WRITE = "rain:write"
    INPUTS_READ = "inputs:read"
    ROUTES_READ = "routes:read"


@dataclass(frozen=True, slots=True)
class Asking:
    """A program that asks, and the person who answers for it.

    Attributes
    ----------
    key : by which it asks
    person : who made the key, under the login that the audit log is to show
    """

    key: ProgramKey
    person: Person


def hash_of(secret: str) -> str:
    """What is kept of a secret that we made: 32 random bytes need no slow hash."""
    return sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()


def make_key(
    services: Services,
    person: Person,
    *,
    name: str,
    scopes: Collection[KeyScope],
    ward_ids: Collection[int] | None,
    expires_at: datetime,
) -> str:
    """Make a key for another program.

    Parameters
    ----------
    services : the services
    person : who makes it and answers for it
    name : what the program is called
    scopes : what it may do
    ward_ids : wards that it sees; None for all
    expires_at : aware UTC instant

    Returns
    -------
    the key, which is shown once and not kept
    """
    secret = BEGINS + token_urlsafe(32)
    now = services.clock()
    with writing(services.engine) as c:
        key_id = keys.add_key(
            c,
            name=name,
            key_hash=hash_of(secret),
            scopes=[scope.value for scope in scopes],
            ward_ids=ward_ids,
            person_id=person.id,
            at=now,
            expires_at=expires_at,
        )
        after = {
            "name": name,
            "scopes": sorted(scopes),
            "wards": None if ward_ids is None else sorted(ward_ids),
            "expires": expires_at.isoformat(),
        }
        audit.note(
            c, at=now, who=person.login, what="make key", subject=f"key {key_id}", after=after
        )
    return secret


def end_key(services: Services, key_id: int, person: Person) -> bool:
    """End a key at once; False if there is none that still runs."""
    now = services.clock()
    with writing(services.engine) as c:
        ended = keys.end_key(c, key_id, now)
        if ended:
            audit.note(c, at=now, who=person.login, what="end key", subject=f"key {key_id}")
    return ended


def asking_by(services: Services, secret: str) -> Asking | None:
    """The program that shows a key, whose use is noted; None if the key opens nothing.

    A key opens nothing once it has ended or expired, or once the person who made it may not log in
    or is programme lead no more.

    Parameters
    ----------
    services : the services
    secret : as it was shown
    """
    now = services.clock()
    with reading(services.engine) as c:
        key = keys.key_by_hash(c, hash_of(secret))
        person = None if key is None else people.person_by_id(c, key.person_id)
    if key is None or person is None or not key.is_good(now):
        return None
    if not person.active or person.role != Role.PROGRAMME_LEAD:
        return None
    if key.used_at is None or key.used_at < now - keys.SEEN_EVERY:
        with writing(services.engine) as c:
            keys.note_use(c, key.id, now)
    return Asking(key, replace(person, login=f"key {key.id} ({key.name})"))


def forget_answers(services: Services) -> int:
    """Drop the answers to Idempotency-Keys that were kept for a day."""
    with writing(services.engine) as c:
        return keys.drop_calls(c, services.clock() - KEPT_FOR)
