"""Traces of a name or number in text columns of any table, found and wiped."""

import re
from collections.abc import Callable, Sequence
from typing import Any

import phonenumbers
import sqlalchemy as sa
from sqlalchemy import Connection, Table, select, update

from reminder_service.records.tables import metadata

Wipe = Callable[[str], str]
"""A text without what must go."""

_BETWEEN = r"[\s()./-]*"


def wiper(
    words: Sequence[str], numbers: Sequence[str], instead: str, *, at_home: bool = False
) -> Wipe:
    """What puts another word in the place of names and of phone numbers, whatever parts the digits.

    Parameters
    ----------
    words : names, as they stand
    numbers : E.164
    instead : what stands there afterwards
    at_home : whether numbers without their country's code are meant too; two countries may have
        the same

    Examples
    --------
    >>> wiped = wiper(["Amina"], ["+447700900001"], "x", at_home=True)
    >>> wiped("Amina: 07700 900-001, 00447700900001")
    'x: x, x'
    """
    known = [rf"(?<!\w){re.escape(word)}(?!\w)" for word in sorted(words, key=len, reverse=True)]
    known += [_as_pattern(number, at_home) for number in numbers]
    if not known:
        return lambda text: text
    pattern = re.compile("|".join(known))
    return lambda text: pattern.sub(instead, text)


def _as_pattern(number: str, at_home: bool) -> str:
    parsed = phonenumbers.parse(number)
    code, rest = str(parsed.country_code), phonenumbers.national_significant_number(parsed)
    before = rf"(?:\+|00)?{code}{_BETWEEN}(?:\(0\))?{_BETWEEN}"
    if at_home:
        before = rf"(?:{before}|0{_BETWEEN})?"
    return rf"(?<!\d){before}{_BETWEEN.join(rest)}(?!\d)"


TELLING = 9
"""Last digits by which rows that may hold a number are found (setting); the pattern decides."""


def wipe_linked(c: Connection, table: Table, linked: sa.ColumnElement[bool], wipe: Wipe) -> int:
    """Wipe every text of the rows linked to somebody; answers how many rows changed."""
    return _wipe(c, table, linked, wipe)


def wipe_elsewhere(c: Connection, numbers: Sequence[str], wipe: Wipe) -> int:
    """Wipe numbers from every text column of every table; each table is read through once."""
    changed = 0
    for table in metadata.sorted_tables:
        columns = _texts(table)
        if columns and numbers:
            ends = [number[-TELLING:] for number in numbers]
            seen = [sa.cast(column, sa.Text).contains(end) for column in columns for end in ends]
            changed += _wipe(c, table, sa.or_(*seen), wipe)
    return changed


def _texts(table: Table) -> list[sa.Column[Any]]:
    """Columns that may hold text, but for keys, which link rows and are made by us."""
    return [
        column
        for column in table.columns
        if isinstance(column.type, sa.String | sa.JSON) and not column.primary_key
    ]


def _wipe(c: Connection, table: Table, which: sa.ColumnElement[bool], wipe: Wipe) -> int:
    columns, keys = _texts(table), list(table.primary_key.columns)
    if not columns:
        return 0
    changed = 0
    for row in c.execute(select(*keys, *columns).where(which)).all():
        before = dict(zip(columns, row[len(keys) :], strict=True))
        after = {column.name: _wiped(value, wipe) for column, value in before.items()}
        if any(after[column.name] != value for column, value in before.items()):
            same = [key == value for key, value in zip(keys, row[: len(keys)], strict=True)]
            c.execute(update(table).where(*same).values(after))
            changed += 1
    return changed


def _wiped(value: Any, wipe: Wipe) -> Any:
    """A value with every text in it wiped; a number that is a phone's is a text too."""
    if isinstance(value, str):
        return wipe(value)
    if isinstance(value, list):
        return [_wiped(each, wipe) for each in value]
    if isinstance(value, dict):
        return {wipe(str(key)): _wiped(each, wipe) for key, each in value.items()}
    if isinstance(value, int) and not isinstance(value, bool) and wipe(str(value)) != str(value):
        return wipe(str(value))
    return value
