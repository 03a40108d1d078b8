"""How many segments a text takes on the air, and where it is cut."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from reminder_service.texts.alphabets import DEFAULT, ShiftTables, octets_left

Encoding = Literal["gsm-7", "ucs-2"]


@dataclass(frozen=True, slots=True)
class SegmentCount:
    """What a text takes on the air.

    Attributes
    ----------
    encoding : the alphabet that the whole text is sent in
    units : septets (gsm-7) or UTF-16 units (ucs-2) of the text, without headers or padding
    segments : segments that the carrier charges for
    """

    encoding: Encoding
    units: int
    segments: int


@dataclass(frozen=True, slots=True)
class Cut:
    """A text as it is cut into segments.

    Attributes
    ----------
    count : what it takes
    parts : the text of each segment
    left : units of room in the last segment before one more is needed
    """

    count: SegmentCount
    parts: tuple[str, ...]
    left: int


@dataclass(frozen=True, slots=True)
class _OnAir:
    """A text in its alphabet: its characters' units, and the room in a lone segment and a part."""

    encoding: Encoding
    body: str
    widths: list[int]
    lone: int
    part: int


def part_starts(widths: Iterable[int], room: int) -> list[int]:
    """Where each part begins when no character may be split over a border.

    Parameters
    ----------
    widths : units of each character, in order, each at most ``room``
    room : units in one part

    Returns
    -------
    the place of each part's first character

    References
    ----------
    Arithmetic.

    Examples
    --------
    >>> part_starts([1, 2, 2], room=3)
    [0, 2]
    """
    starts, left = [], 0
    for place, width in enumerate(widths):
        if width > left:
            starts.append(place)
            left = room
        left -= width
    return starts


def parts(widths: Iterable[int], room: int) -> int:
    """Parts that characters fill when none may be split over a border.

    Parameters
    ----------
    widths : units of each character, in order, each at most ``room``
    room : units in one part

    Returns
    -------
    the number of parts

    References
    ----------
    Arithmetic.

    Examples
    --------
    >>> parts([1, 2, 2], room=3)
    2
    """
    return len(part_starts(widths, room))


def segments(body: str, tables: ShiftTables = DEFAULT) -> SegmentCount:
    """Alphabet, length and segments of a text.

    One character outside the GSM 7-bit alphabet sends the whole text by the national tables, if
    the carrier has some that hold it, else as UCS-2. An empty text is never sent, so it takes no
    segment. A lone surrogate counts as one unit.

    Parameters
    ----------
    body : any text
    tables : what the carrier can send; the default alphabet alone if left out

    Returns
    -------
    what it takes on the air

    References
    ----------
    3GPP TS 23.038 (alphabets), 3GPP TS 23.040 (parts of a long message).

    Examples
    --------
    >>> segments("Thin on Sat 5 Dec")
    SegmentCount(encoding='gsm-7', units=17, segments=1)
    >>> segments("€" * 80).units
    160
    """
    sent = _on_air(body, tables)
    units = sum(sent.widths)
    if units <= sent.lone:
        return SegmentCount(sent.encoding, units, min(units, 1))
    return SegmentCount(sent.encoding, units, parts(sent.widths, sent.part))


def cut(body: str, tables: ShiftTables = DEFAULT) -> Cut:
    """A text cut where its segments end.

    Parameters
    ----------
    body : any text
    tables : what the carrier can send

    Returns
    -------
    the parts; none of an empty text

    References
    ----------
    As for `segments`.

    Examples
    --------
    >>> cut("Thin now.").parts, cut("Thin now.").left
    (('Thin now.',), 151)
    """
    sent = _on_air(body, tables)
    count = segments(body, tables)
    if count.segments <= 1:
        return Cut(count, (sent.body,) if body else (), sent.lone - count.units)
    starts = part_starts(sent.widths, sent.part)
    ends = [*starts[1:], len(sent.body)]
    texts = tuple(sent.body[start:end] for start, end in zip(starts, ends, strict=True))
    return Cut(count, texts, sent.part - sum(sent.widths[starts[-1] :]))


def is_gsm(body: str) -> bool:
    """Whether every character is in the GSM 7-bit default alphabet or its extension table.

    Parameters
    ----------
    body : any text

    Returns
    -------
    True if the text can be sent in septets on every carrier

    References
    ----------
    3GPP TS 23.038.
    """
    return DEFAULT.holds(body)


def _on_air(body: str, tables: ShiftTables) -> _OnAir:
    alphabet = DEFAULT if is_gsm(body) else tables
    if alphabet.holds(body):
        widths = [1 if letter in alphabet.locking else 2 for letter in body]
        lone, part = alphabet.room(several=False), alphabet.room(several=True)
        return _OnAir("gsm-7", body, widths, lone, part)
    # Two surrogates that stand side by side are one character on the air.
    paired = body.encode("utf-16-be", "surrogatepass").decode("utf-16-be", "surrogatepass")
    widths = [2 if ord(char) > 0xFFFF else 1 for char in paired]
    lone, part = (octets_left(0, several=several) // 2 for several in (False, True))
    return _OnAir("ucs-2", paired, widths, lone, part)
