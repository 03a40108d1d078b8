"""The rain book's rows: observations of rain, kept as they came."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import (
    ColumnElement,
    Connection,
    RowMapping,
    func,
    insert,
    literal,
    or_,
    select,
    update,
)

from reminder_service.agronomy.rain_book import Observation, Observer
from reminder_service.records import tables as t
from reminder_service.records.once import insert_once
from reminder_service.records.rain_tables import rain_observations as o
from reminder_service.records.reports import is_standing
from reminder_service.records.views import Scope, in_scope


@dataclass(frozen=True, slots=True)
class NewObservation:
    """One amount of rain to keep.

    Attributes
    ----------
    ward_id, plot_id : where; no plot for the ward's own gauge
    day : local day
    mm : as it came, in mm
    trace : too little to measure was seen
    observer, by : who observed
    report_id : the report that it came with
    person_id : who imported it
    """

    ward_id: int
    plot_id: int | None
    day: date
    mm: float
    trace: bool
    observer: Observer
    by: str
    report_id: int | None = None
    person_id: int | None = None


@dataclass(frozen=True, slots=True)
class ObservationLine:
    """One observation as a page shows it.

    Attributes
    ----------
    seen : the observation
    plot_number : empty for the ward's own gauge
    farmer_name : whose plot it is; empty without one
    left_out_at : when a person left it out; None if it counts
    taken_back : the report that it came with no longer stands
    """

    seen: Observation
    plot_number: str
    farmer_name: str
    left_out_at: datetime | None
    taken_back: bool


def keep_observations(c: Connection, new: Iterable[NewObservation], at: datetime) -> int:
    """Add observations, none of which came with a report.

    Parameters
    ----------
    c : connection of a write transaction
    new : what to keep
    at : aware UTC instant

    Returns
    -------
    how many were added
    """
    rows = [_values(each, at) for each in new]
    if rows:
        c.execute(insert(o), rows)
    return len(rows)


def keep_reported(c: Connection, new: NewObservation, at: datetime) -> None:
    """Add the observation of a report, once. Index: uq_rain_observations_report_id."""
    insert_once(c, o, _values(new, at))


def keep_again(c: Connection, report_id: int, new_report_id: int) -> None:
    """Let a report that stands again carry on the observation of the one it repeats.

    Index: uq_rain_observations_report_id.

    Parameters
    ----------
    c : connection of a write transaction
    report_id : the report that was corrected, with or without an observation
    new_report_id : the report that says the same again
    """
    copied = [column for column in o.c if column.name not in ("id", "report_id")]
    again = select(*copied, literal(new_report_id)).where(o.c.report_id == report_id)
    c.execute(insert(o).from_select([*(column.name for column in copied), "report_id"], again))


def observations(c: Connection, ward_id: int, first: date, last: date) -> list[Observation]:
    """What counts of a ward's observations on some days, by id.

    Those that a person left out, and those whose report was taken back, do not. Index:
    ix_rain_observations_ward_id_day, then primary key and uq_reports_replaces_id.

    Parameters
    ----------
    c : connection
    ward_id : which ward
    first, last : local days, both included
    """
    return [seen for _, seen in counting_observations(c, {ward_id}, first, last)]


def counting_observations(
    c: Connection, scope: Scope, first: date, last: date
) -> list[tuple[int, Observation]]:
    """What counts of several wards' observations on some days, each with its ward, by id.

    Index: ix_rain_observations_ward_id_day, then primary key and uq_reports_replaces_id.

    Parameters
    ----------
    c : connection
    scope : wards the person may see
    first, last : local days, both included
    """
    rows = c.execute(
        select(o)
        .select_from(o.outerjoin(t.reports, o.c.report_id == t.reports.c.id))
        .where(
            o.c.day.between(first, last),
            o.c.left_out_at.is_(None),
            _counts(),
            *in_scope(o.c.ward_id, scope),
        )
        .order_by(o.c.id)
    ).mappings()
    return [(row["ward_id"], _observation(row)) for row in rows]


def observation_lines(c: Connection, ward_id: int, day: date) -> list[ObservationLine]:
    """Everything observed in a ward on one local day, in the order it came.

    Index: ix_rain_observations_ward_id_day.
    """
    rows = c.execute(
        select(o, t.plots.c.number, t.farmers.c.name, (~_counts()).label("taken_back"))
        .select_from(
            o.outerjoin(t.reports, o.c.report_id == t.reports.c.id)
            .outerjoin(t.plots, o.c.plot_id == t.plots.c.id)
            .outerjoin(t.farmers, t.plots.c.farmer_id == t.farmers.c.id)
        )
        .where(o.c.ward_id == ward_id, o.c.day == day)
        .order_by(o.c.kept_at, o.c.id)
    ).mappings()
    return [
        ObservationLine(
            _observation(row),
            row["number"] or "",
            row["name"] or "",
            row["left_out_at"],
            bool(row["taken_back"]),
        )
        for row in rows
    ]


def set_left_out(
    c: Connection, ward_id: int, ids: Collection[int], left_out_at: datetime | None
) -> int:
    """Leave observations of a ward out, or count them again. Index: primary key.

    Parameters
    ----------
    c : connection of a write transaction
    ward_id : which ward; rows of another are left alone
    ids : the observations
    left_out_at : aware UTC instant; None to count them again

    Returns
    -------
    how many rows changed
    """
    known = o.c.left_out_at.is_not(None) if left_out_at is None else o.c.left_out_at.is_(None)
    changed = (
        update(o)
        .where(o.c.id.in_(sorted(ids)), o.c.ward_id == ward_id, known)
        .values(left_out_at=left_out_at)
    )
    return c.execute(changed).rowcount


def standing_by(
    c: Connection, ward_ids: Collection[int], observer: Observer, by: str
) -> dict[tuple[int, int | None, date], tuple[float, bool]]:
    """Last amount and trace that one observer gave for each ward, plot and day.

    Index: ix_rain_observations_ward_id_day.
    """
    rows = c.execute(
        select(o.c.ward_id, o.c.plot_id, o.c.day, o.c.mm, o.c.trace)
        .where(
            o.c.ward_id.in_(sorted(ward_ids)),
            o.c.observer == observer.value,
            o.c.by == by,
            o.c.left_out_at.is_(None),
        )
        .order_by(o.c.kept_at, o.c.id)
    )
    return {(ward, plot, day): (mm, trace) for ward, plot, day, mm, trace in rows}


def last_day_by(c: Connection, ward_id: int, observer: Observer, by: str) -> date | None:
    """Last local day that one observer gave for a ward. Index: ix_rain_observations_ward_id_day."""
    last = select(func.max(o.c.day)).where(
        o.c.ward_id == ward_id, o.c.observer == observer.value, o.c.by == by
    )
    found: date | None = c.execute(last).scalar_one()
    return found


def plots_by_number(c: Connection, ward_ids: Collection[int]) -> dict[tuple[int, str], int]:
    """Ids of the plots of some wards by ward and number. Index: uq_plots_ward_id_number."""
    rows = c.execute(
        select(t.plots.c.ward_id, t.plots.c.number, t.plots.c.id).where(
            t.plots.c.ward_id.in_(sorted(ward_ids))
        )
    )
    return {(ward_id, number): id_ for ward_id, number, id_ in rows}


def _counts() -> ColumnElement[bool]:
    """Whether an observation came without a report, or its report stands."""
    on_given, not_replaced = is_standing()
    return or_(o.c.report_id.is_(None), on_given & not_replaced)


def _values(new: NewObservation, at: datetime) -> dict[str, object]:
    return {
        "ward_id": new.ward_id,
        "plot_id": new.plot_id,
        "day": new.day,
        "mm": new.mm,
        "trace": new.trace,
        "observer": new.observer.value,
        "by": new.by[:80],
        "kept_at": at,
        "report_id": new.report_id,
        "person_id": new.person_id,
    }


def _observation(row: RowMapping) -> Observation:
    return Observation(
        ref=row["id"],
        plot=row["plot_id"],
        on=row["day"],
        mm=row["mm"],
        observer=Observer(row["observer"]),
        by=row["by"],
        kept_at=row["kept_at"],
        trace=row["trace"],
    )
