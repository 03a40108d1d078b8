"""Reads for the pages: each ward at a glance."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection, Date, and_, case, func, literal, select

from reminder_service.kinds import Kind, NoticeState
from reminder_service.records.tables import notices, plots, reports, seasons, tasks, wards
from reminder_service.records.views import (
    Scope,
    Ward,
    in_scope,
    is_replaced,
    season_is_open,
    wards_seen,
)

NOT_ARRIVED = (NoticeState.UNDELIVERED, NoticeState.REFUSED, NoticeState.IN_DOUBT)
"""States that a coordinator must look at: the farmer has perhaps not read the text."""


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


def _plots_by_ward(c: Connection, scope: Scope) -> dict[int, int]:
    rows = c.execute(
        select(plots.c.ward_id, func.count())
        .select_from(seasons.join(plots))
        .where(season_is_open(), *in_scope(plots.c.ward_id, scope))
        .group_by(plots.c.ward_id)
    )
    return {ward_id: count for ward_id, count in rows}


def _reported_by_ward(c: Connection, scope: Scope) -> dict[tuple[int, Kind], int]:
    rows = c.execute(
        select(plots.c.ward_id, reports.c.kind, func.count(reports.c.season_id.distinct()))
        .select_from(reports.join(seasons).join(plots))
        .where(
            season_is_open(),
            reports.c.kind.in_([Kind.FIRST_RAIN.value, Kind.GERMINATED.value]),
            reports.c.on.is_not(None),
            ~is_replaced(),
            *in_scope(plots.c.ward_id, scope),
        )
        .group_by(plots.c.ward_id, reports.c.kind)
    )
    return {(ward_id, Kind(kind)): count for ward_id, kind, count in rows}


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
            season_is_open(),
            tasks.c.done_on.is_(None),
            tasks.c.waits.is_(False),
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
