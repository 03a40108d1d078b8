"""Everything that the tables hold about one farmer: found, shown, and erased but for the counts.

Links are followed by the names of columns, so that a table added later is searched too.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import sqlalchemy as sa
from sqlalchemy import ColumnElement, Connection, Select, Table, delete, select, update

from reminder_service.kinds import NoticeState
from reminder_service.records import tables as t
from reminder_service.records.errors import NotFound
from reminder_service.records.hooks import note_notices
from reminder_service.records.snapshot import Value, kind_of, plain
from reminder_service.records.types import Decision, Settlement

ERASED = "erased"
"""What stands in the place of a name."""

OPEN_STATES = ("planned", "held", "waiting", "claimed", "in doubt")
WITHDRAWN_BECAUSE = "the farmer's data was erased"

SUBJECTS = ("farmer", "phone", "plot", "season", "notice", "text")
"""What lines of the audit log are about."""


@dataclass(frozen=True, slots=True)
class Person:
    """One farmer, or all who share a phone, with the ids of whatever is linked to them.

    Attributes
    ----------
    phone_ids : phones that serve nobody else
    shared_phone_ids : phones that serve others too, and so keep their numbers
    inbound_ids : texts that came from any of the phones
    attempt_ids : tries at handing their notices over
    names, numbers : that must not be found afterwards
    """

    farmer_ids: tuple[int, ...]
    phone_ids: tuple[int, ...]
    shared_phone_ids: tuple[int, ...]
    plot_ids: tuple[int, ...]
    season_ids: tuple[int, ...]
    inbound_ids: tuple[int, ...]
    notice_ids: tuple[int, ...]
    attempt_ids: tuple[int, ...]
    names: tuple[str, ...]
    numbers: tuple[str, ...]

    @property
    def every_phone(self) -> tuple[int, ...]:
        """Phones of their own and shared ones."""
        return self.phone_ids + self.shared_phone_ids

    def links(self, table: Table) -> ColumnElement[bool] | None:
        """Which rows of a table are linked to them; None if it has no link to farmers at all."""
        if table is t.audit:
            return table.c.subject.in_(self._subjects())
        ids = {"farmer_id": self.farmer_ids, "phone_id": self.every_phone}
        ids |= {"plot_id": self.plot_ids, "season_id": self.season_ids}
        ids |= {"inbound_id": self.inbound_ids, "attempt_id": self.attempt_ids}
        own = {"farmers": self.farmer_ids, "phones": self.every_phone, "plots": self.plot_ids}
        own |= {"seasons": self.season_ids, "inbound": self.inbound_ids}
        own |= {"attempts": self.attempt_ids, "notices": self.notice_ids}
        found = [table.c[name].in_(known) for name, known in ids.items() if name in table.c]
        if table.name in own:
            found.append(table.c.id.in_(own[table.name]))
        return sa.or_(*found) if found else None

    def _subjects(self) -> list[str]:
        theirs = (self.farmer_ids, self.every_phone, self.plot_ids, self.season_ids)
        ids = zip(SUBJECTS, (*theirs, self.notice_ids, self.inbound_ids), strict=True)
        return [f"{what} {id_}" for what, known in ids for id_ in known]


def farmers_of(c: Connection, number: str) -> dict[int, str]:
    """Names of the farmers whom a phone serves, by id. Index: uq_phones_number.

    Raises
    ------
    NotFound
        There is no such phone.
    """
    found = select(t.phones.c.id).where(t.phones.c.number == number)
    phone_id = c.execute(found).scalar_one_or_none()
    if phone_id is None:
        raise NotFound("phone that ends in", number[-3:])
    rows = c.execute(
        select(t.farmers.c.id, t.farmers.c.name)
        .join(t.farmer_phones, t.farmer_phones.c.farmer_id == t.farmers.c.id)
        .where(t.farmer_phones.c.phone_id == phone_id)
        .order_by(t.farmers.c.id)
    )
    return {row.id: row.name for row in rows}


def person_of(c: Connection, number: str, farmer_ids: Sequence[int]) -> Person:
    """Everything linked to some farmers whom a phone serves, or to a phone that serves nobody.

    Indexes: those of the links; texts without a phone are read through.

    Parameters
    ----------
    c : connection
    number : E.164, of a phone that exists
    farmer_ids : of farmers that it serves; empty if it serves none
    """
    link = t.farmer_phones.c
    phones = _ids(c, select(link.phone_id).where(link.farmer_id.in_(farmer_ids)))
    phones |= _ids(c, select(t.phones.c.id).where(t.phones.c.number == number))
    others = select(link.phone_id).where(
        link.phone_id.in_(phones), link.farmer_id.not_in(farmer_ids)
    )
    shared = _ids(c, others)
    own = phones - shared
    by_id = select(t.phones.c.id, t.phones.c.number).where(t.phones.c.id.in_(phones))
    numbers = {row.id: row.number for row in c.execute(by_id)}
    plots = _ids(c, select(t.plots.c.id).where(t.plots.c.farmer_id.in_(farmer_ids)))
    seasons = _ids(c, select(t.seasons.c.id).where(t.seasons.c.plot_id.in_(plots)))
    inbound = _ids(c, _texts(phones, list(numbers.values())))
    notices = _ids(c, _notices(own, shared, farmer_ids, seasons))
    tries = select(t.notices.c.attempt_id).where(
        t.notices.c.id.in_(notices), t.notices.c.attempt_id.is_not(None)
    )
    names = select(t.farmers.c.name).where(t.farmers.c.id.in_(farmer_ids)).distinct()
    return Person(
        tuple(sorted(farmer_ids)),
        _sorted(own),
        _sorted(shared),
        _sorted(plots),
        _sorted(seasons),
        _sorted(inbound),
        _sorted(notices),
        _sorted(_ids(c, tries)),
        tuple(c.execute(names).scalars()),
        tuple(number for id_, number in numbers.items() if id_ in own),
    )


def unworked_of_shared(c: Connection, person: Person) -> int:
    """Texts from shared phones that were not worked yet. Index: ix_inbound_unhandled."""
    shared = select(t.phones.c.number).where(t.phones.c.id.in_(person.shared_phone_ids))
    senders = [t.inbound.c.sender.contains(n[1:]) for n in c.execute(shared).scalars()]
    waiting = t.inbound.c.handled_at.is_(None)
    found = select(sa.func.count()).select_from(t.inbound)
    count: int = c.execute(found.where(waiting, sa.or_(sa.false(), *senders))).scalar_one()
    return count


def _texts(phones: set[int], numbers: Sequence[str]) -> Select[int]:
    """Texts of some phones; one that was not worked as a phone's is known by its sender."""
    i = t.inbound.c
    by_sender = [sa.and_(i.phone_id.is_(None), i.sender.contains(n[1:])) for n in numbers]
    return select(i.id).where(sa.or_(i.phone_id.in_(phones), *by_sender))


