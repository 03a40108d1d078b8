"""Reads for the pages: the outbound queue, and what one phone sent and was sent."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from sqlalchemy import (
    ColumnElement,
    Connection,
    Join,
    RowMapping,
    Select,
    String,
    and_,
    cast,
    exists,
    func,
    literal,
    or_,
    select,
    tuple_,
    union_all,
)

from reminder_service.kinds import NoticeState, SeasonId, Stage
from reminder_service.records.doubts import SETTLE
from reminder_service.records.tables import (
    SettledBy,
    audit,
    farmer_phones,
    farmers,
    inbound,
    notices,
    people,
    phones,
    plots,
    seasons,
    wards,
)
from reminder_service.records.views import Scope, in_scope

FEW = 200
"""Up to so many farmers or phones are looked up one by one (setting)."""


@dataclass(frozen=True, slots=True)
class NoticeLine:
    """One notice with all that a list says of it.

    Attributes
    ----------
    zone : of the ward, UTC for a reply to a phone that belongs to none
    person : login of who held or withdrew it
    settled_at, settled_by : when and by what it was last brought out of doubt; None if it never was
        in doubt, or still is
    """

    id: int
    state: NoticeState
    reason: str | None
    send_at: datetime
    sent_at: datetime | None
    expires_at: datetime
    body: str
    segments: int
    task: str
    number: int
    stage: Stage
    tries: int
    day: date
    phone_id: int
    phone_number: str
    stopped_at: datetime | None
    farmer_name: str | None
    ward_id: int | None
    ward_name: str | None
    zone: str
    season_id: SeasonId | None
    plot_number: str | None
    person: str | None
    inbound_id: int | None
    settled_at: datetime | None = None
    settled_by: SettledBy | None = None


@dataclass(frozen=True, slots=True)
class InboundLine:
    """One text that came in, as it came.

    Attributes
    ----------
    body : the raw bytes read as UTF-8, with a mark where they are none
    """

    id: int
    gateway: str
    sender: str
    body: str
    sent_at: datetime
    unread: bool


@dataclass(frozen=True, slots=True)
class Place:
    """Where a page of the queue ended."""

    send_at: datetime
    id: int


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which notices to list.

    Attributes
    ----------
    states : None for all
    day : local day they go out
    farmer : letters of a farmer's name, or digits of a phone number
    since : nothing that goes out before this instant
    newest_first : order
    """

    states: tuple[NoticeState, ...] | None = None
    ward_id: int | None = None
    day: date | None = None
    task: str | None = None
    farmer: str = ""
    since: datetime | None = None
    newest_first: bool = False


def queue_page(
    c: Connection, scope: Scope, wanted: Wanted, after: Place | None, limit: int
) -> list[NoticeLine]:
    """One page of the queue by send time, whatever its length.

    One ordered and limited read a state, so that each walks ix_notices_state_send_at_id and
    stops; rows already shown are skipped by the key, never by counting.

    Parameters
    ----------
    c : connection
    scope : wards the person may see
    wanted : which notices
    after : where the last page ended
    limit : how many at most
    """
    states: Sequence[NoticeState | None] = wanted.states or (None,)
    farmer = _for_farmer(c, wanted.farmer) if wanted.farmer else None
    picks = [_pick(scope, wanted, state, farmer, after, limit) for state in states]
    ids = picks[0] if len(picks) == 1 else union_all(*(select(p.subquery()) for p in picks))
    picked = ids.subquery("picked")
    lines = _notice_lines().join(picked, notices.c.id == picked.c.id)
    ordered = lines.order_by(*_order(wanted.newest_first)).limit(limit)
    return _lines(c.execute(ordered).mappings())


