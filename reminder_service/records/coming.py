"""What is still to go out: how many texts, for whom, and how soon each is useless."""

from collections.abc import Collection
from datetime import datetime

from sqlalchemy import ColumnElement, Connection, func, or_, select

from reminder_service.records.queue_rows import DUE
from reminder_service.records.tables import farmers, notices, phones, wards


def farmers_of_ward(c: Connection, ward_id: int) -> int:
    """How many farmers a ward has. Index: ix_farmers_ward_id."""
    counted = select(func.count()).select_from(farmers).where(farmers.c.ward_id == ward_id)
    found: int = c.execute(counted).scalar_one()
    return found


def coming_count(c: Connection, after: datetime, until: datetime) -> int:
    """How many notices fall due in a time. Index: ix_notices_state_send_at_id.

    Parameters
    ----------
    c : connection
    after, until : aware UTC instants; the first one is left out
    """
    counted = select(func.count()).select_from(notices).where(*_coming(after, until))
    found: int = c.execute(counted).scalar_one()
    return found


def coming_expiries(
    c: Connection,
    after: datetime,
    until: datetime,
    *,
    prefixes: Collection[str] = (),
    ward_names: Collection[str] = (),
    languages: Collection[str] = (),
) -> list[datetime]:
    """When each phone's next text expires, of those that fall due in a time.

    Index: ix_notices_state_send_at_id, then primary keys.

    Parameters
    ----------
    c : connection
    after, until : aware UTC instants; the first one is left out
    prefixes, ward_names, languages : whose texts; empty for everybody's

    Returns
    -------
    one aware UTC instant a phone, in no order
    """
    whose: list[ColumnElement[bool]] = []
    if prefixes:
        whose.append(or_(*(phones.c.number.startswith(prefix) for prefix in prefixes)))
    if ward_names:
        whose.append(wards.c.name.in_(sorted(ward_names)))
    if languages:
        whose.append(farmers.c.language.in_(sorted(languages)))
    joined = (
        notices.join(phones)
        .outerjoin(farmers, notices.c.farmer_id == farmers.c.id)
        .outerjoin(wards, notices.c.ward_id == wards.c.id)
    )
    first = func.min(notices.c.expires_at, type_=notices.c.expires_at.type)
    asked = select(first).select_from(joined).where(*_coming(after, until), *whose)
    rows = c.execute(asked.group_by(notices.c.phone_id))
    return [expires_at for (expires_at,) in rows]


def _coming(after: datetime, until: datetime) -> tuple[ColumnElement[bool], ...]:
    return (notices.c.state.in_(DUE), notices.c.send_at > after, notices.c.send_at <= until)