def _notices(
    own: set[int], shared: set[int], farmer_ids: Sequence[int], seasons: set[int]
) -> Select[int]:
    n = t.notices.c
    by_shared = sa.and_(n.phone_id.in_(shared), n.farmer_id.in_(farmer_ids))
    return select(n.id).where(sa.or_(n.phone_id.in_(own), n.season_id.in_(seasons), by_shared))


def rows_about(c: Connection, person: Person) -> dict[str, list[dict[str, Value]]]:
    """Every row that is linked to somebody, by table; bytes are shown as text."""
    found = {}
    for table in t.metadata.sorted_tables:
        links = person.links(table)
        if links is None:
            continue
        rows = c.execute(select(table).where(links).order_by(*table.primary_key.columns))
        shown = [
            {column.name: _shown(value, column) for column, value in zip(table.c, row, strict=True)}
            for row in rows
        ]
        if shown:
            found[table.name] = shown
    return found


def _shown(value: object, column: sa.Column[object]) -> Value:
    if isinstance(value, bytes):
        return value.decode("utf-8", "backslashreplace")
    return plain(value, kind_of(column.type))


def empty_rows(c: Connection, person: Person, at: datetime) -> int:
    """Take names, numbers and texts out of the rows that are made to hold them.

    What was still to go out is withdrawn, seasons are closed, phones are stopped for good. Ids,
    days, states, segments and reports stay, so that all counts stay.

    Parameters
    ----------
    c : connection of a write transaction
    person : whom
    at : aware UTC instant

    Returns
    -------
    how many notices were withdrawn
    """
    _empty_texts(c, person, at)
    withdrawn = _empty_notices(c, person, at)
    own = person.phone_ids
    c.execute(
        update(t.phones)
        .where(t.phones.c.id.in_(own))
        .values(
            number=sa.literal("x") + sa.cast(t.phones.c.id, sa.String(15)),
            stopped_at=sa.func.coalesce(
                t.phones.c.stopped_at, at, type_=t.phones.c.stopped_at.type
            ),
        )
    )
    c.execute(update(t.farmers).where(t.farmers.c.id.in_(person.farmer_ids)).values(name=ERASED))
    c.execute(delete(t.joinings).where(t.joinings.c.phone_id.in_(own)))
    c.execute(delete(t.ward_leads).where(t.ward_leads.c.farmer_id.in_(person.farmer_ids)))
    shared = t.farmer_phones.c.phone_id.in_(person.shared_phone_ids)
    theirs = t.farmer_phones.c.farmer_id.in_(person.farmer_ids)
    c.execute(delete(t.farmer_phones).where(shared, theirs))
    c.execute(
        update(t.seasons)
        .where(t.seasons.c.id.in_(person.season_ids), t.seasons.c.closed_at.is_(None))
        .values(closed_at=at)
    )
    waits = t.newcomers.c.decision == Decision.WAITING.value
    c.execute(
        update(t.newcomers)
        .where(t.newcomers.c.farmer_id.in_(person.farmer_ids), waits)
        .values(decision=Decision.DECLINED.value, decided_at=at)
    )
    return withdrawn