def _pick(
    scope: Scope,
    wanted: Wanted,
    state: NoticeState | None,
    farmer: ColumnElement[bool] | None,
    after: Place | None,
    limit: int,
) -> Select[int]:
    conditions = in_scope(notices.c.ward_id, scope)
    if state is not None:
        conditions.append(notices.c.state == state.value)
    if wanted.ward_id is not None:
        conditions.append(notices.c.ward_id == wanted.ward_id)
    if wanted.task is not None:
        conditions.append(notices.c.task == wanted.task)
    if wanted.day is not None:
        conditions += _on_day(wanted.day)
    if wanted.since is not None:
        conditions.append(notices.c.send_at >= wanted.since)
    if farmer is not None:
        conditions.append(farmer)
    if after is not None:
        key = tuple_(notices.c.send_at, notices.c.id)
        place = tuple_(after.send_at, after.id, types=[notices.c.send_at.type, notices.c.id.type])
        conditions.append(key < place if wanted.newest_first else key > place)
    return (
        select(notices.c.id).where(*conditions).order_by(*_order(wanted.newest_first)).limit(limit)
    )


def _order(newest_first: bool) -> list[ColumnElement[object]]:
    if newest_first:
        return [notices.c.send_at.desc(), notices.c.id.desc()]
    return [notices.c.send_at.asc(), notices.c.id.asc()]


def _on_day(day: date) -> list[ColumnElement[bool]]:
    """Local day; the instants around it bound the walk along the index."""
    midnight = datetime.combine(day, time(), UTC)
    return [
        notices.c.day == day,
        notices.c.send_at >= midnight - timedelta(days=1),
        notices.c.send_at < midnight + timedelta(days=2),
    ]


def _for_farmer(c: Connection, text: str) -> ColumnElement[bool]:
    """Notices to the farmers or phones that some letters or digits fit.

    Where few fit, their phones lead into ix_notices_phone_id_send_at_id; where many fit, every
    few rows along the order one will, so each row is asked on the way.
    """
    fits, whose = _fitting(text)
    few = select(farmers.c.id, phones.c.id).select_from(_farmers_with_phones()).where(fits)
    found = c.execute(few.limit(FEW + 1)).all()
    if len(found) > FEW:
        return exists(select(literal(1)).where(fits, whose))
    return and_(
        notices.c.phone_id.in_({phone_id for _, phone_id in found}),
        or_(notices.c.farmer_id.is_(None), notices.c.farmer_id.in_({id_ for id_, _ in found})),
    )


def _fitting(text: str) -> tuple[ColumnElement[bool], ColumnElement[bool]]:
    """Condition on farmer or phone, and how a notice points at the one that it is about."""
    digits = "".join(character for character in text if character.isdigit())
    if digits and not any(character.isalpha() for character in text):
        return phones.c.number.contains(digits, autoescape=True), phones.c.id == notices.c.phone_id
    named = farmers.c.name.icontains(text, autoescape=True)
    return named, farmers.c.id == notices.c.farmer_id


def _farmers_with_phones() -> Join:
    return farmers.join(farmer_phones).join(phones)


def _notice_lines() -> Select[tuple[object, ...]]:
    subject = literal("notice ").concat(cast(notices.c.id, String))
    settlement = audit.alias("settlement")
    # The audit log knows of a settlement even when the notice has been tried anew since.
    last = (
        select(func.max(settlement.c.id))
        .where(settlement.c.subject == subject, settlement.c.what == SETTLE)
        .scalar_subquery()
    )
    return select(
        notices,
        audit.c.at.label("settled_at"),
        audit.c.after.label("settlement"),
        phones.c.number.label("phone_number"),
        phones.c.stopped_at,
        farmers.c.name.label("farmer_name"),
        wards.c.name.label("ward_name"),
        wards.c.zone,
        plots.c.number.label("plot_number"),
        people.c.login,
    ).select_from(
        notices.join(phones, notices.c.phone_id == phones.c.id)
        .outerjoin(farmers, notices.c.farmer_id == farmers.c.id)
        .outerjoin(wards, notices.c.ward_id == wards.c.id)
        .outerjoin(seasons, notices.c.season_id == seasons.c.id)
        .outerjoin(plots, seasons.c.plot_id == plots.c.id)
        .outerjoin(people, notices.c.person_id == people.c.id)
        .outerjoin(audit, audit.c.id == last)
    )


