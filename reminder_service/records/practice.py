"""Phones that serve nobody yet, as the practice phone needs them."""

from collections.abc import Sequence

from sqlalchemy import Connection, exists, select

from reminder_service.kinds import PhoneNumber
from reminder_service.records.tables import farmer_phones, phones


def unserving_number(c: Connection, phone_id: int) -> PhoneNumber | None:
    """Number of a phone that serves no farmer; None if it serves one, or there is none.

    Index: primary keys of phones, ix_farmer_phones_phone_id.
    """
    serves = exists().where(farmer_phones.c.phone_id == phones.c.id)
    number = select(phones.c.number).where(phones.c.id == phone_id, ~serves)
    found: str | None = c.execute(number).scalar_one_or_none()
    return None if found is None else PhoneNumber(found)


def unused_number(c: Connection, numbers: Sequence[PhoneNumber]) -> PhoneNumber | None:
    """The first of some numbers that no phone has; None if all are used. Index: uq_phones_number.

    Parameters
    ----------
    c : connection
    numbers : to choose from
    """
    used = set(c.execute(select(phones.c.number).where(phones.c.number.in_(numbers))).scalars())
    return next((number for number in numbers if number not in used), None)
