"""One page of what waits at a carrier: its events, where to go on, and whether more waits."""

import hashlib
import json
import logging
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from pydantic import JsonValue

from gateways.http.cursors import Cursor, cursor_of
from gateways.http.events import BadEvent, Item, event_of, is_meant
from gateways.http.fields import json_value, list_at, value_at, word
from gateways.http.profile_polling import Polling
from gateways.protocol import Event

_NO = frozenset({"false", "0", "no", "n"})
"""Words that say that no more waits."""

_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Waiting:
    """One event of a page.

    Attributes
    ----------
    event : what it is; None if it is of no use
    mark : the same for the same event, whenever it comes
    id : by which it is let go; None if it has none, or needs none
    """

    event: Event | None
    mark: bytes
    id: JsonValue


@dataclass(frozen=True, slots=True)
class Page:
    """What one fetch brought.

    Attributes
    ----------
    waiting : the events that can be read, as they stand
    cursor : where to go on, if the page says so
    more : whether another page waits; None if the carrier does not say
    """

    waiting: Sequence[Waiting]
    cursor: Cursor | None
    more: bool | None


def read_page(polling: Polling, content: bytes, at: datetime) -> Page:
    """Read a page that was fetched at an aware UTC instant.

    An event that cannot be read does not keep the others back: it is told to the log, and is not
    let go by its id.

    Raises
    ------
    ValueError
        It is no page, its cursor is none, or no event of it can be read.
    """
    read = json_value(content)
    listed = list_at(read, polling.events)
    if listed is None:
        raise ValueError(f"{polling.events or 'the whole'} is no list")
    items = [Item(value, True, at) for value in listed]
    return Page(_readable(polling, items), _cursor(polling, read, listed), _more(polling, read))


def _readable(polling: Polling, items: Sequence[Item]) -> list[Waiting]:
    waiting: list[Waiting] = []
    faults: list[str] = []
    for number, item in enumerate(items, start=1):
        try:
            waiting.append(_waiting(polling, item))
        except BadEvent as error:
            faults.append(f"event {number}: {error}")
    if faults and not waiting:
        raise ValueError("; ".join(faults[:3]))
    for fault in faults:
        _log.warning("a page of a carrier held what cannot be read: %s", fault)
    return waiting


def _waiting(polling: Polling, item: Item) -> Waiting:
    event = None if is_meant(item, polling.ignore) else event_of(polling, item)
    place = None if polling.done is None else polling.done.id
    if event is not None and place is not None:
        item.needed(place)
    written = json.dumps(item.value, sort_keys=True).encode()
    return Waiting(event, hashlib.sha256(written).digest(), item.at(place))


def _cursor(polling: Polling, read: JsonValue, listed: Sequence[JsonValue]) -> Cursor | None:
    if polling.cursor is not None:
        return cursor_of(value_at(read, polling.cursor))
    if polling.last is None or not listed:
        return None
    return cursor_of(value_at(listed[-1], polling.last))


def _more(polling: Polling, read: JsonValue) -> bool | None:
    if polling.more is None:
        return None
    said = word(value_at(read, polling.more))
    return said is not None and said.casefold() not in _NO
