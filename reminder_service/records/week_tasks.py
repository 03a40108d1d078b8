"""Reads for the printed list: what a ward has to do in one week."""

from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection, select

from reminder_service.records.tables import farmers, plots, seasons, tasks
from reminder_service.records.views import season_is_open

MOST_ROWS = 2_000
"""Tasks on one list; about 60 sheets (setting)."""


@dataclass(frozen=True, slots=True)
class WeekTask:
    """One task of one plot; local days."""

    plot_number: str
    farmer_name: str
    name: str
    number: int
    due_on: date
    closes_on: date


def week_tasks(c: Connection, ward_id: int, first: date, last: date) -> list[WeekTask]:
    """Tasks not done whose window is open on some day of a week, by plot number and due day.

    Index: uq_plots_ward_id_number, then primary key of tasks.

    Parameters
    ----------
    c : connection
    ward_id : which ward
    first, last : local days, both included
    """
    rows = c.execute(
        select(
            plots.c.number.label("plot"),
            farmers.c.name.label("farmer"),
            tasks.c.name,
            tasks.c.number,
            tasks.c.due_on,
            tasks.c.closes_on,
        )
        .select_from(
            plots.join(farmers, plots.c.farmer_id == farmers.c.id)
            .join(seasons, seasons.c.plot_id == plots.c.id)
            .join(tasks)
        )
        .where(
            plots.c.ward_id == ward_id,
            season_is_open(),
            tasks.c.done_on.is_(None),
            tasks.c.waits.is_(False),
            tasks.c.opens_on <= last,
            tasks.c.closes_on >= first,
        )
        .order_by(plots.c.number, tasks.c.due_on, tasks.c.name)
        .limit(MOST_ROWS)
    )
    return [WeekTask(*row) for row in rows]
