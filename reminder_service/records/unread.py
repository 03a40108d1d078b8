"""Texts that nobody could read or that were asked back: they wait for a person.

Whoever sees one ward of a phone's farmers sees the phone's texts; a text of a phone that serves no
farmer belongs to no ward, so only who sees all wards sees it.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, RowMapping, Select, exists, func, select, update

from reminder_service.kinds import Kind, NoticeState, SeasonId
from reminder_service.records import tables as t
from reminder_service.records.farmers import (
    PlotOnPhone,
    open_plots_of_farmers,
    open_plots_of_wards,
)
from reminder_service.records.once import insert_once_by
from reminder_service.records.reports import KeptReport, is_standing
from reminder_service.records.types import Settlement, Waits
from reminder_service.records.views import Scope, in_scope

_NEVER_CAME = sorted(
    state.value for state in (NoticeState.WITHDRAWN, NoticeState.EXPIRED, NoticeState.REFUSED)
)


@dataclass(frozen=True, slots=True)
class WaitingText:
    """One text that waits for a person, or has waited.

    Attributes
    ----------
    body : the bytes as they came, whatever they hold
    sent_at, settled_at : aware UTC instants
    phone_id : None if the sender is no phone
    read_as : what it was read as
    settled_as, person : what became of it, and the login of whoever said so
    """

    id: int
    gateway: str
    sender: str
    body: bytes
    sent_at: datetime
    phone_id: int | None
    read_as: Mapping[str, Any]
    why: Waits
    settled_at: datetime | None
    settled_as: Settlement | None
    person: str | None


@dataclass(frozen=True, slots=True)
class MadeReport:
    """One report that still stands, with the text it was made of and the plot it is about."""

    text_id: int
    phone_id: int | None
    plot_number: str
    report: KeptReport


@dataclass(frozen=True, slots=True)
class PhoneUser:
    """One farmer whom a phone serves."""

    phone_id: int
    farmer_id: int
    name: str
    language: str
    ward_id: int
    ward_name: str
    zone: str


def keep_waiting(c: Connection, inbound_id: int, why: Waits) -> None:
    """Let a text wait for a person. Index: primary key."""
    insert_once_by(c, t.waiting_texts, {"inbound_id": inbound_id, "why": why.value})


def waiting_page(c: Connection, scope: Scope, before: int | None, limit: int) -> list[WaitingText]:
    """Texts that wait, newest first. Index: ix_waiting_texts_open, backwards.

    Parameters
    ----------
    c : connection
    scope : wards the person may see
    before : id that the last page ended with
    limit : how many at most
    """
    wanted = _texts(scope).where(t.waiting_texts.c.settled_at.is_(None))
    if before is not None:
        wanted = wanted.where(t.waiting_texts.c.inbound_id < before)
    rows = c.execute(wanted.order_by(t.waiting_texts.c.inbound_id.desc()).limit(limit))
    return [_text(row) for row in rows.mappings()]


def waiting_count(c: Connection, scope: Scope) -> int:
    """How many texts wait. Index: ix_waiting_texts_open."""
    waits = _texts(scope).where(t.waiting_texts.c.settled_at.is_(None)).subquery()
    return c.execute(select(func.count()).select_from(waits)).scalar_one()


def settled_texts(c: Connection, scope: Scope, since: datetime, limit: int) -> list[WaitingText]:
    """Texts that a person has settled, the last first. Index: ix_waiting_texts_settled_at.

    Parameters
    ----------
    c : connection
    scope : wards the person may see
    since : aware UTC instant
    limit : how many at most
    """
    settled_at = t.waiting_texts.c.settled_at
    lately = _texts(scope).where(settled_at >= since, t.waiting_texts.c.person_id.is_not(None))
    rows = c.execute(
        lately.order_by(settled_at.desc(), t.waiting_texts.c.inbound_id.desc()).limit(limit)
    )
    return [_text(row) for row in rows.mappings()]


def waiting_text(c: Connection, inbound_id: int, scope: Scope) -> WaitingText | None:
    """One text that waits or has waited; None if the scope holds none. Index: primary key."""
    row = c.execute(_texts(scope).where(t.waiting_texts.c.inbound_id == inbound_id))
    found = row.mappings().one_or_none()
    return None if found is None else _text(found)


def settle_text(
    c: Connection, inbound_id: int, how: Settlement, person_id: int | None, at: datetime
) -> bool:
    """Note what became of a text; False if it waits no more. Index: ix_waiting_texts_open.

    Parameters
    ----------
    c : connection of a write transaction
    inbound_id : the text
    how : what became of it
    person_id : who said so; None if its farmer answered
    at : aware UTC instant
    """
    waits = (t.waiting_texts.c.inbound_id == inbound_id, t.waiting_texts.c.settled_at.is_(None))
    values = {"settled_at": at, "settled_as": how.value, "person_id": person_id}
    return c.execute(update(t.waiting_texts).where(*waits).values(values)).rowcount == 1


def reopen_text(c: Connection, inbound_id: int) -> bool:
    """Let a settled text wait again; False if it waits already. Index: primary key."""
    return _reopened(c, t.waiting_texts.c.inbound_id == inbound_id)


def reopen_text_of(c: Connection, report_id: int) -> bool:
    """Let the text wait again that a person made a report of. Index: primary keys.

    Returns
    -------
    False if the report came from no such text
    """
    of_report = select(t.reports.c.inbound_id).where(t.reports.c.id == report_id)
    return _reopened(c, t.waiting_texts.c.inbound_id == of_report.scalar_subquery())


def _reopened(c: Connection, which: ColumnElement[bool]) -> bool:
    """Only what a person settled: a question that was answered stays answered."""
    by_person = t.waiting_texts.c.person_id.is_not(None)
    values = {"settled_at": None, "settled_as": None, "person_id": None}
    return c.execute(update(t.waiting_texts).where(which, by_person).values(values)).rowcount == 1


def asked_back_of(
    c: Connection, phone_id: int, before_id: int, since: datetime
) -> list[WaitingText]:
    """Texts of a phone that were asked back and not answered yet. Index: ix_inbound_phone_id_id.

    Parameters
    ----------
    c : connection
    phone_id : which phone
    before_id : only texts before this one
    since : aware UTC instant; older texts are left alone
    """
    recent = select(t.inbound.c.id).where(
        t.inbound.c.phone_id == phone_id,
        t.inbound.c.id < before_id,
        t.inbound.c.sent_at >= since,
    )
    # Two statements: in one, SQLite goes through every text that waits.
    ids = c.execute(recent).scalars().all()
    asked = _texts(None).where(
        t.waiting_texts.c.inbound_id.in_(ids),
        t.waiting_texts.c.settled_at.is_(None),
        t.waiting_texts.c.why == Waits.ASKED_BACK.value,
    )
    rows = c.execute(asked.order_by(t.waiting_texts.c.inbound_id)).mappings()
    return [_text(row) for row in rows]


def reports_of_texts(c: Connection, inbound_ids: Collection[int]) -> list[MadeReport]:
    """Reports still standing that were made of some texts. Index: ix_reports_inbound_id."""
    return _made(c, t.reports.c.inbound_id.in_(sorted(inbound_ids)))


def reports_after(c: Connection, phone_ids: Collection[int], after_id: int) -> list[MadeReport]:
    """Standing reports of some phones' texts after one of them. Index: ix_inbound_phone_id_id."""
    later = (t.inbound.c.phone_id.in_(sorted(phone_ids)), t.inbound.c.id > after_id)
    return _made(c, *later)


