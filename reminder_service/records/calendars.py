"""Links to calendars, and the tasks that stand in one."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from sqlalchemy import ColumnElement, Connection, insert, or_, select, update

from reminder_service.records.open_tables import calendar_links
from reminder_service.records.tables import people, plots, seasons, tasks, wards

SEEN_EVERY = timedelta(minutes=10)
"""Uses less apart than this are noted as one (setting)."""


@dataclass(frozen=True, slots=True)
class CalendarLink:
    """One secret link, of a ward or of a plot.

    Attributes
    ----------
    made_by : login
    made_at, used_at : aware UTC instants
    """

    id: int
    ward_id: int | None
    plot_id: int | None
    person_id: int
    made_by: str
    made_at: datetime
    used_at: datetime | None


@dataclass(frozen=True, slots=True)
class CalendarTask:
    """One task as a calendar shows it; days are local to the ward.

    Attributes
    ----------
    planned_at : aware UTC instant of the plan that it comes from
    """

    season_id: int
    plot_number: str
    name: str
    number: int
    opens_on: date
    due_on: date
    closes_on: date
    done_on: date | None
    estimated: bool
    because: str
    planned_at: datetime


def add_link(c: Connection, values: dict[str, Any]) -> None:
    """Add a link to the calendar of a ward or a plot."""
    c.execute(insert(calendar_links).values(values))


def links_of(
    c: Connection, *, ward_id: int | None = None, plot_id: int | None = None
) -> list[CalendarLink]:
    """Links of one ward or one plot that still work. Index: those of the two columns."""
    return _links(c, _of_one(ward_id, plot_id))


def link_by_hash(c: Connection, key_hash: str) -> CalendarLink | None:
    """The link with a hash, if it still works. Index: uq_calendar_links_key_hash."""
    found = _links(c, calendar_links.c.key_hash == key_hash)
    return found[0] if found else None


def _of_one(ward_id: int | None, plot_id: int | None) -> ColumnElement[bool]:
    if plot_id is not None:
        return calendar_links.c.plot_id == plot_id
    return calendar_links.c.ward_id == ward_id


def _links(c: Connection, which: ColumnElement[bool]) -> list[CalendarLink]:
    l_ = calendar_links.c
    rows = c.execute(
        select(l_.id, l_.ward_id, l_.plot_id, l_.person_id, people.c.login, l_.made_at, l_.used_at)
        .join(people, l_.person_id == people.c.id)
        .where(which, l_.ended_at.is_(None))
        .order_by(l_.id)
    )
    return [CalendarLink(*row) for row in rows]


def end_link(
    c: Connection, link_id: int, at: datetime, *, ward_id: int | None, plot_id: int | None
) -> bool:
    """End a link of a ward or plot; False if it has none such. Index: primary key."""
    works = (calendar_links.c.id == link_id, calendar_links.c.ended_at.is_(None))
    ended = update(calendar_links).where(*works, _of_one(ward_id, plot_id)).values(ended_at=at)
    return c.execute(ended).rowcount == 1


def note_use(c: Connection, link_id: int, at: datetime) -> None:
    """Note that a link was used, unless that was noted a moment ago. Index: primary key."""
    used_at = calendar_links.c.used_at
    seldom = or_(used_at.is_(None), used_at < at - SEEN_EVERY)
    c.execute(
        update(calendar_links).where(calendar_links.c.id == link_id, seldom).values(used_at=at)
    )


def calendar_tasks(
    c: Connection, ward_id: int | None, plot_id: int | None, since: date
) -> list[CalendarTask]:
    """Tasks of open seasons that had not closed by a day, by opening day.

    Index: uq_plots_ward_id_number or primary key, then uq_seasons_plot_id_label and the tasks' key.

    Parameters
    ----------
    c : connection
    ward_id, plot_id : of a whole ward, or of one plot
    since : local day; tasks that closed before it are left out
    """
    here = plots.c.id == plot_id if plot_id is not None else plots.c.ward_id == ward_id
    rows = c.execute(
        select(
            tasks.c.season_id,
            plots.c.number.label("plot_number"),
            *tasks.c["name", "number", "opens_on", "due_on", "closes_on", "done_on"],
            tasks.c.estimated,
            tasks.c.because,
            seasons.c.planned_at,
            seasons.c.starts_on,
        )
        .select_from(tasks.join(seasons).join(plots))
        .where(here, seasons.c.closed_at.is_(None), tasks.c.closes_on >= since)
        .order_by(tasks.c.opens_on, plots.c.number, tasks.c.name, tasks.c.number)
    )
    return [
        CalendarTask(*row[:8], bool(row.estimated), row.because, row.planned_at or _begun(row[-1]))
        for row in rows
    ]


def _begun(starts_on: date) -> datetime:
    return datetime.combine(starts_on, time(), UTC)


def place_of(c: Connection, link: CalendarLink) -> tuple[str, str, int]:
    """Name and zone of what a link shows, and its ward. Index: primary keys."""
    if link.plot_id is None:
        ward = c.execute(select(wards).where(wards.c.id == link.ward_id)).one()
        return ward.name, ward.zone, ward.id
    row = c.execute(
        select(plots.c.number, wards.c.zone, wards.c.id)
        .join(wards, plots.c.ward_id == wards.c.id)
        .where(plots.c.id == link.plot_id)
    ).one()
    return f"plot {row.number}", row.zone, row.id
