"""Reads for the pages: plots, one plot's season, and phones. None of them changes anything.

A scope is the ids of the wards that a person may see; None means all of them.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import (
    ColumnElement,
    Connection,
    RowMapping,
    Select,
    exists,
    select,
)

from reminder_service.kinds import Basis, Kind, SeasonId
from reminder_service.records.tables import (
    farmer_phones,
    farmers,
    people,
    phones,
    plots,
    reports,
    seasons,
    tasks,
    wards,
)
from reminder_service.rules.plan import Task

Scope = Collection[int] | None


@dataclass(frozen=True, slots=True)
class Ward:
    """One ward."""

    id: int
    name: str
    zone: str


@dataclass(frozen=True, slots=True)
class PlotLine:
    """One plot's open season in a list."""

    season_id: SeasonId
    plot_number: str
    farmer_name: str
    stations: int


@dataclass(frozen=True, slots=True)
class SeasonHead:
    """Which plot, whose, where, and under which choices."""

    season_id: SeasonId
    plot_id: int
    plot_number: str
    stations: int
    label: str
    starts_on: date
    rulebook: str
    choices: Mapping[str, str]
    closed_at: datetime | None
    farmer_id: int
    farmer_name: str
    language: str
    ward: Ward


@dataclass(frozen=True, slots=True)
class PhoneLine:
    """One phone and the farmer it serves."""

    id: int
    number: str
    stopped_at: datetime | None
    farmer_name: str
    ward: Ward


@dataclass(frozen=True, slots=True)
class ReportLine:
    """One report as it was made.

    Attributes
    ----------
    by : login of the person who entered it; None if it came by text
    replaced : a later report stands in its place
    detail : what was measured or counted, as plain values; None if nothing was
    """

    id: int
    kind: Kind
    on: date | None
    task: str | None
    number: int | None
    sent_at: datetime
    by: str | None
    replaced: bool
    detail: Mapping[str, object] | None = None


def in_scope(column: ColumnElement[int], scope: Scope) -> list[ColumnElement[bool]]:
    """Condition that keeps a statement inside the wards a person may see."""
    return [] if scope is None else [column.in_(sorted(scope))]


def wards_seen(c: Connection, scope: Scope) -> list[Ward]:
    """Wards of a scope by name. Index: primary key."""
    rows = c.execute(
        select(wards.c.id, wards.c.name, wards.c.zone)
        .where(*in_scope(wards.c.id, scope))
        .order_by(wards.c.name)
    )
    return [Ward(row.id, row.name, row.zone) for row in rows]


def season_is_open() -> ColumnElement[bool]:
    """Whether a season still runs."""
    return seasons.c.closed_at.is_(None)


def is_replaced() -> ColumnElement[bool]:
    """Whether a later report stands in this one's place. Index: replaces_id is unique."""
    later = reports.alias("later")
    return exists().where(later.c.replaces_id == reports.c.id)


def plot_lines(
    c: Connection, ward_id: int, today: date, after: str, late_only: bool, limit: int
) -> list[PlotLine]:
    """Plots of a ward with an open season, by plot number. Index: uq_plots_ward_id_number.

    Parameters
    ----------
    after : plot number that the last page ended with; empty for the first page
    late_only : only plots with a task not done whose due day has gone by
    limit : how many at most
    """
    wanted = (
        select(seasons.c.id, plots.c.number, farmers.c.name, plots.c.stations)
        .select_from(seasons.join(plots).join(farmers, plots.c.farmer_id == farmers.c.id))
        .where(plots.c.ward_id == ward_id, plots.c.number > after, season_is_open())
        .order_by(plots.c.number, seasons.c.id)
        .limit(limit)
    )
    if late_only:
        late = exists().where(
            tasks.c.season_id == seasons.c.id,
            tasks.c.done_on.is_(None),
            tasks.c.waits.is_(False),
            tasks.c.due_on < today,
        )
        wanted = wanted.where(late)
    return [PlotLine(SeasonId(row[0]), *row[1:]) for row in c.execute(wanted)]


def tasks_by_season(
    c: Connection, season_ids: Sequence[SeasonId]
) -> defaultdict[SeasonId, list[Task]]:
    """Tasks of several seasons by due day, in one statement. Index: primary key."""
    rows = c.execute(
        select(tasks)
        .where(tasks.c.season_id.in_(season_ids))
        .order_by(tasks.c.due_on, tasks.c.name, tasks.c.number)
    )
    found: defaultdict[SeasonId, list[Task]] = defaultdict(list)
    for row in rows.mappings():
        found[row["season_id"]].append(_task(row))
    return found


