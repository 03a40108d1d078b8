"""Which texts the GSM 7-bit alphabet holds."""

_BASIC = (
    "@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?"
    "¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿abcdefghijklmnopqrstuvwxyzäöñüà"
)
_EXTENDED = "\f^{}\\[~]|€"
_LETTERS = frozenset(_BASIC + _EXTENDED)


def fits_gsm(text: str) -> bool:
    """Whether every letter is in the default alphabet or its extension table.

    References
    ----------
    3GPP TS 23.038, sections 6.2.1 and 6.2.1.1.

    Examples
    --------
    >>> fits_gsm("Price: 5 €"), fits_gsm("até")
    (True, True)
    >>> fits_gsm("ŵ")
    False
    """
    return _LETTERS.issuperset(text)