def _made(c: Connection, *which: ColumnElement[bool]) -> list[MadeReport]:
    r = t.reports.c
    rows = c.execute(
        select(
            r.inbound_id,
            t.inbound.c.phone_id,
            t.plots.c.number,
            r.id,
            r.season_id,
            r.kind,
            r.on,
            r.task,
            r.number,
        )
        .select_from(t.inbound.join(t.reports).join(t.seasons).join(t.plots))
        .where(*which, *is_standing())
        .order_by(r.inbound_id, r.id)
    )
    return [
        MadeReport(text_id, phone_id, plot, KeptReport(id_, season_id, Kind(kind), *rest))
        for text_id, phone_id, plot, id_, season_id, kind, *rest in rows
    ]


def told_since(c: Connection, inbound_id: int, since: datetime) -> list[int]:
    """Notices that answer a text, queued since an instant. Index: ix_notices_inbound_id.

    What was refused or has expired is left out: nobody got it.

    Parameters
    ----------
    c : connection
    inbound_id : the text
    since : aware UTC instant at which a person settled it
    """
    ids = select(t.notices.c.id).where(
        t.notices.c.inbound_id == inbound_id,
        t.notices.c.created_at >= since,
        t.notices.c.state.not_in(_NEVER_CAME),
    )
    return list(c.execute(ids.order_by(t.notices.c.id)).scalars())


