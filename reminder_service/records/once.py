"""Insert a row unless its unique key is taken, on both engines and without a race."""

from collections.abc import Mapping

from sqlalchemy import Connection, Table
from sqlalchemy.dialects import postgresql, sqlite


def insert_once(c: Connection, table: Table, values: Mapping[str, object]) -> int | None:
    """Insert one row unless a unique key of the table is taken already.

    Parameters
    ----------
    c : connection of a write transaction
    table : a table with an ``id``
    values : the row without its id

    Returns
    -------
    id of the new row; None if a key was taken and nothing was written
    """
    return c.execute(_once(c, table, values).returning(table.c.id)).scalar_one_or_none()


def insert_once_by(c: Connection, table: Table, values: Mapping[str, object]) -> None:
    """Insert one row of a table that has no ``id``, unless its key is taken already."""
    c.execute(_once(c, table, values))


def _once(
    c: Connection, table: Table, values: Mapping[str, object]
) -> postgresql.Insert | sqlite.Insert:
    insert = postgresql.insert if c.dialect.name == "postgresql" else sqlite.insert
    return insert(table).values(**values).on_conflict_do_nothing()
