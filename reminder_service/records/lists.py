"""Lists that people bring: how far each has come, whose turn it is, and their rows."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    and_,
    delete,
    insert,
    literal,
    or_,
    select,
    update,
)

from reminder_service.records.list_rows import fates, forget_rows
from reminder_service.records.list_tables import (
    AT_WORK,
    BEFORE_WRITING,
    Fate,
    ListState,
    import_rows,
    imports,
)
from reminder_service.records.tables import people

WAITING = (ListState.COLUMNS.value, ListState.READY.value)
"""States in which a list waits for its person."""

_ROW = import_rows.c
_JOB = [column for column in imports.c if column.name != "file"]


@dataclass(frozen=True, slots=True)
class ListJob:
    """One list and how far it has come; the file itself is read by `list_file`.

    Attributes
    ----------
    form : what kind of file it is
    sample : a few rows, for choosing the columns; dropped at the end
    headings_row : number of the row that holds the headings
    columns : the field that each column holds, or None
    ward_id : the ward of rows that name none
    language : of new farmers whose row gives none
    whole : whether all rows go in or none
    position : the row that the present state has come to
    total : number of rows; None until all are read
    highest : highest plot number of digits alone by ward id, which is text here
    counts : rows by fate once it has ended
    vouched_by, vouched_words, vouched_at : who says that the farmers agreed
    """

    id: int
    person_id: int | None
    file_name: str
    form: Mapping[str, str]
    headings: Sequence[str]
    sample: Sequence[Sequence[str]]
    headings_row: int
    columns: Sequence[str | None]
    ward_id: int | None
    language: str
    state: ListState
    whole: bool
    position: int
    total: int | None
    highest: Mapping[str, int]
    judged_at: datetime | None
    counts: Mapping[str, int] | None
    vouched_by: str | None
    vouched_words: str | None
    vouched_at: datetime | None
    claim: str | None
    lease_until: datetime | None
    error: str | None
    created_at: datetime
    changed_at: datetime
    ended_at: datetime | None


def add_list(c: Connection, values: Mapping[str, Any], file: bytes, at: datetime) -> int:
    """Keep a list that somebody brings and answer its id.

    Parameters
    ----------
    c : connection of a write transaction
    values : columns of the table that are known by now
    file : as it came
    at : aware UTC instant
    """
    known: dict[str, Any] = {
        "state": ListState.COLUMNS.value,
        "whole": False,
        "position": 0,
        "highest": {},
        "created_at": at,
        "changed_at": at,
    }
    added = insert(imports).values(**known, **values, file=file).returning(imports.c.id)
    id_: int = c.execute(added).scalar_one()
    return id_


def list_job(c: Connection, import_id: int) -> ListJob | None:
    """One list. Index: primary key."""
    row = c.execute(select(*_JOB).where(imports.c.id == import_id)).mappings().one_or_none()
    return None if row is None else _job(dict(row))


def _job(row: Mapping[str, Any]) -> ListJob:
    return ListJob(**{**row, "state": ListState(row["state"])})


def list_file(c: Connection, import_id: int) -> bytes:
    """The file of a list, as it came; empty once its rows are kept. Index: primary key."""
    found = c.execute(select(imports.c.file).where(imports.c.id == import_id)).scalar_one()
    return bytes(found or b"")


def lists_of(c: Connection, person_id: int | None, limit: int) -> list[tuple[ListJob, str | None]]:
    """Lists with who brought them, the last first; those of everybody if no person is given."""
    wanted = (
        select(*_JOB, people.c.name.label("who"))
        .select_from(imports.outerjoin(people, imports.c.person_id == people.c.id))
        .order_by(imports.c.id.desc())
        .limit(limit)
    )
    if person_id is not None:
        wanted = wanted.where(imports.c.person_id == person_id)
    rows = c.execute(wanted).mappings()
    return [(_job({name: row[name] for name in ListJob.__slots__}), row["who"]) for row in rows]


def next_at_work(c: Connection, now: datetime) -> int | None:
    """The oldest list that waits for a worker. Index: ix_imports_at_work."""
    return c.execute(
        select(imports.c.id)
        .where(imports.c.ended_at.is_(None), _waits(now))
        .order_by(imports.c.id)
        .limit(1)
    ).scalar_one_or_none()


def _waits(now: datetime) -> ColumnElement[bool]:
    free = or_(imports.c.lease_until.is_(None), imports.c.lease_until <= now)
    return imports.c.state.in_([state.value for state in AT_WORK]) & free


def claim_list(
    c: Connection, import_id: int, claim: str, now: datetime, lease_until: datetime
) -> bool:
    """Take a list to go on with; False if another worker has it. Index: primary key."""
    taken = (
        update(imports)
        .where(imports.c.id == import_id, _waits(now))
        .values(claim=claim, lease_until=lease_until)
    )
    return c.execute(taken).rowcount == 1


def let_go(c: Connection, import_id: int, claim: str) -> None:
    """Leave a list to the next worker. Index: primary key."""
    c.execute(
        update(imports)
        .where(imports.c.id == import_id, imports.c.claim == claim)
        .values(claim=None, lease_until=None)
    )


def move_list(
    c: Connection, import_id: int, claim: str, during: ListState, at: datetime, **values: Any
) -> bool:
    """Note how far a worker has come with a list. Index: primary key.

    It comes first in the transaction of each step, so that nobody stops the list meanwhile.

    Parameters
    ----------
    c : connection of a write transaction
    import_id, claim : which list, and by which claim
    during : the state that it must still be in
    at : aware UTC instant
    values : what is new

    Returns
    -------
    False if it was stopped, or another worker has taken it over: do nothing then
    """
    held = [imports.c.id == import_id, imports.c.claim == claim, imports.c.state == during.value]
    return c.execute(update(imports).where(*held).values(changed_at=at, **values)).rowcount == 1


def change_list(
    c: Connection, import_id: int, states: Sequence[ListState], at: datetime, **values: Any
) -> bool:
    """A person changes a list, if it is in one of some states. Index: primary key.

    Returns
    -------
    False if it is not, and nothing is changed
    """
    known = imports.c.state.in_([state.value for state in states])
    changed = update(imports).where(imports.c.id == import_id, known)
    return c.execute(changed.values(changed_at=at, **values)).rowcount == 1


def stop_list(c: Connection, import_id: int, at: datetime, error: str | None = None) -> bool:
    """Stop a list of which nothing is written yet; False if it is past that. Index: primary key.

    Of one whose rows go in all or none, nothing is written until all are.
    """
    ended = {"state": ListState.STOPPED.value, "ended_at": at, "error": error}
    free: dict[str, Any] = {"file": None, "sample": [], "claim": None, "lease_until": None}
    before = imports.c.state.in_([state.value for state in BEFORE_WRITING])
    at_once = and_(imports.c.state == ListState.WRITING.value, imports.c.whole)
    stopped = update(imports).where(imports.c.id == import_id, or_(before, at_once))
    return c.execute(stopped.values(changed_at=at, **ended, **free)).rowcount == 1


def break_off(c: Connection, import_id: int, at: datetime, why: str) -> bool:
    """End a list in the middle of its writing: what is in stays, the other rows come back.

    Index: primary key.

    Parameters
    ----------
    c : connection of a write transaction
    import_id : which list
    at : aware UTC instant
    why : what each row that is not taken says

    Returns
    -------
    False if it is not being written piece by piece, and nothing is changed
    """
    writing = [imports.c.state == ListState.WRITING.value, ~imports.c.whole]
    found = update(imports).where(imports.c.id == import_id, *writing)
    ended = {"state": ListState.PLANNING.value, "claim": None, "lease_until": None}
    position = c.execute(
        found.values(changed_at=at, **ended).returning(imports.c.position)
    ).scalar_one_or_none()
    if position is None:
        return False
    rest = [_ROW.import_id == import_id, _ROW.row > position, _ROW.fate != Fate.FAULT.value]
    c.execute(update(import_rows).where(*rest).values(fate=Fate.FAULT.value, says=[why]))
    counts = {fate.value: count for fate, count in fates(c, import_id).items()}
    c.execute(
        update(imports)
        .where(imports.c.id == import_id)
        .values(counts=counts, position=0, error=why)
    )
    return True


def lists_to_forget(c: Connection, *, idle_since: datetime, ended_before: datetime) -> list[int]:
    """Lists that nobody goes on with, and those long ended whose rows are still kept.

    Parameters
    ----------
    c : connection
    idle_since : aware UTC instant; who waits for a person and was last changed before is meant
    ended_before : aware UTC instant
    """
    idle = and_(imports.c.state.in_(WAITING), imports.c.changed_at < idle_since)
    held = select(literal(1)).where(_ROW.import_id == imports.c.id).exists()
    old = and_(imports.c.ended_at <= ended_before, held)
    return list(c.execute(select(imports.c.id).where(or_(idle, old))).scalars())


def forget_list(c: Connection, import_id: int, at: datetime) -> None:
    """Stop a list that still waits for a person, and drop the rows of one that has ended.

    Index: primary key.
    """
    why = "nobody went on with it"
    ended = {"state": ListState.STOPPED.value, "ended_at": at, "file": None, "sample": []}
    states = [ListState(state) for state in WAITING]
    change_list(c, import_id, states, at, error=why, **ended)
    job = list_job(c, import_id)
    if job is not None and job.ended_at is not None:
        forget_rows(c, import_id, faulty_too=True)


def drop_list(c: Connection, import_id: int) -> None:
    """Drop a list that wrote nothing, with all its rows. Index: primary key."""
    forget_rows(c, import_id, faulty_too=True)
    c.execute(delete(imports).where(imports.c.id == import_id))
