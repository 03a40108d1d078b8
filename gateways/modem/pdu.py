"""Texts and receipts as a GSM modem spells them: the PDUs of 3GPP TS 23.040."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from enum import Enum

from gsm0338 import Codec

from gateways.errors import GatewayError
from gateways.protocol import ReceiptState

_GSM = Codec()
_ESCAPE = "\x1b"
_SINGLE_SEPTETS, _PART_SEPTETS = 160, 153
_SINGLE_BYTES, _PART_BYTES = 140, 134
_MOST_PARTS = 255
_DELIVER, _SUBMIT, _STATUS_REPORT = 0, 1, 2
_PARTS_8BIT, _PARTS_16BIT = 0x00, 0x08
_SUBMIT_RELATIVE_VALIDITY, _ASK_FOR_RECEIPT, _HAS_HEADER = 0x10, 0x20, 0x40


class BadPdu(GatewayError):
    """A PDU that the modem showed cannot be read."""

    def __init__(self, pdu: str, why: str) -> None:
        # The PDU itself holds a farmer's number and words: it stays out of the message.
        super().__init__(
            f"a PDU of {len(pdu)} characters cannot be read: {why}; expected 3GPP TS 23.040 in hex"
        )
        self.pdu = pdu


class TooLong(GatewayError):
    """A text has more parts than a message can have."""

    def __init__(self, parts: int) -> None:
        super().__init__(f"the text has {parts} parts: shorten it to at most {_MOST_PARTS}")
        self.parts = parts


class Alphabet(Enum):
    """How the bytes of a text are to be read (3GPP TS 23.038)."""

    GSM = "gsm"
    BINARY = "binary"
    UCS2 = "ucs2"


@dataclass(frozen=True, slots=True)
class Submit:
    """One part, ready for ``AT+CMGS``.

    Attributes
    ----------
    octets : length that ``AT+CMGS=`` names: without the service centre's address
    hex : the PDU
    """

    octets: int
    hex: str


@dataclass(frozen=True, slots=True)
class Deliver:
    """One part of a text that came in.

    Attributes
    ----------
    sender : E.164 where the network says so, else the digits or the name it gave
    sent_at : aware UTC instant, by the service centre's clock
    alphabet, units : the text: one byte a septet (GSM), bytes, or UTF-16 (UCS2)
    text_id, parts, number : which long text it belongs to, of how many parts, which one from 1;
        a lone text is part 1 of 1
    """

    sender: str
    sent_at: datetime
    alphabet: Alphabet
    units: bytes
    text_id: int = 0
    parts: int = 1
    number: int = 1


@dataclass(frozen=True, slots=True)
class StatusReport:
    """What the service centre says of a part it took.

    Attributes
    ----------
    message : the number that ``+CMGS`` gave, 0 to 255
    recipient : as the network gave it
    at : aware UTC instant
    status : TP-Status (3GPP TS 23.040, 9.2.3.15)
    """

    message: int
    recipient: str
    at: datetime
    status: int

    @property
    def state(self) -> ReceiptState:
        """Delivered, still on its way, or given up.

        References
        ----------
        3GPP TS 23.040, 9.2.3.15.
        """
        if self.status in (0x00, 0x02):
            return ReceiptState.DELIVERED
        # 1: passed on, but nobody can confirm it; 0x20 to 0x3F: the centre still tries.
        if self.status == 0x01 or 0x20 <= self.status < 0x40:
            return ReceiptState.UNDERWAY
        return ReceiptState.UNDELIVERED


def submits(
    to: str, body: str, text_id: int, valid: timedelta, *, smsc: str | None, receipt: bool
) -> list[Submit]:
    """A text as the parts that the modem sends.

    Parameters
    ----------
    to : E.164 number with its plus sign
    body : the text
    text_id : 0 to 255; binds the parts of a long text together
    valid : how long the carrier should try; rounded down to what the format can say
    smsc : service centre's E.164 number; None leaves it to the SIM
    receipt : whether to ask for a status report

    Raises
    ------
    TooLong
        It has more than 255 parts.

    References
    ----------
    3GPP TS 23.040, 9.2.2.2 (SMS-SUBMIT), 9.2.3.24.1 (parts).

    Examples
    --------
    >>> one = submits("+447700900001", "hi", 0, timedelta(hours=1), smsc=None, receipt=False)
    >>> one[0].octets, one[0].hex
    (16, '0011000C9144770009001000000B02E834')
    """
    alphabet, pieces = _pieces(body)
    if len(pieces) > _MOST_PARTS:
        raise TooLong(len(pieces))
    long = len(pieces) > 1
    first = _SUBMIT | _SUBMIT_RELATIVE_VALIDITY
    first |= (_ASK_FOR_RECEIPT if receipt else 0) | (_HAS_HEADER if long else 0)
    head = bytes([first, 0]) + _address(to)
    head += bytes([0, 0x08 if alphabet is Alphabet.UCS2 else 0, _relative_validity(valid)])
    centre = b"\0" if smsc is None else _centre(smsc)
    made = []
    for number, piece in enumerate(pieces, start=1):
        header = bytes([5, _PARTS_8BIT, 3, text_id, len(pieces), number]) if long else b""
        tpdu = head + _user_data(alphabet, header, piece)
        made.append(Submit(len(tpdu), (centre + tpdu).hex().upper()))
    return made


def read_pdu(pdu: str) -> Deliver | StatusReport:
    """Read what the modem shows by ``+CMGL`` or ``+CDS``.

    Raises
    ------
    BadPdu
        It is no hex, ends too early, or is neither a text nor a status report.
    """
    try:
        reader = _Reader(bytes.fromhex(pdu))
        reader.take(reader.octet())  # the service centre's address
        first = reader.octet()
        if first & 3 == _DELIVER:
            return _deliver(reader, has_header=bool(first & _HAS_HEADER))
        if first & 3 == _STATUS_REPORT:
            return _status_report(reader)
    except ValueError as error:
        raise BadPdu(pdu, str(error)) from error
    raise BadPdu(pdu, "it is neither a text nor a status report")


def body_of(parts: Sequence[Deliver]) -> bytes:
    """The text of parts in order, in UTF-8; binary parts as they came.

    Parts are joined before they are read, since a sender may split a character over a border.
    """
    units = b"".join(part.units for part in parts)
    match parts[0].alphabet:
        case Alphabet.BINARY:
            return units
        case Alphabet.UCS2:
            return units.decode("utf-16-be", "replace").encode()
        case Alphabet.GSM:
            return _gsm_text(units).encode()


class _Reader:
    """Takes octets from the front and minds the end."""

    def __init__(self, octets: bytes) -> None:
        self._octets = octets
        self._at = 0

    def take(self, count: int) -> bytes:
        """The next octets; a PDU that ends before them is refused."""
        taken = self._octets[self._at : self._at + count]
        if len(taken) < count:
            raise ValueError(f"it ends at octet {len(self._octets)}")
        self._at += count
        return taken

    def octet(self) -> int:
        return self.take(1)[0]


def _deliver(reader: _Reader, *, has_header: bool) -> Deliver:
    sender = _read_address(reader)
    reader.octet()  # protocol identifier
    alphabet = _alphabet(reader.octet())
    sent_at = _instant(reader.take(7))
    length = reader.octet()
    octets = reader.take((length * 7 + 7) // 8 if alphabet is Alphabet.GSM else length)
    header = octets[1 : 1 + octets[0]] if has_header else b""
    skipped = len(header) + 1 if has_header else 0
    if alphabet is Alphabet.GSM:
        units = _septets(octets, length)[(skipped * 8 + 6) // 7 :]
    else:
        units = octets[skipped:]
    return Deliver(sender, sent_at, alphabet, units, *_place(header))


def _status_report(reader: _Reader) -> StatusReport:
    message = reader.octet()
    recipient = _read_address(reader)
    reader.take(7)  # when the centre took it
    return StatusReport(message, recipient, _instant(reader.take(7)), reader.octet())


def _place(header: bytes) -> tuple[int, int, int]:
    """Which long text a part belongs to, of how many parts, and which one it is."""
    reader = _Reader(header)
    left = len(header)
    while left > 0:
        kind, length = reader.octet(), reader.octet()
        value = reader.take(length)
        left -= 2 + length
        if (kind, length) in ((_PARTS_8BIT, 3), (_PARTS_16BIT, 4)):
            *text_id, parts, number = value
            if 1 <= number <= parts:
                return int.from_bytes(text_id, "big"), parts, number
    return 0, 1, 1


def _alphabet(coding: int) -> Alphabet:
    """Read the data coding scheme (3GPP TS 23.038, 4)."""
    group = coding >> 4
    if group < 0x8:
        if coding & 0x20:  # compressed: nobody's phone does so, but it is no GSM text
            return Alphabet.BINARY
        letters = (Alphabet.GSM, Alphabet.BINARY, Alphabet.UCS2, Alphabet.GSM)
        return letters[coding >> 2 & 3]
    if group == 0xE:
        return Alphabet.UCS2
    if group == 0xF and coding & 0x04:
        return Alphabet.BINARY
    return Alphabet.GSM


def _pieces(body: str) -> tuple[Alphabet, list[bytes]]:
    """Alphabet and units of each part; no character is split over a border."""
    letters: list[bytes]
    try:
        # A bare escape has a septet, but would change the letter after it.
        letters = [_GSM.encode(letter if letter != _ESCAPE else "\ufffd")[0] for letter in body]
        alphabet, single, part = Alphabet.GSM, _SINGLE_SEPTETS, _PART_SEPTETS
    except UnicodeEncodeError:
        whole = body.encode("utf-16-be", "surrogatepass").decode("utf-16-be", "replace")
        letters = [letter.encode("utf-16-be") for letter in whole]
        alphabet, single, part = Alphabet.UCS2, _SINGLE_BYTES, _PART_BYTES
    if sum(map(len, letters)) <= single:
        return alphabet, [b"".join(letters)]
    pieces = [b""]
    for letter in letters:
        if len(pieces[-1]) + len(letter) > part:
            pieces.append(b"")
        pieces[-1] += letter
    return alphabet, pieces


def _user_data(alphabet: Alphabet, header: bytes, units: bytes) -> bytes:
    """Length and content of one part."""
    if alphabet is Alphabet.UCS2:
        return bytes([len(header) + len(units)]) + header + units
    skipped = (len(header) * 8 + 6) // 7
    octets = bytearray(_packed(b"\0" * skipped + units))
    octets[: len(header)] = header
    return bytes([skipped + len(units)]) + octets


def _packed(septets: bytes) -> bytes:
    """Septets packed into octets, lowest bits first (3GPP TS 23.038, 6.1.2.1)."""
    bits = sum(septet << 7 * place for place, septet in enumerate(septets))
    return bits.to_bytes((len(septets) * 7 + 7) // 8, "little")


def _septets(octets: bytes, count: int) -> bytes:
    """The opposite of `_packed`."""
    bits = int.from_bytes(octets, "little")
    return bytes(bits >> 7 * place & 0x7F for place in range(count))


def _gsm_text(septets: bytes) -> str:
    text, _read = _GSM.decode(septets, "replace")
    return str(text)


def _address(number: str) -> bytes:
    digits = number.removeprefix("+")
    return bytes([len(digits), _type_of(number)]) + _swapped(digits)


def _centre(number: str) -> bytes:
    """Spell the service centre's address: its length counts octets, not digits."""
    octets = bytes([_type_of(number)]) + _swapped(number.removeprefix("+"))
    return bytes([len(octets)]) + octets