def _empty_texts(c: Connection, person: Person, at: datetime) -> None:
    """Nobody can say which texts of a shared phone were whose: all of them are emptied."""
    i = t.inbound.c
    theirs = i.id.in_(person.inbound_ids)
    handled = sa.func.coalesce(i.handled_at, at, type_=i.handled_at.type)
    emptied = {"body": b"", "read_as": None, "handled_at": handled}
    c.execute(update(t.inbound).where(theirs).values(emptied))
    from_shared = i.phone_id.in_(person.shared_phone_ids)
    unknown = {"sender": "", "message_id": sa.literal("erased-") + sa.cast(i.id, sa.String(20))}
    c.execute(
        update(t.inbound).where(theirs, sa.or_(i.phone_id.is_(None), ~from_shared)).values(unknown)
    )
    w = t.waiting_texts.c
    settled = {"settled_at": at, "settled_as": Settlement.SET_ASIDE.value}
    c.execute(
        update(t.waiting_texts)
        .where(w.inbound_id.in_(person.inbound_ids), w.settled_at.is_(None))
        .values(settled)
    )


def _empty_notices(c: Connection, person: Person, at: datetime) -> int:
    n = t.notices.c
    theirs = n.id.in_(person.notice_ids)
    c.execute(update(t.notices).where(theirs).values(body=""))
    withdrawn = {
        "state": NoticeState.WITHDRAWN.value,
        "reason": WITHDRAWN_BECAUSE,
        "claim": None,
        "lease_until": None,
        "changed_at": at,
    }
    still_open = n.state.in_(OPEN_STATES)
    changed = update(t.notices).where(theirs, still_open).values(withdrawn)
    return len(note_notices(c, c.execute(changed.returning(n.id)).scalars().all(), at))


def _ids(c: Connection, found: Select[int]) -> set[int]:
    return set(c.execute(found).scalars())


def _sorted(ids: set[int]) -> tuple[int, ...]:
    return tuple(sorted(ids))
