"""What the plots around say of germination: how long after planting theirs came up."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil

SAME_DAYS = timedelta(days=3)
"""Plots planted at most this many days apart count as planted together (setting)."""

FEWEST = 5
"""Fewer plots planted together than this say nothing of the others (setting)."""


@dataclass(frozen=True, slots=True)
class Neighbour:
    """One plot of the ward.

    Attributes
    ----------
    planted : reported local day
    germinated : reported local day; None if nobody has reported it
    """

    planted: date
    germinated: date | None


@dataclass(frozen=True, slots=True)
class Lag:
    """Days from planting to germination on the plots around.

    Attributes
    ----------
    earliest, likely, latest : days; all but the outer quarters lie between the ends, and half of
        the plots came up by the likely one
    reported, planted : plots that reported germination, of those planted together
    """

    earliest: int
    likely: int
    latest: int
    reported: int
    planted: int


def neighbour_lag(planted: date, neighbours: Iterable[Neighbour]) -> Lag | None:
    """Days to germination that a plot without a report of it may lean on.

    They are leaned on once most plots that were planted within the same few days have reported,
    for the first to come up are the quickest and would say too little time. A germination before
    its planting is passed over. The order of the neighbours does not matter.

    Parameters
    ----------
    planted : reported local day of the plot itself
    neighbours : other plots of the ward

    Returns
    -------
    the days; None if too few plots say anything

    References
    ----------
    Own choices; the middle value and the quarters are plain arithmetic.

    Examples
    --------
    >>> day = date(2026, 11, 14)
    >>> around = [Neighbour(day, day + timedelta(lag)) for lag in (6, 7, 7, 9)]
    >>> neighbour_lag(day, [*around, Neighbour(day, None)])
    Lag(earliest=6, likely=7, latest=7, reported=4, planted=5)
    """
    together = [each for each in neighbours if abs(each.planted - planted) <= SAME_DAYS]
    lags = sorted(
        (each.germinated - each.planted).days
        for each in together
        if each.germinated is not None and each.germinated >= each.planted
    )
    if len(together) < FEWEST or 2 * len(lags) <= len(together):
        return None
    return Lag(_share(lags, 0.25), _share(lags, 0.5), _share(lags, 0.75), len(lags), len(together))


def _share(lags: list[int], share: float) -> int:
    """Smallest of some sorted days that a share of them does not go beyond."""
    return lags[ceil(share * len(lags)) - 1]
