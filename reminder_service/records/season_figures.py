"""Reads for the figures of a season: tasks done in time, reports, texts and what they cost."""

from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from sqlalchemy import ColumnElement, Connection, Date, and_, case, func, literal, select

from reminder_service.kinds import Kind, NoticeState
from reminder_service.records.tables import (
    attempts,
    farmers,
    notices,
    plots,
    reports,
    seasons,
    spending,
    tasks,
    wards,
)
from reminder_service.records.views import Scope, in_scope, is_replaced

STARTS_SHOWN = 8
"""Seasons that may be chosen, the latest first (setting)."""


@dataclass(frozen=True, slots=True)
class Timeliness:
    """How many tasks were done when.

    Attributes
    ----------
    in_time : reported done on or before the day their window closed
    late : reported done after it
    missed : window closed, not reported done
    ahead : window not closed yet, not reported done
    """

    in_time: int = 0
    late: int = 0
    missed: int = 0
    ahead: int = 0

    def __add__(self, other: "Timeliness") -> "Timeliness":
        """Both together."""
        return Timeliness(
            self.in_time + other.in_time,
            self.late + other.late,
            self.missed + other.missed,
            self.ahead + other.ahead,
        )

    @property
    def over(self) -> int:
        """Tasks of which it is known whether they were done in time."""
        return self.in_time + self.late + self.missed

    @property
    def rate(self) -> float | None:
        """Share done in time of those that are over, 0 to 1; None if none is.

        Examples
        --------
        >>> Timeliness(in_time=3, late=1).rate, Timeliness(ahead=2).rate
        (0.75, None)
        """
        return self.in_time / self.over if self.over else None


@dataclass(frozen=True, slots=True)
class Group:
    """What tasks are counted by."""

    ward_id: int
    language: str
    task: str


def season_starts(c: Connection, scope: Scope) -> list[date]:
    """First days of the seasons that some plot of the scope has, the latest first."""
    rows = c.execute(
        select(seasons.c.starts_on)
        .distinct()
        .select_from(seasons.join(plots))
        .where(*in_scope(plots.c.ward_id, scope))
        .order_by(seasons.c.starts_on.desc())
        .limit(STARTS_SHOWN)
    )
    return list(rows.scalars())


def timeliness(
    c: Connection, scope: Scope, starts_on: date, days: Mapping[str, date]
) -> dict[Group, Timeliness]:
    """Tasks of a season by ward, language and name. Walks the season's tasks once.

    Parameters
    ----------
    c : connection
    scope : wards the person may see
    starts_on : first day of the season
    days : local day in each zone of those wards
    """
    if not days:
        return {}
    day = case({zone: literal(day, Date) for zone, day in days.items()}, value=wards.c.zone)
    done = tasks.c.done_on.is_not(None)
    rows = c.execute(
        select(
            plots.c.ward_id,
            farmers.c.language,
            tasks.c.name,
            _count(and_(done, tasks.c.done_on <= tasks.c.closes_on)),
            _count(and_(done, tasks.c.done_on > tasks.c.closes_on)),
            _count(and_(~done, tasks.c.closes_on < day)),
            _count(and_(~done, tasks.c.closes_on >= day)),
        )
        .select_from(
            tasks.join(seasons)
            .join(plots)
            .join(farmers, plots.c.farmer_id == farmers.c.id)
            .join(wards, plots.c.ward_id == wards.c.id)
        )
        .where(
            seasons.c.starts_on == starts_on,
            tasks.c.waits.is_(False),
            *in_scope(plots.c.ward_id, scope),
        )
        .group_by(plots.c.ward_id, farmers.c.language, tasks.c.name)
    )
    return {Group(*row[:3]): Timeliness(*row[3:]) for row in rows}


def plots_by_ward(c: Connection, scope: Scope, starts_on: date) -> dict[int, int]:
    """How many plots each ward has in a season."""
    rows = c.execute(
        select(plots.c.ward_id, func.count())
        .select_from(seasons.join(plots))
        .where(seasons.c.starts_on == starts_on, *in_scope(plots.c.ward_id, scope))
        .group_by(plots.c.ward_id)
    )
    return {ward_id: count for ward_id, count in rows}


def plots_that_reported(c: Connection, scope: Scope, starts_on: date) -> dict[int, Counter[Kind]]:
    """How many plots of each ward have a standing report of each kind, in a season."""
    rows = c.execute(
        select(plots.c.ward_id, reports.c.kind, func.count(reports.c.season_id.distinct()))
        .select_from(reports.join(seasons).join(plots))
        .where(
            seasons.c.starts_on == starts_on,
            reports.c.on.is_not(None),
            ~is_replaced(),
            *in_scope(plots.c.ward_id, scope),
        )
        .group_by(plots.c.ward_id, reports.c.kind)
    )
    found: defaultdict[int, Counter[Kind]] = defaultdict(Counter)
    for ward_id, kind, count in rows:
        found[ward_id][Kind(kind)] = count
    return dict(found)


def states_by_route(
    c: Connection, scope: Scope, starts_on: date
) -> dict[str, Counter[NoticeState]]:
    """States of a season's notices by the route that last tried them; those never tried left out.

    Index: primary key of attempts.
    """
    rows = c.execute(
        select(attempts.c.gateway, notices.c.state, func.count())
        .select_from(notices.join(seasons).join(attempts))
        .where(seasons.c.starts_on == starts_on, *in_scope(notices.c.ward_id, scope))
        .group_by(attempts.c.gateway, notices.c.state)
    )
    found: defaultdict[str, Counter[NoticeState]] = defaultdict(Counter)
    for route, state, count in rows:
        found[route][NoticeState(state)] = count
    return dict(found)


def spent_between(c: Connection, first: date, before: date) -> tuple[int, int, int]:
    """Texts, segments and cost (thousandths of the money) of all routes on some UTC days.

    Index: primary key.

    Parameters
    ----------
    c : connection
    first, before : UTC days; the second one is left out
    """
    row = c.execute(
        select(
            func.coalesce(func.sum(spending.c.texts), 0),
            func.coalesce(func.sum(spending.c.segments), 0),
            func.coalesce(func.sum(spending.c.cost), 0),
        ).where(spending.c.day >= first, spending.c.day < before)
    ).one()
    return int(row[0]), int(row[1]), int(row[2])


def _count(condition: ColumnElement[bool]) -> ColumnElement[int]:
    return func.count(case((condition, 1)))