def _type_of(number: str) -> int:
    return 0x91 if number.startswith("+") else 0x81


def _swapped(digits: str) -> bytes:
    """Two digits an octet, the second in the upper half."""
    even = digits + "F" * (len(digits) % 2)
    return bytes.fromhex("".join(b + a for a, b in zip(even[::2], even[1::2], strict=True)))


def _read_address(reader: _Reader) -> str:
    """A number, with its plus sign where the network says so, or a name."""
    length, kind = reader.octet(), reader.octet()
    octets = reader.take((length + 1) // 2)
    match kind >> 4 & 7:
        case 5:  # a name, in septets
            return _gsm_text(_septets(octets, length * 4 // 7))
        case 1:
            return "+" + _digits(octets, length)
        case _:
            return _digits(octets, length)


def _digits(octets: bytes, length: int) -> str:
    halves = "".join(f"{octet & 0xF:x}{octet >> 4:x}" for octet in octets)[:length]
    return halves.translate({ord("a"): "*", ord("b"): "#", ord("c"): "a", ord("d"): "b"})


def _instant(octets: bytes) -> datetime:
    """A time stamp (3GPP TS 23.040, 9.2.3.11) as UTC.

    Raises
    ------
    ValueError
        It is no time.
    """
    year, month, day, hour, minute, second = (
        (octet & 0xF) * 10 + (octet >> 4) for octet in octets[:6]
    )
    zone = octets[6]
    quarters = (zone & 0x7) * 10 + (zone >> 4)
    east = timezone(timedelta(minutes=15 * (-quarters if zone & 0x8 else quarters)))
    return datetime(2000 + year, month, day, hour, minute, second, tzinfo=east).astimezone(UTC)


def _relative_validity(valid: timedelta) -> int:
    """TP-VP in one octet (3GPP TS 23.040, 9.2.3.12.1): the longest that is not longer.

    Examples
    --------
    >>> [_relative_validity(timedelta(hours=h)) for h in (1, 13, 30, 24 * 30, 24 * 35)]
    [11, 145, 167, 196, 197]
    """
    minutes = int(valid.total_seconds() // 60)
    hours, days = minutes // 60, minutes // (24 * 60)
    if hours < 12:
        return max(0, minutes // 5 - 1)
    if hours <= 24:
        return 143 + (minutes - 12 * 60) // 30
    if days < 35:
        return min(196, 166 + days) if days >= 2 else 167
    return min(255, 192 + days // 7)
