"""Texts as SMPP carries them: alphabets, parts and headers."""

import hashlib
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime

from gsm0338 import Codec

from gateways.errors import Refused

GSM, ASCII, LATIN, UCS2 = 0, 1, 3, 8
"""Values of data_coding that are read as letters (SMPP 3.4, 5.2.19)."""

_GSM_CODEC = Codec()
_ESCAPE = 0x1B
_SPELLED = {
    str(_GSM_CODEC.decode(octets)[0]): octets
    for octets in [
        # A bare escape has a septet, but would change the letter after it.
        *(bytes([septet]) for septet in range(0x80) if septet != _ESCAPE),
        *(bytes([_ESCAPE, _GSM_CODEC.encode(letter)[0][1]]) for letter in "\f^{}\\[~]|€"),
    ]
}
"""Units of every letter, looked up since a text is spelled letter by letter."""
_SINGLE_SEPTETS, _PART_SEPTETS = 160, 153
_SINGLE_BYTES, _PART_BYTES = 140, 134
_MOST_PARTS = 255
_HAS_HEADER = 0x40
_PARTS_8BIT, _PARTS_16BIT = 0x00, 0x08
_MOST_PAYLOAD = 64_000
_SAR_REFERENCE, _SAR_TOTAL, _SAR_NUMBER = 0x020C, 0x020E, 0x020F
_PAYLOAD = 0x0424


@dataclass(frozen=True, slots=True)
class Delivery:
    """One deliver_sm as it came.

    Attributes
    ----------
    sequence : number that its answer names
    sender, to : addresses, with a plus sign where the carrier says that they are international
    tlvs : optional parameters by their tag
    """

    sequence: int
    sender: str
    to: str
    esm_class: int
    data_coding: int
    short_message: bytes
    tlvs: Mapping[int, bytes]

    @property
    def content(self) -> bytes:
        """The user data, wherever it stands."""
        return self.short_message or self.tlvs.get(_PAYLOAD, b"")


@dataclass(frozen=True, slots=True)
class Piece:
    """One part of a text that came in; a lone text is part 1 of 1.

    Attributes
    ----------
    text : what all parts of one text share
    units : bytes in the alphabet that data_coding names
    """

    text: tuple[str, ...]
    parts: int
    number: int
    data_coding: int
    units: bytes


def submit_fields(body: str, long_texts: str, reference: str) -> list[dict[str, int | bytes]]:
    r"""What each submit_sm of one text holds of it.

    Parameters
    ----------
    body : the text
    long_texts : ``udh`` for parts, ``payload`` for one message_payload
    reference : our own id of it, which the number that binds its parts together is made of

    Raises
    ------
    gateways.errors.Refused
        The text is too long for either way.

    References
    ----------
    SMPP 3.4, 4.4.1; 3GPP TS 23.038, 6.2.1; 3GPP TS 23.040, 9.2.3.24.1.

    Examples
    --------
    >>> submit_fields("5 €", "udh", "one")
    [{'data_coding': 0, 'short_message': b'5 \x1be'}]
    """
    coding, letters = _letters(body)
    single, part = (
        (_SINGLE_SEPTETS, _PART_SEPTETS) if coding == GSM else (_SINGLE_BYTES, _PART_BYTES)
    )
    whole = b"".join(letters)
    if len(whole) <= single:
        return [{"data_coding": coding, "short_message": whole}]
    if long_texts == "payload":
        if len(whole) > _MOST_PAYLOAD:
            raise Refused(f"the text has {len(whole)} bytes: shorten it to {_MOST_PAYLOAD}")
        return [{"data_coding": coding, "message_payload": whole}]
    pieces = _pieces(letters, part)
    if len(pieces) > _MOST_PARTS:
        raise Refused(f"the text has {len(pieces)} parts: shorten it to {_MOST_PARTS}")
    text_id = hashlib.sha256(reference.encode()).digest()[0]
    return [
        {
            "data_coding": coding,
            "esm_class": _HAS_HEADER,
            "short_message": bytes([5, _PARTS_8BIT, 3, text_id, len(pieces), number]) + units,
        }
        for number, units in enumerate(pieces, start=1)
    ]


