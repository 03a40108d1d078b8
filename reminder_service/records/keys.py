"""Keys by which other programs ask us, and what they asked to be done lately."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection, RowMapping, delete, insert, or_, select, update

from reminder_service.records.once import insert_once
from reminder_service.records.open_tables import answered_calls, program_key_wards, program_keys
from reminder_service.records.tables import people, wards
from reminder_service.records.views import Scope

SEEN_EVERY = timedelta(minutes=1)
"""Uses less apart than this are noted as one, so that a read seldom writes (setting)."""


@dataclass(frozen=True, slots=True)
class ProgramKey:
    """One key of another program.

    Attributes
    ----------
    name : what the program is called
    scopes : what it may do
    ward_ids : wards that it sees; None for all
    person_id : who made it
    made_at, expires_at, ended_at, used_at : aware UTC instants
    """

    id: int
    name: str
    scopes: frozenset[str]
    ward_ids: frozenset[int] | None
    person_id: int
    made_at: datetime
    expires_at: datetime
    ended_at: datetime | None
    used_at: datetime | None

    @property
    def scope(self) -> Scope:
        """Wards as the reads of the pages take them."""
        return self.ward_ids

    def is_good(self, at: datetime) -> bool:
        """Whether it opens anything at an instant."""
        return self.ended_at is None and at < self.expires_at


@dataclass(frozen=True, slots=True)
class KeyLine:
    """One key as the page lists it.

    Attributes
    ----------
    wards : names of the wards it sees, between commas; None for all
    made_by : login
    """

    key: ProgramKey
    wards: str | None
    made_by: str


@dataclass(frozen=True, slots=True)
class KnownCall:
    """A write that was asked for under an Idempotency-Key before.

    Attributes
    ----------
    fingerprint : of what was asked
    status, answer : what was answered; None while it is under way
    """

    id: int
    fingerprint: str
    began_at: datetime
    status: int | None
    answer: Any


def add_key(
    c: Connection,
    *,
    name: str,
    key_hash: str,
    scopes: Collection[str],
    ward_ids: Collection[int] | None,
    person_id: int,
    at: datetime,
    expires_at: datetime,
) -> int:
    """Add a key and answer its id.

    Parameters
    ----------
    c : connection of a write transaction
    name : what the program is called
    key_hash : of the key, which itself is never kept
    scopes : what it may do
    ward_ids : wards that it sees; None for all
    person_id : who makes it
    at, expires_at : aware UTC instants
    """
    values = {
        "name": name,
        "key_hash": key_hash,
        "scopes": sorted(scopes),
        "all_wards": ward_ids is None,
        "person_id": person_id,
        "made_at": at,
        "expires_at": expires_at,
    }
    added = insert(program_keys).values(values).returning(program_keys.c.id)
    key_id: int = c.execute(added).scalar_one()
    rows = [{"key_id": key_id, "ward_id": ward_id} for ward_id in sorted(ward_ids or ())]
    if rows:
        c.execute(insert(program_key_wards), rows)
    return key_id


def key_by_hash(c: Connection, key_hash: str) -> ProgramKey | None:
    """The key with a hash. Index: uq_program_keys_key_hash."""
    wanted = select(program_keys).where(program_keys.c.key_hash == key_hash)
    row = c.execute(wanted).mappings().one_or_none()
    return None if row is None else _key(c, row)


def key_lines(c: Connection) -> list[KeyLine]:
    """Every key, the newest first. They are few: the table is read through."""
    rows = c.execute(
        select(program_keys, people.c.login)
        .join(people, program_keys.c.person_id == people.c.id)
        .order_by(program_keys.c.id.desc())
    ).mappings()
    names = {row.id: row.name for row in c.execute(select(wards.c.id, wards.c.name))}
    lines = []
    for row in rows.all():
        key = _key(c, row)
        seen = None if key.ward_ids is None else sorted(names[each] for each in key.ward_ids)
        lines.append(KeyLine(key, None if seen is None else ", ".join(seen), row["login"]))
    return lines


def _key(c: Connection, row: RowMapping) -> ProgramKey:
    theirs = select(program_key_wards.c.ward_id).where(program_key_wards.c.key_id == row["id"])
    return ProgramKey(
        row["id"],
        row["name"],
        frozenset(row["scopes"]),
        None if row["all_wards"] else frozenset(c.execute(theirs).scalars()),
        row["person_id"],
        row["made_at"],
        row["expires_at"],
        row["ended_at"],
        row["used_at"],
    )


def end_key(c: Connection, key_id: int, at: datetime) -> bool:
    """End a key for good; False if there is none that still runs. Index: primary key."""
    running = (program_keys.c.id == key_id, program_keys.c.ended_at.is_(None))
    return c.execute(update(program_keys).where(*running).values(ended_at=at)).rowcount == 1


def note_use(c: Connection, key_id: int, at: datetime) -> None:
    """Note that a key was used, unless that was noted a moment ago. Index: primary key."""
    seldom = or_(program_keys.c.used_at.is_(None), program_keys.c.used_at < at - SEEN_EVERY)
    c.execute(update(program_keys).where(program_keys.c.id == key_id, seldom).values(used_at=at))


def begin_call(
    c: Connection, key_id: int, idempotency_key: str, fingerprint: str, at: datetime
) -> int | None:
    """Take an Idempotency-Key for one write. Index: uq_answered_calls_key_id_idempotency_key.

    Returns
    -------
    id of the call; None if the key was taken before
    """
    values = {
        "key_id": key_id,
        "idempotency_key": idempotency_key,
        "fingerprint": fingerprint,
        "began_at": at,
    }
    return insert_once(c, answered_calls, values)


def known_call(c: Connection, key_id: int, idempotency_key: str) -> KnownCall | None:
    """What was asked before under a key. Index: uq_answered_calls_key_id_idempotency_key."""
    found = c.execute(
        select(answered_calls).where(
            answered_calls.c.key_id == key_id,
            answered_calls.c.idempotency_key == idempotency_key,
        )
    ).one_or_none()
    if found is None:
        return None
    return KnownCall(found.id, found.fingerprint, found.began_at, found.status, found.answer)


def end_call(c: Connection, call_id: int, status: int, answer: object) -> None:
    """Keep what was answered. Index: primary key."""
    values = {"status": status, "answer": answer}
    c.execute(update(answered_calls).where(answered_calls.c.id == call_id).values(values))


def drop_call(c: Connection, call_id: int) -> None:
    """Forget a call that did nothing, so that it can be made again. Index: primary key."""
    c.execute(delete(answered_calls).where(answered_calls.c.id == call_id))


def drop_calls(c: Connection, before: datetime) -> int:
    """Forget calls that began before an instant. Index: ix_answered_calls_began_at."""
    old = answered_calls.c.began_at < before
    return c.execute(delete(answered_calls).where(old)).rowcount
