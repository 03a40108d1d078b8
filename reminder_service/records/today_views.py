"""Reads for the page of today: what goes out, what waits, who is late, and what rained."""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise

from sqlalchemy import ColumnElement, Connection, Date, and_, case, func, literal, select

from reminder_service.agronomy.rain_book import Observation
from reminder_service.kinds import NoticeState, SeasonId
from reminder_service.records.queue_rows import DUE
from reminder_service.records.rain import counting_observations
from reminder_service.records.tables import farmers, notices, plots, seasons, tasks, wards
from reminder_service.records.views import Scope, in_scope, season_is_open


@dataclass(frozen=True, slots=True)
class LateTask:
    """One task that is late and can still be done."""

    season_id: SeasonId
    plot_number: str
    farmer_name: str
    ward_name: str
    zone: str
    name: str
    number: int
    due_on: date
    closes_on: date


@dataclass(frozen=True, slots=True)
class HourLoad:
    """Texts of one hour: still to go out, and gone."""

    to_go: int
    gone: int


def states_of_day(c: Connection, scope: Scope, days: Mapping[str, date]) -> Counter[NoticeState]:
    """How many notices of today stand in each state. Index: ix_notices_send_at_id.

    Parameters
    ----------
    c : connection
    scope : wards the person may see; with None, texts that belong to no ward count too
    days : local day in each zone, UTC among them
    """
    day = _day_by_zone(days)
    first, last = min(days.values()), max(days.values())
    rows = c.execute(
        select(notices.c.state, func.count())
        .select_from(notices.outerjoin(wards, notices.c.ward_id == wards.c.id))
        .where(
            notices.c.send_at >= _midnight(first) - timedelta(days=1),
            notices.c.send_at < _midnight(last) + timedelta(days=2),
            notices.c.day == day,
            *in_scope(notices.c.ward_id, scope),
        )
        .group_by(notices.c.state)
    )
    return Counter({NoticeState(state): count for state, count in rows})


def load_by_hour(c: Connection, scope: Scope, edges: Sequence[datetime]) -> list[HourLoad]:
    """Texts between each two instants that follow each other. Index: ix_notices_send_at_id.

    Parameters
    ----------
    c : connection
    scope : wards the person may see
    edges : aware UTC instants in order, at least two
    """
    at, state = notices.c.send_at, notices.c.state
    columns = []
    for start, end in pairwise(edges):
        within = and_(at >= start, at < end)
        columns.append(func.count(case((and_(within, state.in_(DUE)), 1))))
        columns.append(func.count(case((and_(within, notices.c.sent_at.is_not(None)), 1))))
    row = c.execute(
        select(*columns).where(at >= edges[0], at < edges[-1], *in_scope(notices.c.ward_id, scope))
    ).one()
    return [HourLoad(*pair) for pair in zip(row[::2], row[1::2], strict=True)]


def late_tasks(c: Connection, scope: Scope, days: Mapping[str, date], limit: int) -> list[LateTask]:
    """Tasks whose due day has gone by and whose window is still open, by the day it closes.

    Index: ix_tasks_open, walked from today on until there are enough.

    Parameters
    ----------
    c : connection
    scope : wards the person may see
    days : local day in each zone
    limit : how many at most
    """
    day = _day_by_zone(days)
    rows = c.execute(
        select(
            tasks.c.season_id,
            plots.c.number,
            farmers.c.name,
            wards.c.name.label("ward_name"),
            wards.c.zone,
            tasks.c.name.label("task"),
            tasks.c.number.label("round"),
            tasks.c.due_on,
            tasks.c.closes_on,
        )
        .select_from(
            tasks.join(seasons)
            .join(plots)
            .join(farmers, plots.c.farmer_id == farmers.c.id)
            .join(wards, plots.c.ward_id == wards.c.id)
        )
        .where(
            tasks.c.done_on.is_(None),
            tasks.c.waits.is_(False),
            tasks.c.closes_on >= min(days.values()),
            tasks.c.closes_on >= day,
            tasks.c.due_on < day,
            season_is_open(),
            *in_scope(plots.c.ward_id, scope),
        )
        .order_by(tasks.c.closes_on, tasks.c.importance.desc(), tasks.c.season_id)
        .limit(limit)
    )
    return [LateTask(SeasonId(row[0]), *row[1:]) for row in rows]


def rain_by_ward(
    c: Connection, scope: Scope, first: date, last: date
) -> dict[int, list[Observation]]:
    """What counts of the observations of every ward on some local days, both included.

    Index: ix_rain_observations_ward_id_day.
    """
    found: defaultdict[int, list[Observation]] = defaultdict(list)
    for ward_id, observation in counting_observations(c, scope, first, last):
        found[ward_id].append(observation)
    return dict(found)


def _day_by_zone(days: Mapping[str, date]) -> ColumnElement[date]:
    known = {zone: literal(day, Date) for zone, day in days.items()}
    return case(known, value=wards.c.zone, else_=literal(days.get("UTC", min(days.values())), Date))


def _midnight(day: date) -> datetime:
    return datetime.combine(day, time(), UTC)
