"""Second factors of people: the secret of their one-time codes, and recovery codes."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, delete, func, insert, select, update

from reminder_service.records.open_tables import recovery_codes, second_factors


@dataclass(frozen=True, slots=True)
class SecondFactor:
    """What a person's one-time codes are made of.

    Attributes
    ----------
    secret_sealed : never the secret itself
    confirmed_at : aware UTC instant of the first right code; None if none was given yet
    last_step : time step of the last code used
    """

    person_id: int
    secret_sealed: str
    confirmed_at: datetime | None
    last_step: int


def factor_of(c: Connection, person_id: int) -> SecondFactor | None:
    """The second factor of a person, confirmed or not. Index: primary key."""
    f = second_factors.c
    wanted = select(f.person_id, f.secret_sealed, f.confirmed_at, f.last_step)
    row = c.execute(wanted.where(f.person_id == person_id)).one_or_none()
    return None if row is None else SecondFactor(*row)


def is_confirmed(c: Connection, person_id: int) -> bool:
    """Whether a person logs in with one-time codes. Index: primary key."""
    found = factor_of(c, person_id)
    return found is not None and found.confirmed_at is not None


def begin_factor(c: Connection, person_id: int, secret_sealed: str, at: datetime) -> bool:
    """Keep a new secret that is to be confirmed; False if a confirmed one stands.

    Index: primary key.
    """
    if is_confirmed(c, person_id):
        return False
    c.execute(delete(second_factors).where(second_factors.c.person_id == person_id))
    values = {"person_id": person_id, "secret_sealed": secret_sealed, "made_at": at}
    c.execute(insert(second_factors).values(values))
    return True


def confirm_factor(c: Connection, person_id: int, step: int, at: datetime) -> bool:
    """Note that the first code was right; False if that was noted before. Index: primary key."""
    mine = (second_factors.c.person_id == person_id, second_factors.c.confirmed_at.is_(None))
    confirmed = update(second_factors).where(*mine).values(confirmed_at=at, last_step=step)
    return c.execute(confirmed).rowcount == 1


def use_step(c: Connection, person_id: int, step: int) -> bool:
    """Use the code of a time step; False if it, or a later one, was used. Index: primary key."""
    unused = (second_factors.c.person_id == person_id, second_factors.c.last_step < step)
    return c.execute(update(second_factors).where(*unused).values(last_step=step)).rowcount == 1


def set_recovery_codes(c: Connection, person_id: int, hashes: Collection[str]) -> None:
    """Give a person new recovery codes in the place of all they had."""
    c.execute(delete(recovery_codes).where(recovery_codes.c.person_id == person_id))
    rows = [{"person_id": person_id, "code_hash": each} for each in hashes]
    c.execute(insert(recovery_codes), rows)


def use_recovery_code(c: Connection, person_id: int, code_hash: str, at: datetime) -> bool:
    """Use a recovery code; False if there is none such unused.

    Index: uq_recovery_codes_person_id_code_hash.
    """
    r = recovery_codes.c
    unused = (r.person_id == person_id, r.code_hash == code_hash, r.used_at.is_(None))
    return c.execute(update(recovery_codes).where(*unused).values(used_at=at)).rowcount == 1


def recovery_codes_left(c: Connection, person_id: int) -> int:
    """How many recovery codes a person has not used."""
    r = recovery_codes.c
    left = select(func.count()).where(r.person_id == person_id, r.used_at.is_(None))
    return int(c.execute(left).scalar_one())


def end_factor(c: Connection, person_id: int) -> bool:
    """Let a person log in without codes; False if they do. Index: primary key."""
    c.execute(delete(recovery_codes).where(recovery_codes.c.person_id == person_id))
    mine = second_factors.c.person_id == person_id
    return c.execute(delete(second_factors).where(mine)).rowcount == 1