def users_of_phones(c: Connection, phone_ids: Collection[int]) -> list[PhoneUser]:
    """Farmers whom some phones serve, by name. Index: ix_farmer_phones_phone_id."""
    rows = c.execute(
        select(
            t.farmer_phones.c.phone_id,
            t.farmers.c.id,
            t.farmers.c.name,
            t.farmers.c.language,
            t.wards.c.id,
            t.wards.c.name,
            t.wards.c.zone,
        )
        .select_from(
            t.farmer_phones.join(t.farmers).join(t.wards, t.farmers.c.ward_id == t.wards.c.id)
        )
        .where(t.farmer_phones.c.phone_id.in_(sorted(phone_ids)))
        .order_by(t.farmers.c.name, t.farmers.c.id)
    )
    return [PhoneUser(*row) for row in rows]


def plots_of_users(
    c: Connection, users: Collection[PhoneUser], scope: Scope
) -> dict[int, list[PlotOnPhone]]:
    """Plots that each phone may report for, inside the scope, by plot number.

    A lead farmer's phone may report for every plot of the ward. Index: ix_plots_farmer_id,
    uq_plots_ward_id_number, primary key of ward_leads.

    Parameters
    ----------
    c : connection
    users : farmers whom the phones serve
    scope : wards the person may see

    Returns
    -------
    plots by phone; none for a phone that has none
    """
    farmer_ids = {user.farmer_id for user in users}
    led = _wards_led(c, farmer_ids, scope)
    of_wards = open_plots_of_wards(c, {ward for wards in led.values() for ward in wards})
    own = [
        plot
        for plot in open_plots_of_farmers(c, farmer_ids)
        if scope is None or plot.ward_id in scope
    ]
    found: dict[int, dict[SeasonId, PlotOnPhone]] = {}
    for user in users:
        theirs = [plot for plot in own if plot.farmer_id == user.farmer_id]
        theirs += [plot for plot in of_wards if plot.ward_id in led.get(user.farmer_id, ())]
        known = found.setdefault(user.phone_id, {})
        known.update((plot.season_id, plot) for plot in theirs)
    return {phone_id: list(plots.values()) for phone_id, plots in found.items()}


def _wards_led(c: Connection, farmer_ids: Collection[int], scope: Scope) -> dict[int, set[int]]:
    leads = t.ward_leads.c
    rows = c.execute(
        select(leads.farmer_id, leads.ward_id).where(
            leads.farmer_id.in_(sorted(farmer_ids)), *in_scope(leads.ward_id, scope)
        )
    )
    led: dict[int, set[int]] = {}
    for farmer_id, ward_id in rows:
        led.setdefault(farmer_id, set()).add(ward_id)
    return led


def _texts(scope: Scope) -> Select[tuple[object, ...]]:
    w = t.waiting_texts.c
    texts = select(
        t.inbound.c.id,
        t.inbound.c.gateway,
        t.inbound.c.sender,
        t.inbound.c.body,
        t.inbound.c.sent_at,
        t.inbound.c.phone_id,
        t.inbound.c.read_as,
        w.why,
        w.settled_at,
        w.settled_as,
        t.people.c.login,
    ).select_from(t.waiting_texts.join(t.inbound).outerjoin(t.people, w.person_id == t.people.c.id))
    if scope is None:
        return texts
    serves = exists().where(
        t.farmer_phones.c.phone_id == t.inbound.c.phone_id,
        t.farmer_phones.c.farmer_id == t.farmers.c.id,
        *in_scope(t.farmers.c.ward_id, scope),
    )
    return texts.where(serves)


def _text(row: RowMapping) -> WaitingText:
    return WaitingText(
        row["id"],
        row["gateway"],
        row["sender"],
        row["body"],
        row["sent_at"],
        row["phone_id"],
        row["read_as"] or {},
        Waits(row["why"]),
        row["settled_at"],
        row["settled_as"] and Settlement(row["settled_as"]),
        row["login"],
    )
