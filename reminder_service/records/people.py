"""People who log in, their roles and their wards."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from secrets import token_urlsafe

from sqlalchemy import ColumnElement, Connection, insert, select, update

from reminder_service.records import tables as t
from reminder_service.records.errors import AlreadyThere
from reminder_service.records.once import insert_once
from reminder_service.records.tables import Role


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who may log in.

    Attributes
    ----------
    password_hash : as argon2 writes it, never the password
    session_key : part of every session of theirs; a new one ends them all
    failed_logins : wrong passwords since the last right one
    locked_until : aware UTC instant before which no login is taken
    active : whether they may log in at all
    ward_ids : the wards they look after
    """

    id: int
    login: str
    name: str
    password_hash: str
    role: Role
    session_key: str
    failed_logins: int
    locked_until: datetime | None
    active: bool
    ward_ids: frozenset[int]


def add_person(
    c: Connection,
    *,
    login: str,
    name: str,
    password_hash: str,
    role: Role,
    ward_ids: Sequence[int],
) -> int:
    """Add a person and answer their id. Index: uq_people_login.

    Parameters
    ----------
    c : connection of a write transaction
    login : what they type to log in
    name : as it is shown
    password_hash : as argon2 writes it
    role : what they may see and change
    ward_ids : the wards they look after

    Raises
    ------
    AlreadyThere
        Somebody has that login.
    """
    values = {
        "login": login,
        "name": name,
        "password_hash": password_hash,
        "role": role.value,
        "session_key": token_urlsafe(),
        "active": True,
    }
    person_id = insert_once(c, t.people, values)
    if person_id is None:
        raise AlreadyThere("login", login)
    rows = [{"person_id": person_id, "ward_id": ward_id} for ward_id in dict.fromkeys(ward_ids)]
    if rows:
        c.execute(insert(t.person_wards), rows)
    return person_id


def person_by_login(c: Connection, login: str) -> Person | None:
    """The person with a login. Index: uq_people_login."""
    return _person(c, t.people.c.login == login)


def person_by_id(c: Connection, person_id: int) -> Person | None:
    """The person with an id. Index: primary key."""
    return _person(c, t.people.c.id == person_id)


def _person(c: Connection, which: ColumnElement[bool]) -> Person | None:
    row = c.execute(select(t.people).where(which)).mappings().one_or_none()
    if row is None:
        return None
    looked_after = select(t.person_wards.c.ward_id).where(t.person_wards.c.person_id == row["id"])
    ward_ids = frozenset(c.execute(looked_after).scalars())
    return Person(**dict(row) | {"role": Role(row["role"])}, ward_ids=ward_ids)


def note_login(c: Connection, person_id: int, ok: bool, locked_until: datetime | None) -> None:
    """Note one try to log in. Index: primary key.

    The count is raised in the database, so that tries at the same moment are all counted.

    Parameters
    ----------
    c : connection of a write transaction
    person_id : who
    ok : whether the password was right; the count begins anew
    locked_until : aware UTC instant before which no login is taken; None for at once
    """
    failed = 0 if ok else t.people.c.failed_logins + 1
    c.execute(
        update(t.people)
        .where(t.people.c.id == person_id)
        .values(failed_logins=failed, locked_until=locked_until)
    )


def set_session_key(c: Connection, person_id: int, session_key: str) -> None:
    """Give a person a new session key, which ends every session of theirs. Index: primary key."""
    c.execute(update(t.people).where(t.people.c.id == person_id).values(session_key=session_key))
