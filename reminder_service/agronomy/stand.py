"""Thinning: how many seedlings to leave at each planting station of a counted row."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from reminder_service.agronomy.errors import OutOfRange, check_within

PLANTS_A_STATION: Final = 2  # common practice, no source: the average aimed at
MOST_AT_A_STATION: Final = 3  # common practice, no source
MOST_COUNTED: Final = 20  # setting: more is taken for two numbers run together


@dataclass(frozen=True, slots=True)
class Thinning:
    """What thinning leaves of a counted row.

    Attributes
    ----------
    leave : plants to leave at each station, in the order counted
    mean : plants left a station, on average; never above two
    short : plants missing to an average of two
    """

    leave: tuple[int, ...]
    mean: float
    short: int


def plants_to_leave(counts: Sequence[int]) -> Thinning:
    """Plants to leave at each station so that the row comes as near two a station as it can.

    A station keeps two, or what came up if that is less. A station with a seedling to spare may
    keep a third for one plant missing at a station right beside it, never more. So a lone plant
    is made up by one neighbour and an empty station by one on each side; what a side cannot give
    stays missing, as the other side is full at three. Nothing is transplanted or sown again.
    Of all such ways the one that covers most missing plants is chosen, and among those the one
    that keeps its third plants furthest to the left.

    Parameters
    ----------
    counts : seedlings that came up at each station along one row, 0 to 20 each

    Returns
    -------
    the plants to leave

    Raises
    ------
    OutOfRange
        There is no station, or a count is below 0 or above 20.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> plants_to_leave([3, 0, 4])
    Thinning(leave=(3, 0, 3), mean=2.0, short=0)
    >>> plants_to_leave([2, 1, 0, 3])
    Thinning(leave=(2, 1, 0, 3), mean=1.5, short=2)
    """
    if not counts:
        raise OutOfRange("counts", "empty", "the seedlings of at least one station")
    for count in counts:
        check_within("counts", count, 0, MOST_COUNTED, "seedlings a station")
    leave = [min(count, PLANTS_A_STATION) for count in counts]
    missing = [PLANTS_A_STATION - kept for kept in leave]
    # From the left, a spare goes to the left neighbour first: no later station can reach that
    # one, while the right neighbour may still be served by the station beyond it. Swapping any
    # other best choice for this one never loses a covered plant, so one pass is exact.
    for here, count in enumerate(counts):
        if count > PLANTS_A_STATION and _cover_one_beside(here, missing):
            leave[here] = MOST_AT_A_STATION
    return Thinning(tuple(leave), sum(leave) / len(leave), sum(missing))


def _cover_one_beside(here: int, missing: list[int]) -> bool:
    """Take one plant off what is missing left of ``here``, else right of it, if there is any."""
    for beside in (here - 1, here + 1):
        if 0 <= beside < len(missing) and missing[beside]:
            missing[beside] -= 1
            return True
    return False