def _task(row: RowMapping) -> Task:
    return Task(
        row["name"],
        row["number"],
        row["opens_on"],
        row["due_on"],
        row["closes_on"],
        Basis(row["basis"]),
        frozenset(row["estimated"]),
        row["because"],
        row["importance"],
        row["done_on"],
        waits=row["waits"],
    )


def reports_by_season(
    c: Connection, season_ids: Sequence[SeasonId]
) -> defaultdict[SeasonId, list[ReportLine]]:
    """Every report of several seasons, oldest first. Index: ix_reports_season_id."""
    rows = c.execute(
        select(
            reports.c.season_id,
            reports.c.id,
            reports.c.kind,
            reports.c.on,
            reports.c.task,
            reports.c.number,
            reports.c.sent_at,
            reports.c.detail,
            people.c.login,
            is_replaced().label("replaced"),
        )
        .select_from(reports.outerjoin(people, reports.c.person_id == people.c.id))
        .where(reports.c.season_id.in_(season_ids))
        .order_by(reports.c.sent_at, reports.c.id)
    )
    found: defaultdict[SeasonId, list[ReportLine]] = defaultdict(list)
    for row in rows:
        line = ReportLine(
            row.id,
            Kind(row.kind),
            row.on,
            row.task,
            row.number,
            row.sent_at,
            row.login,
            bool(row.replaced),
            row.detail,
        )
        found[row.season_id].append(line)
    return found


def season_head(c: Connection, season_id: int, scope: Scope) -> SeasonHead | None:
    """One season with its plot, farmer and ward; None if there is none in the scope."""
    row = c.execute(
        select(
            seasons,
            plots.c.number,
            plots.c.stations,
            plots.c.ward_id,
            plots.c.farmer_id,
            farmers.c.name.label("farmer_name"),
            farmers.c.language,
            wards.c.name.label("ward_name"),
            wards.c.zone,
        )
        .select_from(
            seasons.join(plots)
            .join(farmers, plots.c.farmer_id == farmers.c.id)
            .join(wards, plots.c.ward_id == wards.c.id)
        )
        .where(seasons.c.id == season_id, *in_scope(plots.c.ward_id, scope))
    ).one_or_none()
    if row is None:
        return None
    return SeasonHead(
        SeasonId(row.id),
        row.plot_id,
        row.number,
        row.stations,
        row.label,
        row.starts_on,
        row.rulebook,
        row.choices,
        row.closed_at,
        row.farmer_id,
        row.farmer_name,
        row.language,
        Ward(row.ward_id, row.ward_name, row.zone),
    )


def _phone_lines() -> Select[tuple[object, ...]]:
    return select(
        phones.c.id,
        phones.c.number,
        phones.c.stopped_at,
        farmers.c.name,
        wards.c.id.label("ward_id"),
        wards.c.name.label("ward_name"),
        wards.c.zone,
    ).select_from(
        phones.join(farmer_phones).join(farmers).join(wards, farmers.c.ward_id == wards.c.id)
    )


def _lines(rows: Iterable[RowMapping]) -> list[PhoneLine]:
    return [
        PhoneLine(
            row["id"],
            row["number"],
            row["stopped_at"],
            row["name"],
            Ward(row["ward_id"], row["ward_name"], row["zone"]),
        )
        for row in rows
    ]


def phones_of_farmer(c: Connection, farmer_id: int) -> list[PhoneLine]:
    """Phones of one farmer, as registered. Index: primary key of farmer_phones."""
    rows = c.execute(
        _phone_lines().where(farmer_phones.c.farmer_id == farmer_id).order_by(phones.c.id)
    )
    return _lines(rows.mappings())


def phone_seen(c: Connection, phone_id: int, scope: Scope) -> list[PhoneLine]:
    """One phone with each farmer of the scope that it serves; empty if there is none."""
    rows = c.execute(
        _phone_lines()
        .where(phones.c.id == phone_id, *in_scope(farmers.c.ward_id, scope))
        .order_by(farmers.c.id)
    )
    return _lines(rows.mappings())


def phones_named(c: Connection, scope: Scope, name: str, limit: int) -> list[PhoneLine]:
    """Phones of farmers whose name holds some letters, by name. Index: ix_farmers_ward_id."""
    rows = c.execute(
        _phone_lines()
        .where(farmers.c.name.icontains(name, autoescape=True))
        .where(*in_scope(farmers.c.ward_id, scope))
        .order_by(farmers.c.name, farmers.c.id, phones.c.id)
        .limit(limit)
    )
    return _lines(rows.mappings())
