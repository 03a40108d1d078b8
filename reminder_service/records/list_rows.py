"""Rows of a list that somebody brings: as they came, and what becomes of each."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, bindparam, delete, func, insert, select, update

from reminder_service.kinds import SeasonId
from reminder_service.records.list_tables import WRITTEN, Fate, import_phones, import_rows
from reminder_service.records.tables import seasons

_ROW = import_rows.c


@dataclass(frozen=True, slots=True)
class Judged:
    """What becomes of one row.

    Attributes
    ----------
    says : why, or what changes, a sentence each
    farmer_id, plot_id, season_id : those that are known
    first_row : the earlier row that brings the same new farmer
    place : which of the farmer's rows without plot number it is
    phones : the numbers that the farmer gets
    before, after : values that change
    """

    row: int
    fate: Fate
    says: tuple[str, ...] = ()
    ward_id: int | None = None
    farmer_id: int | None = None
    first_row: int | None = None
    plot_id: int | None = None
    season_id: int | None = None
    name: str | None = None
    language: str | None = None
    number: str | None = None
    place: int | None = None
    stations: int | None = None
    stations_per_ha: int | None = None
    choices: Mapping[str, str] | None = None
    opens_season: bool = False
    phones: tuple[str, ...] = ()
    before: Mapping[str, object] | None = None
    after: Mapping[str, object] | None = None


@dataclass(frozen=True, slots=True)
class ListRow:
    """One row of a list as it came, with what becomes of it."""

    row: int
    cells: Sequence[str]
    fate: Fate | None
    says: Sequence[str]
    place: int | None
    number: str | None
    season_id: int | None


@dataclass(frozen=True, slots=True)
class TouchedSeason:
    """A season that a row of a list opened or changed.

    Attributes
    ----------
    is_new : the row opened it
    knows : ward and choices, which are all that a new season's plan rests on
    """

    row: int
    season_id: SeasonId
    is_new: bool
    knows: str


_LIST_ROW = [_ROW[name] for name in ListRow.__slots__]
_JUDGED = tuple(name for name in Judged.__slots__ if name not in ("row", "phones"))


def keep_rows(c: Connection, import_id: int, rows: Sequence[tuple[int, Sequence[str]]]) -> None:
    """Keep some rows as they came: the number of each, and its cells."""
    c.execute(
        insert(import_rows),
        [
            {
                "import_id": import_id,
                "row": number,
                "cells": list(cells),
                "says": [],
                "opens_season": False,
            }
            for number, cells in rows
        ],
    )


def rows_after(
    c: Connection, import_id: int, after: int, limit: int, fate: Fate | None = None
) -> list[ListRow]:
    """Rows of a list in order. Index: primary key, or ix_import_rows_import_id_fate_row.

    Parameters
    ----------
    c : connection
    import_id : which list
    after : number of the row before the first
    limit : how many at most
    fate : only those; None for all
    """
    wanted = (
        select(*_LIST_ROW)
        .where(_ROW.import_id == import_id, _ROW.row > after)
        .order_by(_ROW.row)
        .limit(limit)
    )
    if fate is not None:
        wanted = wanted.where(_ROW.fate == fate.value)
    return [
        ListRow(**{**row, "fate": row["fate"] and Fate(row["fate"])})
        for row in c.execute(wanted).mappings()
    ]


def keep_judged(c: Connection, import_id: int, judged: Sequence[Judged]) -> None:
    """Keep what becomes of some rows. Index: primary key."""
    change = (
        update(import_rows)
        .where(_ROW.import_id == bindparam("of_list"), _ROW.row == bindparam("of_row"))
        .values({name: bindparam(name) for name in _JUDGED})
    )
    c.execute(change, [_judged_values(import_id, row) for row in judged])
    first, last = judged[0].row, judged[-1].row
    phones = import_phones.c
    c.execute(
        delete(import_phones).where(phones.import_id == import_id, phones.row.between(first, last))
    )
    given = [
        {"import_id": import_id, "row": row.row, "place": place, "number": number}
        for row in judged
        if row.fate in WRITTEN
        for place, number in enumerate(row.phones)
    ]
    if given:
        c.execute(insert(import_phones), given)


def _judged_values(import_id: int, row: Judged) -> dict[str, Any]:
    values = {name: getattr(row, name) for name in _JUDGED}
    return values | {
        "of_list": import_id,
        "of_row": row.row,
        "fate": row.fate.value,
        "says": list(row.says),
        "before": row.before or None,
        "after": row.after or None,
    }


def fates(c: Connection, import_id: int) -> dict[Fate, int]:
    """How many rows there are of each fate. Index: ix_import_rows_import_id_fate_row."""
    rows = c.execute(
        select(_ROW.fate, func.count())
        .where(_ROW.import_id == import_id, _ROW.fate.is_not(None))
        .group_by(_ROW.fate)
    )
    return {Fate(fate): count for fate, count in rows}


def seasons_after(c: Connection, import_id: int, after: int, limit: int) -> list[TouchedSeason]:
    """Seasons that rows of a list opened or changed, by row. Index: primary key."""
    rows = c.execute(
        select(_ROW.row, _ROW.season_id, _ROW.opens_season, _ROW.ward_id, _ROW.choices)
        .where(
            _ROW.import_id == import_id,
            _ROW.row > after,
            _ROW.season_id.is_not(None),
            _ROW.fate.in_([fate.value for fate in WRITTEN]),
        )
        .order_by(_ROW.row)
        .limit(limit)
    )
    return [
        TouchedSeason(
            row[0], SeasonId(row[1]), row[2], f"{row[3]} {sorted((row[4] or {}).items())}"
        )
        for row in rows
    ]


def mark_all_planned(
    c: Connection, season_ids: Sequence[SeasonId], rulebook: str, at: datetime
) -> None:
    """Note that new seasons are planned, unless somebody has planned them. Index: primary key."""
    if season_ids:
        c.execute(
            update(seasons)
            .where(seasons.c.id.in_(season_ids), seasons.c.planned_at.is_(None))
            .values(rulebook=rulebook, planned_at=at)
        )


def forget_rows(c: Connection, import_id: int, *, faulty_too: bool) -> None:
    """Drop what was kept of a list's rows. Index: primary key.

    Parameters
    ----------
    c : connection of a write transaction
    import_id : which list
    faulty_too : False keeps the rows that were not taken, so that they can be fetched
    """
    c.execute(delete(import_phones).where(import_phones.c.import_id == import_id))
    gone = delete(import_rows).where(_ROW.import_id == import_id)
    if not faulty_too:
        gone = gone.where(_ROW.fate != Fate.FAULT.value)
    c.execute(gone)
