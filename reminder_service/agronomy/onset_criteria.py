"""What counts as the onset of the rains: published definitions by name, kept as data.

The data file beside this module gives every threshold with its source. Left out are those that
name no figure to test by: the press's "no dry spell" says no length, and the planting rain for
basins says no number of days.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Final, Literal

from reminder_service.agronomy.errors import OutOfRange, check_within

WetTest = Literal["at_least", "more_than"]
"""Whether an amount equal to the threshold is enough."""

WET_MM_RANGE: Final = (0.1, 1_000)  # setting: outside it, centimetres or inches were meant
WITHIN_DAYS_RANGE: Final = (1, 60)  # setting
LOOK_AHEAD_RANGE: Final = (1, 120)  # setting: later, the crop has grown its roots
WET_DAY_MM_RANGE: Final = (0.1, 20)  # setting


@dataclass(frozen=True, slots=True)
class Criterion:
    """One definition of the onset.

    Attributes
    ----------
    title : whose definition it is
    wet_mm : mm that the wet test asks for, 0.1 to 1,000
    within_days : days that the rain is summed over, the day itself included, 1 to 60
    reject_dry_days : this many dry days in a row reject it; None where there is no look-ahead
    look_ahead_days : days after the onset that such a run must lie in, wholly; None likewise
    wet_day_mm : a day below this many mm is dry
    wet_test : whether ``wet_mm`` itself is enough (``at_least``) or must be passed
    search_from : month and day that the search usually begins, ``MM-DD``, or None
    sources : key of the bibliography by the name of the figure; a criterion made by hand
        has none
    """

    title: str
    wet_mm: float
    within_days: int
    reject_dry_days: int | None
    look_ahead_days: int | None
    wet_day_mm: float
    wet_test: WetTest = "at_least"
    search_from: str | None = None
    sources: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))

    def __post_init__(self) -> None:
        check_within("wet_mm", self.wet_mm, *WET_MM_RANGE, "mm")
        check_within("within_days", self.within_days, *WITHIN_DAYS_RANGE, "days")
        check_within("wet_day_mm", self.wet_day_mm, *WET_DAY_MM_RANGE, "mm")
        if self.look_ahead_days is None or self.reject_dry_days is None:
            if self.look_ahead_days is not self.reject_dry_days:
                expected = "given together with reject_dry_days, or both left out"
                raise OutOfRange("look_ahead_days", self.look_ahead_days, expected)
            return
        check_within("look_ahead_days", self.look_ahead_days, *LOOK_AHEAD_RANGE, "days")
        # A longer run than the look-ahead could never lie inside it, and would reject nothing.
        check_within("reject_dry_days", self.reject_dry_days, 1, self.look_ahead_days, "days")


@cache
def criteria() -> Mapping[str, Criterion]:
    """All definitions that are known by name.

    Returns
    -------
    the definitions by name, read once; ``programme`` is the first

    References
    ----------
    [S1], [S2], [S4], [S6], [S8] and [memory], each figure under ``sources`` of its definition;
    the programme's own figures and the wet day: [setting].

    Examples
    --------
    >>> criteria()["zimbabwe-manual"].look_ahead_days
    20
    """
    text = files("reminder_service.agronomy").joinpath("onset_criteria.toml").read_text("utf-8")
    unlooked = {"reject_dry_days": None, "look_ahead_days": None}
    return MappingProxyType(
        {name: Criterion(**(unlooked | entry)) for name, entry in tomllib.loads(text).items()}
    )


def criterion(name: str) -> Criterion:
    """One definition.

    Parameters
    ----------
    name : as in ``criteria``, e.g. ``programme`` or ``sivakumar``

    Returns
    -------
    the definition

    Raises
    ------
    OutOfRange
        No definition has that name.

    References
    ----------
    As in ``criteria``: [S1], [S2], [S4], [S6], [S8], [memory], [setting].

    Examples
    --------
    >>> criterion("depth").wet_mm
    40
    """
    found = criteria().get(name)
    if found is None:
        raise OutOfRange("criterion", name, f"one of {', '.join(criteria())}")
    return found


def usual_search_from(chosen: Criterion, year: int) -> date | None:
    """The day that the search for an onset usually begins.

    Parameters
    ----------
    chosen : the definition
    year : calendar year that the search begins in, 1 to 9999

    Returns
    -------
    local day, or None where the definition leaves it to the place

    Raises
    ------
    OutOfRange
        There is no such year.

    References
    ----------
    [S2], [S6], [memory], as under ``sources`` of the definition.

    Examples
    --------
    >>> usual_search_from(criterion("zimbabwe-manual"), 2026)
    datetime.date(2026, 11, 10)
    """
    check_within("year", year, date.min.year, date.max.year, "")
    if chosen.search_from is None:
        return None
    return date.fromisoformat(f"{year:04}-{chosen.search_from}")
