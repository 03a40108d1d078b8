"""What a carrier's call brings: receipts and texts, by the names that its profile gives."""

import hashlib
import logging
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from urllib.parse import parse_qsl

from pydantic import JsonValue

from gateways.errors import Unreadable
from gateways.http.fields import NoJson, json_value, value_at, word
from gateways.http.profile_callbacks import Callbacks, Inbound, Receipts
from gateways.http.profile_parts import When
from gateways.http.signatures import MOST_QUERY_PARTS, checker
from gateways.http.times import read_time
from gateways.protocol import Callback, Event, Incoming, Receipt, ReceiptState

_log = logging.getLogger(__name__)


class _BadEvent(ValueError):
    """One event of a call cannot be read; says why without its content."""


@dataclass(frozen=True, slots=True)
class _Item:
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
            raise _BadEvent(f"{path} is not UTF-8")
        return found

    def needed(self, path: str) -> str:
        """The value as a word, which must be there."""
        found = self.word(path)
        if found is None:
            raise _BadEvent(f"{path} is missing or empty")
        return found


def events_reader(callbacks: Callbacks) -> Callable[[Callback], Sequence[Event]]:
    """What checks a call and answers its events, as `gateways.protocol.CalledBack.events`.

    An event that cannot be read does not keep the others of its call back: it is told to the
    log, and only a call of which nothing can be read is `gateways.errors.Unreadable`.
    """
    check = checker(callbacks.check)

    def events(callback: Callback) -> Sequence[Event]:
        """Events of one call, once its check has passed."""
        check(callback)
        found: list[Event] = []
        faults: list[str] = []
        useful = [item for item in _items(callbacks, callback) if not _is(item, callbacks.ignore)]
        for number, item in enumerate(useful, start=1):
            try:
                found.append(_event(callbacks, item))
            except _BadEvent as error:
                faults.append(f"event {number}: {error}")
        if faults and not found:
            raise Unreadable("; ".join(faults[:3]))
        for fault in faults:
            _log.warning("a carrier's call held what cannot be read: %s", fault)
        return found

    return events


def _items(callbacks: Callbacks, callback: Callback) -> Iterator[_Item]:
    if callbacks.format != "json":
        yield _Item(_form(callbacks, callback), False, callback.received_at)
        return
    try:
        read = json_value(callback.body)
    except NoJson as error:
        raise Unreadable(f"the body is {error}") from error
    listed = read if callbacks.events is None else value_at(read, callbacks.events)
    if callbacks.events is not None and not isinstance(listed, list):
        raise Unreadable(f"{callbacks.events} is no list")
    for value in listed if isinstance(listed, list) else [listed]:
        yield _Item(value, True, callback.received_at)


def _form(callbacks: Callbacks, callback: Callback) -> JsonValue:
    """Names and values of a form or query; bytes that are no UTF-8 stay what they are."""
    try:
        raw = callback.query if callbacks.format == "query" else callback.body.decode("ascii")
        parts = parse_qsl(
            raw,
            keep_blank_values=True,
            errors="surrogateescape",
            max_num_fields=MOST_QUERY_PARTS,
        )
    except ValueError as error:
        raise Unreadable(f"the {callbacks.format} cannot be read") from error
    return dict(parts)


def _is(item: _Item, when: When | None) -> bool:
    return when is not None and word(item.at(when.field)) in when.words


def _event(callbacks: Callbacks, item: _Item) -> Event:
    receipts, inbound = callbacks.receipts, callbacks.inbound
    if receipts is not None and _is_receipt(receipts, item, alone=inbound is None):
        return _receipt(callbacks, receipts, item)
    if inbound is not None and (inbound.when is None or _is(item, inbound.when)):
        return _incoming(callbacks, inbound, item)
    raise _BadEvent("neither a receipt nor a text by the profile")


def _is_receipt(receipts: Receipts, item: _Item, alone: bool) -> bool:
    """Whether an event is a receipt: as it says, or as its state is there."""
    if receipts.when is not None:
        return _is(item, receipts.when)
    return alone or item.at(receipts.state) is not None


def _receipt(callbacks: Callbacks, receipts: Receipts, item: _Item) -> Receipt:
    reference = item.word(receipts.reference)
    ours = item.word(receipts.client_reference)
    if reference is None and ours is None:
        raise _BadEvent("it names no message")
    said = item.needed(receipts.state)
    state = _state(receipts, said)
    reason = item.word(receipts.reason) or ""
    if state is None:
        reason = f'unknown state "{said[:40]}" {reason}'.rstrip()
    return Receipt(
        reference=reference,
        client_reference=ours,
        state=state or ReceiptState.UNDERWAY,
        at=_time(callbacks, receipts.at, item),
        reason=reason,
    )


def _state(receipts: Receipts, said: str) -> ReceiptState | None:
    """What a state's word means; None for a word that the profile does not have."""
    states = receipts.states
    for state, words in (
        (ReceiptState.DELIVERED, states.delivered),
        (ReceiptState.UNDELIVERED, states.undelivered),
        (ReceiptState.UNDERWAY, states.underway),
    ):
        if said.casefold() in map(str.casefold, words):
            return state
    return None


def _incoming(callbacks: Callbacks, inbound: Inbound, item: _Item) -> Incoming:
    sender = item.needed(inbound.sender)
    body = item.at(inbound.body)
    if not isinstance(body, str):
        raise _BadEvent(f"{inbound.body} is no text")
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
        sent_at=_time(callbacks, inbound.at, item),
    )


def _made_id(item: _Item, inbound: Inbound, body: bytes) -> str:
    """An id for a carrier that gives none: the same sender, time and text are the same text."""
    known = f"{item.needed(inbound.sender)}\n{item.needed(inbound.at or '')}\n".encode()
    return f"sha256-{hashlib.sha256(known + body).hexdigest()[:40]}"


def _time(callbacks: Callbacks, path: str | None, item: _Item) -> datetime:
    if path is None:
        return item.received_at
    try:
        return read_time(item.needed(path), callbacks.time, callbacks.zone)
    except _BadEvent:
        raise
    except ValueError as error:
        raise _BadEvent(f"{path} is no time of the form {callbacks.time}") from error
