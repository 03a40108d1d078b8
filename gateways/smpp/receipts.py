"""Delivery receipts as SMPP carriers word them, and the spellings of message ids."""

import re
from datetime import datetime

from gateways.protocol import Receipt, ReceiptState
from gateways.smpp.text import GSM, Delivery, body_of

_RECEIPT, _INTERMEDIATE, _TYPE_BITS = 0x04, 0x20, 0x3C
_RECEIPTED_MESSAGE_ID, _MESSAGE_STATE = 0x001E, 0x0427
_FIELD = re.compile(r"\b(id|stat|err):\s*(\S+)", re.IGNORECASE)

STATES = {
    1: "ENROUTE",
    2: "DELIVRD",
    3: "EXPIRED",
    4: "DELETED",
    5: "UNDELIV",
    6: "ACCEPTD",
    7: "UNKNOWN",
    8: "REJECTD",
}
"""SMPP 3.4, 5.2.28 and appendix B."""

ENDS = {
    "DELIVRD": ReceiptState.DELIVERED,
    "EXPIRED": ReceiptState.UNDELIVERED,
    "DELETED": ReceiptState.UNDELIVERED,
    "UNDELIV": ReceiptState.UNDELIVERED,
    "REJECTD": ReceiptState.UNDELIVERED,
}
"""All else is under way: nobody has said yet what became of the message."""


def is_receipt(delivery: Delivery) -> bool:
    """Whether a deliver_sm tells of a message of ours (SMPP 3.4, 5.2.12)."""
    return delivery.esm_class & _TYPE_BITS in (_RECEIPT, _INTERMEDIATE)


def receipt_of(delivery: Delivery, ids: str, at: datetime) -> Receipt | None:
    """What a receipt says; None if it names no message.

    Parameters
    ----------
    ids : how its message ids are spelled, see `plain_id`
    at : aware UTC instant; the times in a receipt are of a zone that nobody names

    References
    ----------
    SMPP 3.4, 5.3.2.12, 5.3.2.35 and appendix B.
    """
    text = body_of(GSM, delivery.content).decode()
    fields = {name.lower(): value for name, value in reversed(_FIELD.findall(text))}
    given = delivery.tlvs.get(_RECEIPTED_MESSAGE_ID, b"").rstrip(b"\0").decode("latin-1")
    message_id = given or fields.get("id", "")
    if not message_id:
        return None
    word = fields.get("stat", "").upper()
    state = delivery.tlvs.get(_MESSAGE_STATE)
    if state:
        word = STATES.get(state[-1], f"state {state[-1]}")
    reason = f"{word} {fields.get('err', '')}".strip()
    if delivery.esm_class & _TYPE_BITS == _INTERMEDIATE:
        ended = ReceiptState.UNDERWAY
    else:
        ended = ENDS.get(word, ReceiptState.UNDERWAY)
    return Receipt(plain_id(message_id, ids), None, ended, at, reason)


def plain_id(message_id: str, spelled: str) -> str:
    """An id as both places can be compared: a number in decimal, or the text itself.

    Parameters
    ----------
    spelled : ``hex``, ``decimal`` or ``text``; an id that is not spelled so stays as it is

    Examples
    --------
    >>> plain_id("0001F4", "hex"), plain_id("0000000500", "decimal"), plain_id("A-7", "hex")
    ('500', '500', 'A-7')
    """
    bases = {"hex": (16, r"[0-9A-Fa-f]+"), "decimal": (10, r"[0-9]+")}
    if spelled not in bases:
        return message_id
    base, digits = bases[spelled]
    return str(int(message_id, base)) if re.fullmatch(digits, message_id) else message_id
