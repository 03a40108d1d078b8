"""How many segments a text takes on the air, and how texts share them."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

BASIC = frozenset(
    "@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ"
    " !\"#¤%&'()*+,-./0123456789:;<=>?"
    "¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§"
    "¿abcdefghijklmnopqrstuvwxyzäöñüà"
)
"""The GSM 7-bit default alphabet (3GPP TS 23.038, 6.2.1): 127 characters.

The 128th position is the escape to the extension table: it is no character of a text.
"""

EXTENSION = frozenset("\f^{}\\[~]|€")
"""The extension table (3GPP TS 23.038, 6.2.1.1): escape and one more, so two septets each."""

GSM_SINGLE, GSM_PART = 160, 153
"""Septets in a lone segment and in each of several (3GPP TS 23.040: 8-bit reference)."""

UCS2_SINGLE, UCS2_PART = 70, 67
"""UTF-16 units in a lone segment and in each of several (3GPP TS 23.040)."""

BETWEEN = " "
"""What stands between two texts sent as one."""


@dataclass(frozen=True, slots=True)
class SegmentCount:
    """What a text takes on the air.

    Attributes
    ----------
    encoding : the alphabet that the whole text is sent in
    units : septets (gsm-7) or UTF-16 units (ucs-2) of the text, without headers or padding
    segments : segments that the carrier charges for
    """

    encoding: Literal["gsm-7", "ucs-2"]
    units: int
    segments: int


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
    count, left = 0, 0
    for width in widths:
        if width > left:
            count, left = count + 1, room
        left -= width
    return count


def segments(body: str) -> SegmentCount:
    """Alphabet, length and segments of a text.

    One character outside the GSM 7-bit alphabet sends the whole text as UCS-2. An empty text is
    never sent, so it takes no segment. A lone surrogate counts as one unit.

    Parameters
    ----------
    body : any text

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
    if is_gsm(body):
        widths = [2 if char in EXTENSION else 1 for char in body]
        return _counted("gsm-7", widths, GSM_SINGLE, GSM_PART)
    # Two surrogates that stand side by side are one character on the air.
    paired = body.encode("utf-16-be", "surrogatepass").decode("utf-16-be", "surrogatepass")
    widths = [2 if ord(char) > 0xFFFF else 1 for char in paired]
    return _counted("ucs-2", widths, UCS2_SINGLE, UCS2_PART)


def is_gsm(body: str) -> bool:
    """Whether every character is in the GSM 7-bit default alphabet or its extension table.

    Parameters
    ----------
    body : any text

    Returns
    -------
    True if the text can be sent in septets

    References
    ----------
    3GPP TS 23.038.
    """
    return all(char in BASIC or char in EXTENSION for char in body)


def _counted(
    encoding: Literal["gsm-7", "ucs-2"], widths: list[int], single: int, part: int
) -> SegmentCount:
    units = sum(widths)
    lone = units <= single
    return SegmentCount(encoding, units, min(units, 1) if lone else parts(widths, part))
