"""Whole tables page by page, for files that people take out; inside the wards they may see.

Each page begins after the key that the last one ended with, so that a file of any length is read
in short transactions that hold up nobody.
"""

import json
from collections import defaultdict
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, FromClause, Row, Select, and_, select, tuple_

from reminder_service.records import tables as t
from reminder_service.records.list_tables import vouched_consents
from reminder_service.records.views import Scope, in_scope, is_replaced

Key = tuple[Any, ...]
Cell = str | int | date | datetime | None


@dataclass(frozen=True, slots=True)
class Line:
    """One row of a file.

    Attributes
    ----------
    key : where the next page begins
    cells : under the table's headings
    phones : the numbers in it, which a file may have to mask
    """

    key: Key
    cells: tuple[Cell, ...]
    phones: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Takeable:
    """One table that can be taken out.

    Attributes
    ----------
    what : what its rows are, for people
    headings : of its columns
    phones_at : place of the column that holds the phones, None if there is none
    page : reads a page: connection, scope, key to begin after, most rows
    """

    what: str
    headings: tuple[str, ...]
    phones_at: int | None
    page: Callable[[Connection, Scope, Key | None, int], list[Line]]


def _read(
    c: Connection,
    wanted: Select[Any],
    keys: Sequence[ColumnElement[Any]],
    after: Key | None,
    limit: int,
) -> Sequence[Row[Any]]:
    """Rows after a key, in the order of the key."""
    if after is not None:
        beyond = keys[0] > after[0] if len(keys) == 1 else tuple_(*keys) > tuple_(*after)
        wanted = wanted.where(beyond)
    return c.execute(wanted.order_by(*keys).limit(limit)).all()


def _numbers(c: Connection, farmer_ids: Collection[int]) -> Mapping[int, tuple[str, ...]]:
    """Phones of some farmers, the one that is written to first. Index: primary key."""
    if not farmer_ids:
        return {}
    rows = c.execute(
        select(t.farmer_phones.c.farmer_id, t.phones.c.number)
        .select_from(t.farmer_phones.join(t.phones))
        .where(t.farmer_phones.c.farmer_id.in_(sorted(farmer_ids)))
        .order_by(t.phones.c.id)
    )
    found: defaultdict[int, tuple[str, ...]] = defaultdict(tuple)
    for farmer_id, number in rows:
        found[farmer_id] += (number,)
    return found


def _farmers(c: Connection, scope: Scope, after: Key | None, limit: int) -> list[Line]:
    """Index: primary key."""
    wanted = (
        select(
            t.farmers.c.id,
            t.wards.c.name.label("ward"),
            t.farmers.c.name,
            t.farmers.c.language,
            t.farmers.c.created_at,
            t.newcomers.c.decision,
            vouched_consents.c.import_id,
        )
        .select_from(
            t.farmers.join(t.wards)
            .outerjoin(t.newcomers, t.newcomers.c.farmer_id == t.farmers.c.id)
            .outerjoin(vouched_consents, vouched_consents.c.farmer_id == t.farmers.c.id)
        )
        .where(*in_scope(t.farmers.c.ward_id, scope))
    )
    rows = _read(c, wanted, [t.farmers.c.id], after, limit)
    numbers = _numbers(c, [row.id for row in rows])
    lines = []
    for row in rows:
        came = "by text" if row.decision else f"list {row.import_id}" if row.import_id else ""
        cells = (row.ward, row.name, None, row.language, row.created_at, came, row.decision)
        lines.append(Line((row.id,), cells, numbers.get(row.id, ())))
    return lines


_OWNED = t.plots.join(t.farmers, t.plots.c.farmer_id == t.farmers.c.id).join(
    t.wards, t.plots.c.ward_id == t.wards.c.id
)
_PLOT = (t.wards.c.name.label("ward"), t.plots.c.number.label("plot"), t.farmers.c.name)


def _plots(c: Connection, scope: Scope, after: Key | None, limit: int) -> list[Line]:
    """Index: primary key, then uq_seasons_plot_id_label for the choices of the last season."""
    wanted = (
        select(
            t.plots.c.id,
            *_PLOT,
            t.farmers.c.id.label("farmer_id"),
            t.farmers.c.language,
            t.plots.c.stations,
            t.plots.c.stations_per_ha,
        )
        .select_from(_OWNED)
        .where(*in_scope(t.plots.c.ward_id, scope))
    )
    rows = _read(c, wanted, [t.plots.c.id], after, limit)
    numbers = _numbers(c, {row.farmer_id for row in rows})
    choices = _choices(c, [row.id for row in rows])
    lines = []
    for row in rows:
        chosen = choices.get(row.id, {})
        whose = (row.ward, row.name, None, row.language, row.plot)
        size = (row.stations, f"{row.stations_per_ha}/ha")
        wished = (chosen.get("top-dressing"), chosen.get("maturity"))
        line = Line((row.id,), (*whose, *size, *wished), numbers.get(row.farmer_id, ()))
        lines.append(line)
    return lines


def _choices(c: Connection, plot_ids: Collection[int]) -> dict[int, Mapping[str, str]]:
    """Choices of each plot's latest season."""
    if not plot_ids:
        return {}
    rows = c.execute(
        select(t.seasons.c.plot_id, t.seasons.c.choices)
        .where(t.seasons.c.plot_id.in_(sorted(plot_ids)))
        .order_by(t.seasons.c.starts_on, t.seasons.c.id)
    )
    return {plot_id: choices for plot_id, choices in rows}


_IN_SEASON = t.seasons.join(t.plots).join(t.farmers, t.plots.c.farmer_id == t.farmers.c.id)
_IN_SEASON = _IN_SEASON.join(t.wards, t.plots.c.ward_id == t.wards.c.id)


