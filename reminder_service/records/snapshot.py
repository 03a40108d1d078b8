"""All rows of all tables in a form that both engines share, out and in again.

What goes in is written by the description that came with it, not by today's tables, so that a
backup of an earlier release can be loaded and then brought up to date.
"""

import base64
import json
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from itertools import islice
from pathlib import Path
from typing import Any, cast

import sqlalchemy as sa
from sqlalchemy import Connection, Engine, Table
from sqlalchemy.types import TypeEngine

from reminder_service.records.errors import WrongEngine
from reminder_service.records.tables import metadata
from reminder_service.records.types import Id, Instant

BATCH = 1000
"""Rows read or written at once (setting)."""

VERSION_TABLE = "alembic_version"

Value = str | int | float | bool | None | list[Any] | dict[str, Any]
"""What JSON can hold."""

_TYPES: dict[str, TypeEngine[Any]] = {
    "instant": Instant(),
    "json": sa.JSON(none_as_null=True),
    "whole": Id,
    "real": sa.Double(),
    "day": sa.Date(),
    "bytes": sa.LargeBinary(),
    "text": sa.Text(),
    "yes-no": sa.Boolean(),
}
"""Kinds of columns, and how each is written."""


@dataclass(frozen=True, slots=True)
class Described:
    """One table as a backup describes it.

    Attributes
    ----------
    columns : name and kind of each, in the order of a row's values
    """

    name: str
    columns: tuple[tuple[str, str], ...]

    @property
    def table(self) -> sa.TableClause:
        """Something to write rows to."""
        columns = [sa.column(name, _TYPES[kind]) for name, kind in self.columns]
        return sa.table(self.name, *columns)


def described() -> list[Described]:
    """Every table of this release, those that others refer to first."""
    return [
        Described(
            table.name, tuple((column.name, kind_of(column.type)) for column in table.columns)
        )
        for table in metadata.sorted_tables
    ]


def kind_of(type_: TypeEngine[Any]) -> str:
    """Which of the kinds a column is; a new kind of column must be named here."""
    if isinstance(type_, Instant):
        return "instant"
    for kind, known in (
        ("json", sa.JSON),
        ("yes-no", sa.Boolean),
        ("whole", sa.Integer),
        ("real", sa.Numeric),
        ("day", sa.Date),
        ("bytes", sa.LargeBinary),
        ("text", sa.String),
    ):
        if isinstance(type_, known):
            return kind
    if isinstance(type_, sa.Float):
        return "real"
    raise TypeError(f"column type {type_!r} has no portable kind: name one in records/snapshot.py")


def copied_sqlite(engine: Engine, to: Path) -> None:
    """Copy a live SQLite database by its online backup, and look the copy over.

    Parameters
    ----------
    engine : the live database; others may write to it meanwhile
    to : a file that does not exist yet

    Raises
    ------
    WrongEngine
        The copy is damaged, and so is the database.
    """
    live = engine.raw_connection()
    try:
        source = cast(sqlite3.Connection, live.driver_connection)
        copy = sqlite3.connect(to)
        try:
            source.backup(copy)
            found = [row[0] for row in copy.execute("PRAGMA integrity_check(3)")]
        except sqlite3.DatabaseError as fault:
            found = [str(fault)]
        finally:
            copy.close()
    finally:
        live.close()
    if found != ["ok"]:
        raise WrongEngine("its file", "whole", "; ".join(found), "restore the last good backup")


def unknown_tables(c: Connection) -> list[str]:
    """Tables of the database that this release does not know, sorted."""
    known = {*metadata.tables, VERSION_TABLE}
    return sorted(set(sa.inspect(c).get_table_names()) - known)


def filled_tables(c: Connection) -> list[str]:
    """Tables that hold any row, sorted; the one of the migrations does not count."""
    filled = []
    for name in sorted(set(sa.inspect(c).get_table_names()) - {VERSION_TABLE}):
        first = sa.select(sa.literal(1)).select_from(sa.table(name)).limit(1)
        if c.execute(first).first() is not None:
            filled.append(name)
    return filled


