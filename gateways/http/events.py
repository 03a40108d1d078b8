"""One event as a carrier writes it: a receipt or a text, by the names that its profile gives."""

import hashlib
from dataclasses import dataclass
from datetime import datetime

from pydantic import JsonValue

from gateways.http.fields import value_at, word
from gateways.http.profile_events import Events, Inbound, Receipts, StateWords
from gateways.http.profile_parts import When
from gateways.http.times import read_time
from gateways.protocol import Event, Incoming, Receipt, ReceiptState


class BadEvent(ValueError):
    """One event of a call cannot be read; says why without its content."""


@dataclass(frozen=True, slots=True)
class Item:
    """One event as it came.

    Attributes
    ----------
    value : as read
    is_json : whether of JSON; else of a form or query
    received_at : aware UTC instant
    """

    value: JsonValue
    is_json: bool
    received_at: datetime

    def at(self, path: str | None) -> JsonValue:
        """The value at a path; a form's names are no paths."""
        if path is None:
            return None
        if self.is_json:
            return value_at(self.value, path)
        return self.value.get(path) if isinstance(self.value, dict) else None

    def word(self, path: str | None) -> str | None:
        """The value as a word of proper letters, or None."""
        found = word(self.at(path))
        if found is not None and any("\ud800" <= letter <= "\udfff" for letter in found):
            raise BadEvent(f"{path} is not UTF-8")
        return found

    def needed(self, path: str) -> str:
        """The value as a word, which must be there."""
        found = self.word(path)
        if found is None:
            raise BadEvent(f"{path} is missing or empty")
        return found


def is_meant(item: Item, when: When | None) -> bool:
    """Whether an event is one of those; none is where nothing is given."""
    return when is not None and word(item.at(when.field)) in when.words


def event_of(tables: Events, item: Item) -> Event:
    """The receipt or text that an event is.

    Raises
    ------
    BadEvent
        It is neither by the profile, or a part of it cannot be read.
    """
    receipts, inbound = tables.receipts, tables.inbound
    if receipts is not None and _is_receipt(receipts, item, alone=inbound is None):
        return _receipt(tables, receipts, item)
    if inbound is not None and (inbound.when is None or is_meant(item, inbound.when)):
        return _incoming(tables, inbound, item)
    raise BadEvent("neither a receipt nor a text by the profile")


def _is_receipt(receipts: Receipts, item: Item, alone: bool) -> bool:
    """Whether an event is a receipt: as it says, or as its state is there."""
    if receipts.when is not None:
        return is_meant(item, receipts.when)
    return alone or item.at(receipts.state) is not None


def _receipt(tables: Events, receipts: Receipts, item: Item) -> Receipt:
    reference = item.word(receipts.reference)
    ours = item.word(receipts.client_reference)
    if reference is None and ours is None:
        raise BadEvent("it names no message")
    state, reason = state_of(
        receipts.states, item.needed(receipts.state), item.word(receipts.reason) or ""
    )
    return Receipt(
        reference=reference,
        client_reference=ours,
        state=state,
        at=_time(tables, receipts.at, item),
        reason=reason,
    )


def state_of(states: StateWords, said: str, reason: str) -> tuple[ReceiptState, str]:
    """What a state's word means, and the reason.

    A word that the profile does not have counts as under way, and the reason names it.
    """
    for state, words in (
        (ReceiptState.DELIVERED, states.delivered),
        (ReceiptState.UNDELIVERED, states.undelivered),
        (ReceiptState.UNDERWAY, states.underway),
    ):
        if said.casefold() in map(str.casefold, words):
            return state, reason
    return ReceiptState.UNDERWAY, f'unknown state "{said[:40]}" {reason}'.rstrip()


def _incoming(tables: Events, inbound: Inbound, item: Item) -> Incoming:
    sender = item.needed(inbound.sender)
    body = item.at(inbound.body)
    if not isinstance(body, str):
        raise BadEvent(f"{inbound.body} is no text")
    raw = body.encode("utf-8", "surrogatepass" if item.is_json else "surrogateescape")
    message_id = (
        _made_id(item, inbound, raw)
        if inbound.message_id is None
        else item.needed(inbound.message_id)
    )
    return Incoming(
        message_id=message_id,
        sender=f"+{sender}" if inbound.add_plus and sender.isdecimal() else sender,
        body=raw,
        sent_at=_time(tables, inbound.at, item),
    )


def _made_id(item: Item, inbound: Inbound, body: bytes) -> str:
    """An id for a carrier that gives none: the same sender, time and text are the same text."""
    known = f"{item.needed(inbound.sender)}\n{item.needed(inbound.at or '')}\n".encode()
    return f"sha256-{hashlib.sha256(known + body).hexdigest()[:40]}"


def _time(tables: Events, path: str | None, item: Item) -> datetime:
    if path is None:
        return item.received_at
    try:
        return read_time(item.needed(path), tables.time, tables.zone)
    except BadEvent:
        raise
    except ValueError as error:
        raise BadEvent(f"{path} is no time of the form {tables.time}") from error
