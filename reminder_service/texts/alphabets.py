"""The alphabets of septets that a text can be sent in, national shift tables among them."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

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

PORTUGUESE_LOCKING = frozenset(
    "@£$¥êéúíóç\nÔô\rÁáΔ_ªÇÀ∞^\\€Ó|ÂâÊÉ"
    " !\"#º%&'()*+,-./0123456789:;<=>?"
    "ÍABCDEFGHIJKLMNOPQRSTUVWXYZÃÕÚÜ§"
    "~abcdefghijklmnopqrstuvwxyzãõ`üà"
)
"""Portuguese instead of the default alphabet (3GPP TS 23.038, A.3.3): 127 characters."""

PORTUGUESE_SINGLE = frozenset("êç\fÔôÁáΦΓ^ΩΠΨΣΘÊ{}\\[~]|ÀÍÓÚÃÕÂ€íóúãõâ")
"""Portuguese instead of the extension table (3GPP TS 23.038, A.2.3): two septets each."""

SEGMENT_OCTETS = 140
"""User data of one segment, its header included (3GPP TS 23.040, 9.2.3.24)."""

NUMBERING_OCTETS = 5
"""What numbers the parts of a text by an 8-bit reference (3GPP TS 23.040, 9.2.3.24.1)."""

TABLE_OCTETS = 3
"""What names one national table in a header (3GPP TS 23.040, 9.2.3.24.15 and 9.2.3.24.16)."""


@dataclass(frozen=True, slots=True)
class ShiftTables:
    """The two tables that septets are read by.

    A text whose letters are all in the default alphabet is sent in it, without a header. The
    carrier, or its gateway, must do the encoding of any other; carriers that do say so.

    Attributes
    ----------
    locking : letters of one septet
    single : letters of two septets, the escape and one more
    """

    locking: frozenset[str] = BASIC
    single: frozenset[str] = EXTENSION

    @property
    def named(self) -> int:
        """How many of the tables each segment's header must name."""
        return (self.locking != BASIC) + (self.single != EXTENSION)

    def holds(self, body: str) -> bool:
        """Whether every letter of a text is in one of the tables."""
        return all(letter in self.locking or letter in self.single for letter in body)

    def room(self, *, several: bool) -> int:
        """Septets that a segment has room for beside its header.

        Parameters
        ----------
        several : whether it is one of several

        Returns
        -------
        septets

        References
        ----------
        Arithmetic on 3GPP TS 23.040, 9.2.3.24: a header is one octet of length and what it says,
        and text begins at the next whole septet.

        Examples
        --------
        >>> DEFAULT.room(several=False), DEFAULT.room(several=True)
        (160, 153)
        """
        return octets_left(self.named, several=several) * 8 // 7


def octets_left(tables: int, *, several: bool) -> int:
    """User data of one segment without its header.

    Parameters
    ----------
    tables : national tables that the header names
    several : whether the segment is one of several

    Returns
    -------
    octets

    References
    ----------
    Arithmetic on 3GPP TS 23.040, 9.2.3.24.

    Examples
    --------
    >>> octets_left(0, several=False), octets_left(0, several=True)
    (140, 134)
    """
    said = tables * TABLE_OCTETS + several * NUMBERING_OCTETS
    return SEGMENT_OCTETS - said - bool(said)


DEFAULT = ShiftTables()
"""The alphabet that every carrier and phone knows."""

SHIFT_TABLES: Mapping[str, ShiftTables] = MappingProxyType(
    {
        "portuguese": ShiftTables(PORTUGUESE_LOCKING, PORTUGUESE_SINGLE),
        "portuguese-single": ShiftTables(BASIC, PORTUGUESE_SINGLE),
    }
)
"""National tables by the name that a route gives."""
