"""Reads for the pages: wards, plots and one plot's season. None of them changes anything.

A scope is the ids of the wards that a person may see; None means all of them.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import (
    ColumnElement,
    Connection,
    Date,
    RowMapping,
    Select,
    and_,
    case,
    exists,
    func,
    literal,
    select,
)

from reminder_service.kinds import Basis, Kind, NoticeState, SeasonId
from reminder_service.records.tables import (
    farmer_phones,
    farmers,
    notices,
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

NOT_ARRIVED = (NoticeState.UNDELIVERED, NoticeState.REFUSED, NoticeState.IN_DOUBT)
"""States that a coordinator must look at: the farmer has perhaps not read the text."""


@dataclass(frozen=True, slots=True)
class Ward:
    """One ward."""

    id: int
    name: str
    zone: str


@dataclass(frozen=True, slots=True)
class WardLine:
    """One ward at a glance.

    Attributes
    ----------
    plots : plots with an open season
    rain_reported, germination_reported : how many of them have reported it
    open_now : tasks whose window is open today and that are not reported done
    late : tasks not done whose due day has gone by
    missed : those of them whose window has closed
    not_arrived : notices undelivered, refused or in doubt
    """

    ward: Ward
    plots: int
    rain_reported: int
    germination_reported: int
    open_now: int
    late: int
    missed: int
    not_arrived: int


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
    """

    id: int
    kind: Kind
    on: date | None
    task: str | None
    number: int | None
    sent_at: datetime
    by: str | None
    replaced: bool


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


def ward_lines(c: Connection, scope: Scope, today: Mapping[str, date]) -> list[WardLine]:
    """Each ward at a glance, by name, in five statements however many wards there are.

    Parameters
    ----------
    c : connection
    scope : wards the person may see
    today : local day in each zone of `wards_seen`
    """
    seen = wards_seen(c, scope)
    grown = _plots_by_ward(c, scope)
    reported = _reported_by_ward(c, scope)
    work = _tasks_by_ward(c, scope, today) if today else {}
    failed = _not_arrived_by_ward(c, scope)
    return [
        WardLine(
            ward,
            grown.get(ward.id, 0),
            reported.get((ward.id, Kind.FIRST_RAIN), 0),
            reported.get((ward.id, Kind.GERMINATED), 0),
            *work.get(ward.id, (0, 0, 0)),
            failed.get(ward.id, 0),
        )
        for ward in seen
    ]


def _open_seasons() -> ColumnElement[bool]:
    return seasons.c.closed_at.is_(None)


def _plots_by_ward(c: Connection, scope: Scope) -> dict[int, int]:
    rows = c.execute(
        select(plots.c.ward_id, func.count())
        .select_from(seasons.join(plots))
        .where(_open_seasons(), *in_scope(plots.c.ward_id, scope))
        .group_by(plots.c.ward_id)
    )
    return {ward_id: count for ward_id, count in rows}


def _reported_by_ward(c: Connection, scope: Scope) -> dict[tuple[int, Kind], int]:
    rows = c.execute(
        select(plots.c.ward_id, reports.c.kind, func.count(reports.c.season_id.distinct()))
        .select_from(reports.join(seasons).join(plots))
        .where(
            _open_seasons(),
            reports.c.kind.in_([Kind.FIRST_RAIN.value, Kind.GERMINATED.value]),
            reports.c.on.is_not(None),
            ~_is_replaced(),
            *in_scope(plots.c.ward_id, scope),
        )
        .group_by(plots.c.ward_id, reports.c.kind)
    )
    return {(ward_id, Kind(kind)): count for ward_id, kind, count in rows}


def _is_replaced() -> ColumnElement[bool]:
    """Whether a later report stands in this one's place. Index: replaces_id is unique."""
    later = reports.alias("later")
    return exists().where(later.c.replaces_id == reports.c.id)


def _tasks_by_ward(
    c: Connection, scope: Scope, today: Mapping[str, date]
) -> dict[int, tuple[int, int, int]]:
    days = {zone: literal(day, Date) for zone, day in today.items()}
    day = case(days, value=wards.c.zone)
    one = literal(1)
    rows = c.execute(
        select(
            wards.c.id,
            func.count(case((and_(tasks.c.closes_on >= day), one))),
            func.count(case((tasks.c.due_on < day, one))),
            func.count(case((tasks.c.closes_on < day, one))),
        )
        .select_from(tasks.join(seasons).join(plots).join(wards, plots.c.ward_id == wards.c.id))
        .where(
            _open_seasons(),
            tasks.c.done_on.is_(None),
            tasks.c.opens_on <= day,
            *in_scope(wards.c.id, scope),
        )
        .group_by(wards.c.id)
    )
    return {ward_id: (now, late, missed) for ward_id, now, late, missed in rows}


def _not_arrived_by_ward(c: Connection, scope: Scope) -> dict[int, int]:
    """Index: ix_notices_state_send_at_id, which the few failures stand in together.

    The ward is grouped and sieved only after that walk: its own index would lead through all.
    """
    failed = (
        select(func.coalesce(notices.c.ward_id, 0).label("ward_id"))
        .where(notices.c.state.in_([state.value for state in NOT_ARRIVED]))
        .subquery()
    )
    rows = c.execute(
        select(failed.c.ward_id, func.count())
        .where(*in_scope(failed.c.ward_id, scope))
        .group_by(failed.c.ward_id)
    )
    return {ward_id: count for ward_id, count in rows}


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
        .where(plots.c.ward_id == ward_id, plots.c.number > after, _open_seasons())
        .order_by(plots.c.number, seasons.c.id)
        .limit(limit)
    )
    if late_only:
        late = exists().where(
            tasks.c.season_id == seasons.c.id, tasks.c.done_on.is_(None), tasks.c.due_on < today
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
            people.c.login,
            _is_replaced().label("replaced"),
        )
        .select_from(reports.outerjoin(people, reports.c.person_id == people.c.id))
        .where(reports.c.season_id.in_(season_ids))
        .order_by(reports.c.sent_at, reports.c.id)
    )
    found: defaultdict[SeasonId, list[ReportLine]] = defaultdict(list)
    for season_id, id_, kind, *rest, replaced in rows:
        found[season_id].append(ReportLine(id_, Kind(kind), *rest, bool(replaced)))
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
