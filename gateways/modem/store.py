"""Texts out of what stands in a modem's store."""

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from gateways.modem.pdu import BadPdu, Deliver, StatusReport, body_of, read_pdu
from gateways.protocol import Incoming

PARTS_WAIT = timedelta(days=1)
"""How long the parts of a text that is not whole are kept waiting; `setting`."""

UNREADABLE = "unreadable"
"""Sender of what is no readable PDU."""

_SENT_TOGETHER = timedelta(hours=1)
"""Parts of one text reach the service centre within this; `setting`."""

_GAP = b" \xe2\x80\xa6 "  # an ellipsis where a part is missing
_RECEIVED = ("0", "1")


@dataclass(frozen=True, slots=True)
class Stored:
    """One place of the store.

    Attributes
    ----------
    index : its number, for ``AT+CMGD``
    pdu : in hex
    """

    index: int
    pdu: str


_Group = dict[int, tuple[Deliver, Stored]]
"""Parts of one text, by number."""


@dataclass(frozen=True, slots=True)
class Text:
    """One text and the places that it fills.

    Attributes
    ----------
    event : as it is brought in
    places : the store's places to clear afterwards
    """

    event: Incoming
    places: tuple[int, ...]


def stored_pdus(lines: Sequence[str]) -> list[Stored]:
    """What ``AT+CMGL`` shows, without drafts and copies of what was sent.

    Examples
    --------
    >>> stored_pdus(["+CMGL: 3,1,,24", "0791", "+CMGL: 4,2,,24", "0792"])
    [Stored(index=3, pdu='0791')]
    """
    found = []
    for head, pdu in pairwise(lines):
        if head.startswith("+CMGL:"):
            index, status, *_rest = head.removeprefix("+CMGL:").strip().split(",")
            if index.isdecimal() and status.strip() in _RECEIVED:
                found.append(Stored(int(index), pdu))
    return found


def status_reports(stored: Iterable[Stored]) -> list[tuple[StatusReport, int]]:
    """Status reports that the modem put into its store, and their places."""
    read = ((_readable(each), each.index) for each in stored)
    return [(found, index) for found, index in read if isinstance(found, StatusReport)]


def texts(stored: Iterable[Stored], now: datetime, full: bool) -> list[Text]:
    """Texts to bring in, oldest first.

    A text whose parts have not all come waits for them for `PARTS_WAIT`; after that it is
    brought in with gaps. In a full store nothing more can come, so the oldest one goes at once.

    Parameters
    ----------
    stored : what stands in the store
    now : aware UTC instant
    full : whether no place is free
    """
    ready: list[Text] = []
    partial: list[Text] = []
    for group in _groups(stored, ready, now):
        whole = len(group) == next(iter(group.values()))[0].parts
        made = _text(group)
        (ready if whole or now - made.event.sent_at > PARTS_WAIT else partial).append(made)
    if full and not ready and partial:
        ready.append(min(partial, key=lambda text: text.event.sent_at))
    return sorted(ready, key=lambda text: text.event.sent_at)


def _groups(stored: Iterable[Stored], ready: list[Text], now: datetime) -> list[_Group]:
    """Parts by the text they belong to; what is unreadable is ready as it stands."""
    read = [(each, _readable(each)) for each in stored]
    ready.extend(_unreadable(each, now) for each, part in read if part is None)
    groups: list[_Group] = []
    parts = [(part, each) for each, part in read if isinstance(part, Deliver)]
    # Newest first: an orphan of an earlier text of the same id is then left over, not mixed in.
    for part, each in sorted(parts, key=lambda pair: pair[0].sent_at, reverse=True):
        group = next((group for group in groups if _belongs(part, group)), None)
        if group is None:
            groups.append(group := {})
        group[part.number] = (part, each)
    return groups


def _belongs(part: Deliver, group: _Group) -> bool:
    """Whether a part is one that a text lacks; ids of long texts come round."""
    other = next(iter(group.values()))[0]
    return (
        part.number not in group
        and (part.sender, part.text_id, part.parts) == (other.sender, other.text_id, other.parts)
        and abs(part.sent_at - other.sent_at) <= _SENT_TOGETHER
    )


def _text(group: _Group) -> Text:
    numbers = sorted(group)
    first = group[numbers[0]][0]
    if len(numbers) == first.parts:
        body = body_of([group[number][0] for number in numbers])
    else:
        every = range(1, first.parts + 1)
        body = b"".join(body_of([group[n][0]]) if n in group else _GAP for n in every)
    stored = [group[number][1] for number in numbers]
    event = Incoming(_id(stored), first.sender, body, max(group[n][0].sent_at for n in numbers))
    return Text(event, tuple(each.index for each in stored))


def _unreadable(each: Stored, now: datetime) -> Text:
    event = Incoming(_id([each]), UNREADABLE, each.pdu.encode("latin-1"), now)
    return Text(event, (each.index,))


def _id(stored: Sequence[Stored]) -> str:
    """The same for the same PDUs, wherever in the store they stand."""
    spelt = "\n".join(each.pdu.upper() for each in stored)
    return f"modem-{hashlib.sha256(spelt.encode('latin-1')).hexdigest()[:40]}"


def _readable(each: Stored) -> Deliver | StatusReport | None:
    try:
        return read_pdu(each.pdu)
    except BadPdu:
        return None