def _lines(rows: Iterable[RowMapping]) -> list[NoticeLine]:
    return [
        NoticeLine(
            id=row["id"],
            state=NoticeState(row["state"]),
            reason=row["reason"],
            send_at=row["send_at"],
            sent_at=row["sent_at"],
            expires_at=row["expires_at"],
            body=row["body"],
            segments=row["segments"],
            task=row["task"],
            number=row["number"],
            stage=Stage(row["stage"]),
            tries=row["tries"],
            day=row["day"],
            phone_id=row["phone_id"],
            phone_number=row["phone_number"],
            stopped_at=row["stopped_at"],
            farmer_name=row["farmer_name"],
            ward_id=row["ward_id"],
            ward_name=row["ward_name"],
            zone=row["zone"] or "UTC",
            season_id=row["season_id"],
            plot_number=row["plot_number"],
            person=row["login"],
            inbound_id=row["inbound_id"],
            settled_at=row["settled_at"],
            settled_by=row["settlement"] and SettledBy(row["settlement"]["settled by"]),
        )
        for row in rows
    ]


def notices_seen(c: Connection, ids: Collection[int], scope: Scope) -> list[NoticeLine]:
    """Those of some notices that lie in the scope, by send time. Index: primary key."""
    rows = c.execute(
        _notice_lines()
        .where(notices.c.id.in_(sorted(ids)), *in_scope(notices.c.ward_id, scope))
        .order_by(*_order(newest_first=False))
    )
    return _lines(rows.mappings())


def notices_of_season_seen(c: Connection, season_id: int) -> list[NoticeLine]:
    """Every notice of a season by send time. Index: ix_notices_season_id."""
    rows = c.execute(
        _notice_lines().where(notices.c.season_id == season_id).order_by(*_order(False))
    )
    return _lines(rows.mappings())


def notices_of_phone(
    c: Connection, phone_id: int, scope: Scope, since: datetime
) -> list[NoticeLine]:
    """What was queued for one phone since an instant. Index: ix_notices_phone_id_send_at_id.

    A reply that belongs to no ward is shown to whoever may see the phone.
    """
    walls = [or_(notices.c.ward_id.is_(None), wall) for wall in in_scope(notices.c.ward_id, scope)]
    rows = c.execute(
        _notice_lines()
        .where(notices.c.phone_id == phone_id, notices.c.send_at >= since, *walls)
        .order_by(*_order(newest_first=False))
    )
    return _lines(rows.mappings())


def replies_to(c: Connection, inbound_ids: Collection[int]) -> list[NoticeLine]:
    """Replies to some inbound texts, by send time. Index: ix_notices_inbound_id."""
    rows = c.execute(
        _notice_lines()
        .where(notices.c.inbound_id.in_(sorted(inbound_ids)))
        .order_by(*_order(newest_first=False))
    )
    return _lines(rows.mappings())


def _inbound_lines(rows: Iterable[RowMapping]) -> list[InboundLine]:
    return [
        InboundLine(
            row["id"],
            row["gateway"],
            row["sender"],
            row["body"].decode("utf-8", "replace").replace("\x00", "\ufffd"),
            row["sent_at"],
            bool((row["read_as"] or {}).get("unread")),
        )
        for row in rows
    ]


def inbound_of_phones(c: Connection, phone_ids: Collection[int], limit: int) -> list[InboundLine]:
    """The latest texts from some phones, oldest first. Index: ix_inbound_phone_id_id."""
    rows = c.execute(
        select(inbound)
        .where(inbound.c.phone_id.in_(sorted(phone_ids)))
        .order_by(inbound.c.id.desc())
        .limit(limit)
    )
    return _inbound_lines(reversed(rows.mappings().all()))
