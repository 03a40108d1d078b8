"""Reports of what happened on plots: only ever added to."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import ColumnElement, Connection, exists, select

from reminder_service.kinds import Kind, SeasonId
from reminder_service.records import tables as t
from reminder_service.records.errors import AlreadyThere
from reminder_service.records.once import insert_once
from reminder_service.rules.facts import Report


@dataclass(frozen=True, slots=True)
class KeptReport:
    """A report that stands, as whoever sent it may want to take it back.

    Attributes
    ----------
    on : local day of the field event
    """

    id: int
    season_id: SeasonId
    kind: Kind
    on: date
    task: str | None
    number: int | None


def add_report(
    c: Connection,
    *,
    season_id: SeasonId,
    kind: Kind,
    on: date | None,
    sent_at: datetime,
    task: str | None = None,
    number: int | None = None,
    detail: Mapping[str, object] | None = None,
    inbound_id: int | None = None,
    person_id: int | None = None,
    replaces_id: int | None = None,
) -> int:
    """Add one report and answer its id. Index: uq_reports_replaces_id.

    Parameters
    ----------
    c : connection of a write transaction
    season_id : whose
    kind : one of ``kinds.REPORTS``
    on : local day of the field event; None to withdraw the report replaced
    sent_at : aware UTC instant at which it was sent
    task, number : for ``done``
    detail : what else was said
    inbound_id, person_id : the text or the person it comes from
    replaces_id : the report that it corrects or withdraws

    Raises
    ------
    AlreadyThere
        Another report has corrected that one already.
    """
    values = {
        "season_id": season_id,
        "kind": kind.value,
        "on": on,
        "sent_at": sent_at,
        "task": task,
        "number": number,
        "detail": None if detail is None else dict(detail),
        "inbound_id": inbound_id,
        "person_id": person_id,
        "replaces_id": replaces_id,
    }
    id_ = insert_once(c, t.reports, values)
    if id_ is None:
        raise AlreadyThere("correction of report", replaces_id)
    return id_


def reports_of_season(c: Connection, season_id: SeasonId) -> list[Report]:
    """Every report of a season, replaced ones too, oldest first. Index: ix_reports_season_id."""
    rows = c.execute(
        select(t.reports)
        .where(t.reports.c.season_id == season_id)
        .order_by(t.reports.c.sent_at, t.reports.c.id)
    ).mappings()
    return [
        Report(
            str(row["id"]),
            Kind(row["kind"]),
            row["on"],
            row["sent_at"],
            row["task"],
            row["number"],
            None if row["replaces_id"] is None else str(row["replaces_id"]),
        )
        for row in rows
    ]


def last_from_phone(c: Connection, phone_id: int, since: datetime) -> list[KeptReport]:
    """The reports still standing of the text of a phone that made the last one.

    A text that a person made a report of later counts from then. Index: ix_inbound_phone_id_id,
    then ix_reports_inbound_id.

    Parameters
    ----------
    c : connection
    phone_id : which phone
    since : aware UTC instant; older reports are left alone

    Returns
    -------
    reports of one text, in the order it made them
    """
    last = (
        select(t.reports.c.inbound_id)
        .select_from(t.inbound.join(t.reports))
        .where(t.inbound.c.phone_id == phone_id, t.reports.c.sent_at >= since, *is_standing())
        .order_by(t.reports.c.sent_at.desc(), t.reports.c.inbound_id.desc())
        .limit(1)
    ).scalar_subquery()
    rows = c.execute(
        select(
            t.reports.c.id,
            t.reports.c.season_id,
            t.reports.c.kind,
            t.reports.c.on,
            t.reports.c.task,
            t.reports.c.number,
        )
        .where(t.reports.c.inbound_id == last, *is_standing())
        .order_by(t.reports.c.id)
    )
    return [KeptReport(id_, season_id, Kind(kind), *rest) for id_, season_id, kind, *rest in rows]


def is_standing() -> tuple[ColumnElement[bool], ColumnElement[bool]]:
    """A report is not replaced, and is no mere withdrawal. Index: uq_reports_replaces_id."""
    later = t.reports.alias("later")
    return t.reports.c.on.is_not(None), ~exists().where(later.c.replaces_id == t.reports.c.id)
