"""One-time codes as a second factor, and recovery codes for a lost phone.

References
----------
RFC 6238, TOTP: HMAC-SHA-1, steps of 30 seconds, six digits, a code is taken once (section 5.2).
"""

import hmac
from base64 import b32encode
from dataclasses import dataclass
from datetime import datetime
from secrets import token_bytes

import pyotp
from sqlalchemy import Connection

from reminder_service.records import audit, factors, people
from reminder_service.records.engine import reading, writing
from reminder_service.records.people import Person
from reminder_service.work.locked_secrets import locked, unlocked
from reminder_service.work.program_keys import hash_of
from reminder_service.work.services import Services

STEP_S = 30
NEIGHBOURS = (0, -1, 1)
"""Steps beside the present one whose codes are taken too, for clocks that differ (setting)."""

RECOVERY_CODES = 8
"""How many are made (setting)."""


@dataclass(frozen=True, slots=True)
class Enrolment:
    """What a code program needs, shown while a second factor is set up.

    Attributes
    ----------
    secret : in base 32
    address : the same for a program that reads pictures
    """

    secret: str
    address: str


def begin(services: Services, person: Person) -> bool:
    """Make a new secret, which counts once it is confirmed; False if a confirmed one stands."""
    with writing(services.engine) as c:
        kept = locked(services.settings, pyotp.random_base32())
        return factors.begin_factor(c, person.id, kept, services.clock())


def enrolment(services: Services, person: Person) -> Enrolment | None:
    """The secret that waits to be confirmed; None if there is none."""
    with reading(services.engine) as c:
        found = factors.factor_of(c, person.id)
    if found is None or found.confirmed_at is not None:
        return None
    secret = unlocked(services.settings, found.secret_sealed)
    address = pyotp.TOTP(secret).provisioning_uri(
        name=person.login, issuer_name=services.settings.programme
    )
    return Enrolment(secret, address)


def step_of(secret: str, code: str, at: datetime) -> int | None:
    """Time step whose code this is; None if it is of none near the present one.

    Parameters
    ----------
    secret : in base 32
    code : six digits
    at : aware UTC instant
    """
    now = int(at.timestamp()) // STEP_S
    totp = pyotp.TOTP(secret)
    for step in (now + each for each in NEIGHBOURS):
        if hmac.compare_digest(totp.at(step * STEP_S).encode(), code.encode()):
            return step
    return None


def confirm(services: Services, person: Person, code: str) -> list[str] | None:
    """Let a second factor count from now on, if the code is right.

    Every other session of the person ends.

    Returns
    -------
    recovery codes, which are shown once; None if the code is wrong or nothing waits for one
    """
    now = services.clock()
    with writing(services.engine) as c:
        found = factors.factor_of(c, person.id)
        if found is None or found.confirmed_at is not None:
            return None
        step = step_of(unlocked(services.settings, found.secret_sealed), digits(code), now)
        if step is None or not factors.confirm_factor(c, person.id, step, now):
            return None
        made = [_recovery_code() for _ in range(RECOVERY_CODES)]
        factors.set_recovery_codes(c, person.id, [hash_of(plain(each)) for each in made])
        _note(c, services, person.login, person.id, "set up second factor")
    return made


def take_code(services: Services, person_id: int, code: str) -> bool:
    """Use a one-time code or a recovery code; False if it is wrong or was used before.

    Parameters
    ----------
    services : the services
    person_id : who logs in; they have a confirmed second factor
    code : as typed
    """
    now = services.clock()
    with writing(services.engine) as c:
        found = factors.factor_of(c, person_id)
        if found is None or found.confirmed_at is None:
            return False
        secret = unlocked(services.settings, found.secret_sealed)
        step = step_of(secret, digits(code), now)
        if step is not None:
            return factors.use_step(c, person_id, step)
        person = people.person_by_id(c, person_id)
        used = factors.use_recovery_code(c, person_id, hash_of(plain(code)), now)
        if used and person is not None:
            _note(c, services, person.login, person_id, "use recovery code")
        return used


def end(services: Services, person_id: int, who: str) -> bool:
    """Let a person log in without codes; False if they do as it is.

    Parameters
    ----------
    services : the services
    person_id : who has a second factor
    who : login or name of what ends it, for the audit log
    """
    with writing(services.engine) as c:
        ended = factors.end_factor(c, person_id)
        if ended:
            _note(c, services, who, person_id, "end second factor")
    return ended


def digits(code: str) -> str:
    """A one-time code as typed, without what people put between its digits."""
    return "".join(code.split())[:12]


def plain(code: str) -> str:
    """A recovery code as typed, without what stands between its letters."""
    return "".join(each for each in code.upper() if each.isalnum())[:64]


def _recovery_code() -> str:
    """80 random bits in four groups of letters."""
    letters = b32encode(token_bytes(10)).decode("ascii")
    return "-".join(letters[place : place + 4] for place in range(0, 16, 4))


def _note(c: Connection, services: Services, who: str, person_id: int, what: str) -> None:
    audit.note(c, at=services.clock(), who=who, what=what, subject=f"person {person_id}")