def absolute_time(at: datetime) -> str:
    """An aware instant as validity_period has it, in UTC.

    References
    ----------
    SMPP 3.4, 7.1.1.

    Examples
    --------
    >>> absolute_time(datetime(2026, 12, 12, 16, 0, tzinfo=UTC))
    '261212160000000+'
    """
    return f"{at.astimezone(UTC):%y%m%d%H%M%S}000+"


def piece_of(delivery: Delivery) -> Piece:
    """A text that came in, or its part, by its header or its sar_ parameters."""
    content, place = delivery.content, None
    if delivery.esm_class & _HAS_HEADER and content:
        header, content = content[1 : 1 + content[0]], content[1 + content[0] :]
        place = _place_in_header(header)
    if place is None:
        place = _place_in_tlvs(delivery.tlvs)
    if place is None:
        return Piece((uuid.uuid4().hex,), 1, 1, delivery.data_coding, content)
    text_id, parts, number = place
    text = (delivery.sender, delivery.to, text_id, str(parts))
    return Piece(text, parts, number, delivery.data_coding, content)


def body_of(data_coding: int, units: bytes) -> bytes:
    r"""A text that came in, in UTF-8; one in no known alphabet stays as it came.

    Examples
    --------
    >>> body_of(8, b"\x00h\x00i"), body_of(0, b"a\x00")
    (b'hi', b'a@')
    """
    match data_coding:
        case 0 | 0xF0 | 0xF1 | 0xF2 | 0xF3:
            text, _read = _GSM_CODEC.decode(units, "replace")
            return str(text).encode()
        case 1 | 3:
            return units.decode("latin-1").encode()
        case 8:
            return units.decode("utf-16-be", "replace").encode()
        case _:
            return units


def tlvs(octets: bytes) -> dict[int, bytes]:
    """Optional parameters by tag; what is cut off at the end is left out.

    References
    ----------
    SMPP 3.4, 3.2.4.1.
    """
    found = {}
    while len(octets) >= 4:
        tag, length = int.from_bytes(octets[:2], "big"), int.from_bytes(octets[2:4], "big")
        if len(octets) < 4 + length:
            break
        found[tag] = octets[4 : 4 + length]
        octets = octets[4 + length :]
    return found


def _letters(body: str) -> tuple[int, list[bytes]]:
    """The data coding and each letter's units, so that none is split over a border."""
    try:
        return GSM, [_SPELLED[letter] for letter in body]
    except KeyError:
        whole = body.encode("utf-16-be", "surrogatepass").decode("utf-16-be", "replace")
        return UCS2, [letter.encode("utf-16-be") for letter in whole]


def _pieces(letters: list[bytes], part: int) -> list[bytes]:
    pieces, last = [], b""
    for letter in letters:
        if len(last) + len(letter) > part:
            pieces.append(last)
            last = b""
        last += letter
    return [*pieces, last]


def _place_in_header(header: bytes) -> tuple[str, int, int] | None:
    """Which long text a part belongs to, of how many parts, and which one it is."""
    while len(header) >= 2:
        kind, length = header[0], header[1]
        value, header = header[2 : 2 + length], header[2 + length :]
        if (kind, len(value)) in ((_PARTS_8BIT, 3), (_PARTS_16BIT, 4)):
            return _place(value[:-2], value[-2], value[-1])
    return None


def _place_in_tlvs(given: Mapping[int, bytes]) -> tuple[str, int, int] | None:
    found = [given.get(tag, b"") for tag in (_SAR_REFERENCE, _SAR_TOTAL, _SAR_NUMBER)]
    if not all(found):
        return None
    return _place(found[0], found[1][-1], found[2][-1])


def _place(text_id: bytes, parts: int, number: int) -> tuple[str, int, int] | None:
    return (text_id.hex(), parts, number) if 1 <= number <= parts else None
