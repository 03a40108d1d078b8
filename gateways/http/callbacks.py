"""What a carrier's call brings: receipts and texts, once it is seen to be the carrier's."""

import logging
from collections.abc import Callable, Iterator, Sequence
from urllib.parse import parse_qsl

from pydantic import JsonValue

from gateways.errors import Unreadable
from gateways.http.events import BadEvent, Item, event_of, is_meant
from gateways.http.fields import NoJson, json_value, value_at
from gateways.http.profile_callbacks import Callbacks
from gateways.http.signatures import MOST_QUERY_PARTS, checker
from gateways.protocol import Callback, Event

_log = logging.getLogger(__name__)


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
        useful = [
            item for item in _items(callbacks, callback) if not is_meant(item, callbacks.ignore)
        ]
        for number, item in enumerate(useful, start=1):
            try:
                found.append(event_of(callbacks, item))
            except BadEvent as error:
                faults.append(f"event {number}: {error}")
        if faults and not found:
            raise Unreadable("; ".join(faults[:3]))
        for fault in faults:
            _log.warning("a carrier's call held what cannot be read: %s", fault)
        return found

    return events


def _items(callbacks: Callbacks, callback: Callback) -> Iterator[Item]:
    if callbacks.format != "json":
        yield Item(_form(callbacks, callback), False, callback.received_at)
        return
    try:
        read = json_value(callback.body)
    except NoJson as error:
        raise Unreadable(f"the body is {error}") from error
    listed = read if callbacks.events is None else value_at(read, callbacks.events)
    if callbacks.events is not None and not isinstance(listed, list):
        raise Unreadable(f"{callbacks.events} is no list")
    for value in listed if isinstance(listed, list) else [listed]:
        yield Item(value, True, callback.received_at)


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