def _of_seasons(
    c: Connection,
    scope: Scope,
    after: Key | None,
    limit: int,
    source: FromClause,
    keys: Sequence[ColumnElement[Any]],
    columns: Sequence[ColumnElement[Any]],
) -> list[Line]:
    """Rows that belong to a season, each behind its ward, plot, farmer and season."""
    wanted = (
        select(*_PLOT, t.seasons.c.label, *columns, *keys)
        .select_from(source)
        .where(*in_scope(t.plots.c.ward_id, scope))
    )
    rows = _read(c, wanted, keys, after, limit)
    width = len(_PLOT) + 1 + len(columns)
    return [Line(tuple(row[width:]), tuple(map(_cell, row[:width]))) for row in rows]


def _cell(value: object) -> Cell:
    if isinstance(value, dict | list):
        return json.dumps(value, ensure_ascii=False)
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value if value is None or isinstance(value, int | date) else str(value)


def _seasons(c: Connection, scope: Scope, after: Key | None, limit: int) -> list[Line]:
    """Index: primary key."""
    columns = [t.seasons.c[name] for name in ("starts_on", "rulebook", "choices", "planned_at")]
    columns.append(t.seasons.c.closed_at)
    return _of_seasons(c, scope, after, limit, _IN_SEASON, [t.seasons.c.id], columns)


def _tasks(c: Connection, scope: Scope, after: Key | None, limit: int) -> list[Line]:
    """Index: primary key."""
    shown = ("name", "number", "opens_on", "due_on", "closes_on", "basis", "done_on", "because")
    keys = [t.tasks.c[name] for name in ("season_id", "name", "number")]
    source = t.tasks.join(_IN_SEASON, t.tasks.c.season_id == t.seasons.c.id)
    columns = [t.tasks.c[name].label(f"task_{name}") for name in shown]
    return _of_seasons(c, scope, after, limit, source, keys, columns)


def _reports(c: Connection, scope: Scope, after: Key | None, limit: int) -> list[Line]:
    """Index: primary key."""
    source = t.reports.join(_IN_SEASON, t.reports.c.season_id == t.seasons.c.id)
    source = source.outerjoin(t.people, t.reports.c.person_id == t.people.c.id)
    shown = ("kind", "on", "task", "number", "detail", "sent_at")
    columns: list[ColumnElement[Any]] = [t.reports.c[name].label(f"it_{name}") for name in shown]
    columns += [t.people.c.login, is_replaced().label("replaced")]
    return _of_seasons(c, scope, after, limit, source, [t.reports.c.id], columns)


def _notices(c: Connection, scope: Scope, after: Key | None, limit: int) -> list[Line]:
    """Index: primary key."""
    shown = ("task", "number", "stage", "state", "reason", "day", "send_at", "sent_at", "segments")
    notices = t.notices.c
    source = (
        t.notices.join(t.phones, notices.phone_id == t.phones.c.id)
        .outerjoin(t.wards, notices.ward_id == t.wards.c.id)
        .outerjoin(t.farmers, notices.farmer_id == t.farmers.c.id)
        .outerjoin(t.seasons, notices.season_id == t.seasons.c.id)
        .outerjoin(t.plots, t.seasons.c.plot_id == t.plots.c.id)
    )
    wanted = (
        select(
            *_PLOT,
            t.phones.c.number.label("phone"),
            *(notices[name].label(f"it_{name}") for name in shown),
            notices.body,
            notices.id,
        )
        .select_from(source)
        .where(and_(True, *in_scope(notices.ward_id, scope)))
    )
    rows = _read(c, wanted, [notices.id], after, limit)
    return [Line((row.id,), (*row[:3], None, *map(_cell, row[4:-1])), (row.phone,)) for row in rows]


_BEFORE = ("Ward", "Plot number", "Farmer name", "Season")
_FARMER = ("Ward", "Farmer name", "Phones", "Language")

TABLES: Mapping[str, Takeable] = {
    "farmers": Takeable(
        "farmers with their phones and language",
        (*_FARMER, "Registered", "Came", "Decision"),
        2,
        _farmers,
    ),
    "plots": Takeable(
        "plots with their farmers; such a list can also be brought in again",
        (*_FARMER, "Plot number", "Stations", "Spacing", "Top-dressing", "Maturity"),
        2,
        _plots,
    ),
    "seasons": Takeable(
        "seasons with their choices and when they were planned",
        (*_BEFORE, "Starts on", "Rulebook", "Choices", "Planned", "Closed"),
        None,
        _seasons,
    ),
    "tasks": Takeable(
        "tasks with their days, and why each has them",
        (
            *_BEFORE,
            "Task",
            "Round",
            "Opens on",
            "Due on",
            "Closes on",
            "Basis",
            "Done on",
            "Because",
        ),
        None,
        _tasks,
    ),
    "reports": Takeable(
        "reports as they were made, corrected ones too",
        (
            *_BEFORE,
            "Report",
            "On",
            "Task",
            "Round",
            "Detail",
            "Sent",
            "Entered by",
            "Replaced",
        ),
        None,
        _reports,
    ),
    "notices": Takeable(
        "notices with their states and texts",
        (
            "Ward",
            "Plot number",
            "Farmer name",
            "Phone",
            "Task",
            "Round",
            "Stage",
            "State",
            "Reason",
            "Day",
            "Send at",
            "Sent",
            "Segments",
            "Text",
        ),
        3,
        _notices,
    ),
}
"""Every table that can be taken out, by the name of its file. Instants are UTC."""
