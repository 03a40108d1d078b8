"""What a stand count says of the whole plot: its percentage, how sure that is, plants a hectare."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import ceil, sqrt
from statistics import NormalDist
from typing import Final

from reminder_service.agronomy.errors import check_within
from reminder_service.agronomy.spacing import plants_per_ha
from reminder_service.agronomy.stand import PLANTS_A_STATION, plants_to_leave

CONFIDENCE: Final = 0.95  # common practice, no source
MARGIN: Final = 0.1  # setting: ten points either way settle what to do

GAPS_BELOW: Final = 0.8  # setting; 80 of 100 plants gave 94 of 100 yield in S80
POOR_BELOW: Final = 2 / 3  # setting; 67 gave 81 in S80, where sowing again began to pay

STATIONS_RANGE: Final = (1, 10_000_000)  # setting: up to a whole programme's plots
CONFIDENCE_RANGE: Final = (0.5, 0.999)  # setting
MARGIN_RANGE: Final = (0.01, 0.5)  # setting


class StandState(StrEnum):
    """How full a stand is."""

    GOOD = "good"
    GAPS = "gaps"
    POOR = "poor"


@dataclass(frozen=True, slots=True)
class StandEstimate:
    """What a counted row says of the plot.

    Attributes
    ----------
    counted, with_plants : stations looked at, and those with a seedling
    share : of them, 0 to 1
    low, high : ends of the interval of ``share`` for the whole plot, at 95 in 100
    full_share : plants left after thinning, of two a station, 0 to 1
    plants_per_ha : left after thinning, plants/ha
    state : what that is worth
    """

    counted: int
    with_plants: int
    share: float
    low: float
    high: float
    full_share: float
    plants_per_ha: float
    state: StandState


def stand_interval(found: int, counted: int, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Wilson's interval of a share that was counted in a sample.

    It holds for stations drawn at random. Stations of one row are alike, so one row says less
    than the interval claims: count in several places.

    Parameters
    ----------
    found : stations of the sample that have it, 0 to ``counted``
    counted : stations looked at, 1 to 10,000,000
    confidence : 0.5 to 0.999

    Returns
    -------
    lower and upper end, 0 to 1

    Raises
    ------
    OutOfRange
        A number is outside its range.

    References
    ----------
    Formula [S81]; confidence: Common practice, no source.

    Examples
    --------
    >>> [round(end, 3) for end in stand_interval(8, 10)]
    [0.49, 0.943]
    """
    check_within("counted", counted, *STATIONS_RANGE, "stations")
    check_within("found", found, 0, counted, "stations")
    check_within("confidence", confidence, *CONFIDENCE_RANGE, "(1 is certain)")
    z2 = _z(confidence) ** 2
    middle = (found + z2 / 2) / (counted + z2)
    spread = found * (counted - found) / counted + z2 / 4
    half = sqrt(z2) * sqrt(spread) / (counted + z2)
    # The ends of nothing and of all are exact; a rounding error must not cut them off.
    low = middle - half if found else 0.0
    high = middle + half if found < counted else 1.0
    return low, high


def stations_to_count(
    margin: float = MARGIN,
    stations: int | None = None,
    confidence: float = CONFIDENCE,
    share: float = 0.5,
) -> int:
    """Stations to look at so that the stand percentage is known well enough.

    Parameters
    ----------
    margin : allowed either way, 0.01 to 0.5
    stations : of the whole plot, 1 to 10,000,000; a large one where nothing is said
    confidence : 0.5 to 0.999
    share : stations with plants that are expected, 0 to 1; one half asks for most

    Returns
    -------
    stations, at least 1 and never more than the plot has

    Raises
    ------
    OutOfRange
        A number is outside its range.

    References
    ----------
    Formula, with its correction for a small plot [S82]; margin [setting].

    Examples
    --------
    >>> stations_to_count(), stations_to_count(0.05), stations_to_count(stations=220)
    (97, 385, 68)
    """
    check_within("margin", margin, *MARGIN_RANGE, "(1 is all stations)")
    check_within("confidence", confidence, *CONFIDENCE_RANGE, "(1 is certain)")
    check_within("share", share, 0, 1, "(1 is all stations)")
    most = _z(confidence) ** 2 * share * (1 - share) / margin**2
    if stations is None:
        return max(ceil(round(most, 6)), 1)
    check_within("stations", stations, *STATIONS_RANGE, "stations")
    needed = most / (1 + (most - 1) / stations)
    return min(max(ceil(round(needed, 6)), 1), stations)


def stand_state(full_share: float) -> StandState:
    """What a stand is worth.

    Gaps are neither filled nor planted over. With a poor stand the adviser says whether the rain
    that is left pays for sowing the whole plot again.

    Parameters
    ----------
    full_share : plants left after thinning, of two a station, 0 to 1

    Returns
    -------
    good from 80 in 100 on, poor below two thirds

    Raises
    ------
    OutOfRange
        The share is below 0 or above 1.

    References
    ----------
    Both limits [setting]; yield by stand, and where sowing again began to pay [S80].

    Examples
    --------
    >>> [stand_state(share).value for share in (0.8, 0.7, 0.66)]
    ['good', 'gaps', 'poor']
    """
    check_within("full_share", full_share, 0, 1, "(1 is two plants a station)")
    if full_share >= GAPS_BELOW:
        return StandState.GOOD
    return StandState.GAPS if full_share >= POOR_BELOW else StandState.POOR


def stand_estimate(counts: Sequence[int], stations_per_ha: float) -> StandEstimate:
    """What seedlings counted along one row say of the plot.

    Parameters
    ----------
    counts : seedlings that came up at each station, 0 to 20 each
    stations_per_ha : of the plot, 1 to 1,000,000

    Returns
    -------
    the estimate

    Raises
    ------
    OutOfRange
        There is no station, or a number is outside its range.

    References
    ----------
    Arithmetic. Parts as in ``stand_interval``, ``plants_to_leave``, ``plants_per_ha`` and
    ``stand_state``.

    Examples
    --------
    >>> estimate = stand_estimate([2, 1, 3, 2, 2, 0, 3, 2, 1, 2], 22_222)
    >>> estimate.with_plants, round(estimate.full_share, 2), round(estimate.plants_per_ha)
    (9, 0.9, 40000)
    """
    thinning = plants_to_leave(counts)
    found = sum(count > 0 for count in counts)
    low, high = stand_interval(found, len(counts))
    full_share = thinning.mean / PLANTS_A_STATION
    return StandEstimate(
        counted=len(counts),
        with_plants=found,
        share=found / len(counts),
        low=low,
        high=high,
        full_share=full_share,
        plants_per_ha=plants_per_ha(stations_per_ha, thinning.mean),
        state=stand_state(full_share),
    )


def _z(confidence: float) -> float:
    """Standard deviations of the normal curve that hold a share of it around the middle."""
    return NormalDist().inv_cdf((1 + confidence) / 2)
