"""Days from planting to tasselling and maturity, by maturity class of the variety.

Height above the sea and cool weather lengthen all of them; the variety's own days are better.
"""

from types import MappingProxyType
from typing import Final

from reminder_service.agronomy.errors import OutOfRange

DAYS_TO_MATURITY: Final = MappingProxyType({"short": 132, "medium": 140, "long": 150})  # S18
"""Days from planting to maturity by class."""

TASSEL_SHARE: Final = 55 / 112
"""Share of the days to maturity (R6) that are over at tasselling (VT); S10, days after sowing."""


def days_to_maturity(maturity: str) -> int:
    """Days from planting to maturity.

    Parameters
    ----------
    maturity : ``short``, ``medium`` or ``long``

    Returns
    -------
    days after planting

    Raises
    ------
    OutOfRange
        There is no such class.

    References
    ----------
    [S18]

    Examples
    --------
    >>> days_to_maturity("medium")
    140
    """
    if maturity not in DAYS_TO_MATURITY:
        raise OutOfRange("maturity", maturity, f"one of {', '.join(DAYS_TO_MATURITY)}")
    return DAYS_TO_MATURITY[maturity]


def days_to_tasselling(maturity: str) -> int:
    """Days from planting to tasselling.

    Parameters
    ----------
    maturity : ``short``, ``medium`` or ``long``

    Returns
    -------
    days after planting, rounded to whole days

    Raises
    ------
    OutOfRange
        There is no such class.

    References
    ----------
    Days to maturity [S18]; the share of them before tasselling [S10].

    Examples
    --------
    >>> days_to_tasselling("medium")
    69
    """
    return round(days_to_maturity(maturity) * TASSEL_SHARE)


def days_tassel_to_maturity(maturity: str) -> int:
    """Days from tasselling to maturity.

    Parameters
    ----------
    maturity : ``short``, ``medium`` or ``long``

    Returns
    -------
    days after tasselling, rounded to whole days

    Raises
    ------
    OutOfRange
        There is no such class.

    References
    ----------
    Days to maturity [S18]; the share of them before tasselling [S10].

    Examples
    --------
    >>> days_tassel_to_maturity("medium")
    71
    """
    return days_to_maturity(maturity) - days_to_tasselling(maturity)