def rows_of(c: Connection, described: Described) -> Iterator[list[Value]]:
    """Every row of one table as JSON can hold it, by primary key; read as they are asked for."""
    table: Table = metadata.tables[described.name]
    kinds = [kind for _, kind in described.columns]
    read = sa.select(table).order_by(*table.primary_key.columns)
    found = c.execute(read.execution_options(yield_per=BATCH))
    for row in found:
        yield [plain(value, kind) for value, kind in zip(row, kinds, strict=True)]


def load_rows(c: Connection, described: Described, rows: Iterator[list[Value]]) -> int:
    """Write rows as they stood, with their ids; answers how many.

    Parameters
    ----------
    c : connection of a write transaction
    described : the table, which is empty
    rows : as `rows_of` gave them

    Raises
    ------
    WrongEngine
        PostgreSQL takes no such row.
    """
    if c.dialect.name == "postgresql":
        count = _copy_in(c, described, rows)
    else:
        count = _insert(c, described, rows)
    _count_on(c, described)
    return count


def _insert(c: Connection, described: Described, rows: Iterator[list[Value]]) -> int:
    count = 0
    while batch := list(islice(rows, BATCH)):
        values = [_row(described.columns, each) for each in batch]
        c.execute(sa.insert(described.table), values)
        count += len(batch)
    return count


def _copy_in(c: Connection, described: Described, rows: Iterator[list[Value]]) -> int:
    """Write rows by COPY: a whole restore takes less than half the time it takes by INSERT."""
    import psycopg  # an extra: whoever has PostgreSQL has it
    from psycopg import sql

    names = sql.SQL(", ").join(sql.Identifier(name) for name, _ in described.columns)
    into = sql.SQL("COPY {} ({}) FROM STDIN").format(sql.Identifier(described.name), names)
    kinds = [kind for _, kind in described.columns]
    driver = cast("psycopg.Connection[tuple[Any, ...]]", c.connection.driver_connection)
    count = 0
    try:
        with driver.cursor() as cursor, cursor.copy(into) as copy:
            for values in rows:
                copy.write_row(list(map(_copied, values, kinds)))
                count += 1
    except psycopg.DataError as fault:
        told = str(fault).partition("\n")[0]
        remedy = "mend that row in the database that was backed up"
        raise WrongEngine(
            f"a row of {described.name}", "text that it takes", told, remedy
        ) from None
    return count


def _copied(value: Value, kind: str) -> object:
    return json.dumps(value) if kind == "json" and value is not None else _in(value, kind)


def row_count(c: Connection, described: Described) -> int:
    """How many rows a table holds."""
    counted: int = c.execute(
        sa.select(sa.func.count()).select_from(sa.table(described.name))
    ).scalar_one()
    return counted


def _count_on(c: Connection, described: Described) -> None:
    """Have PostgreSQL number new rows after those written; SQLite does so by itself."""
    if c.dialect.name != "postgresql" or ("id", "whole") not in described.columns:
        return
    numbers = sa.func.pg_get_serial_sequence(described.name, "id")
    highest = sa.select(sa.func.max(described.table.c.id)).scalar_subquery()
    c.execute(sa.select(sa.func.setval(numbers, highest)).where(highest.is_not(None)))


def _row(columns: Sequence[tuple[str, str]], values: Sequence[Value]) -> Mapping[str, object]:
    pairs = zip(columns, values, strict=True)
    return {name: _in(value, kind) for (name, kind), value in pairs}


def plain(value: Any, kind: str) -> Value:
    """One value as JSON can hold it, by the kind of its column."""
    if value is None:
        return None
    match kind:
        case "instant":
            return cast(datetime, value).astimezone(UTC).isoformat()
        case "day":
            return cast(date, value).isoformat()
        case "bytes":
            return base64.b64encode(value).decode("ascii")
    return cast(Value, value)


def _in(value: Value, kind: str) -> object:
    if value is None:
        return None
    match kind:
        case "instant":
            return datetime.fromisoformat(str(value))
        case "day":
            return date.fromisoformat(str(value))
        case "bytes":
            return base64.b64decode(str(value), validate=True)
    return value
