"""Maize through its season as a user of water: coefficients, height, cover and roots by day."""

from dataclasses import dataclass
from typing import Final

from reminder_service.agronomy.errors import check_within
from reminder_service.agronomy.stages import days_to_maturity

BASAL_FIRST: Final = 0.15  # fao56, Table 17: transpiration only
BASAL_MIDDLE: Final = 1.15  # fao56, Table 17
BASAL_LAST: Final = 0.15  # fao56, Table 17: grain left to dry on the stalk

SINGLE_FIRST: Final = 0.30  # fao56, Table 12: evaporation included
SINGLE_MIDDLE: Final = 1.20  # fao56, Table 12
SINGLE_LAST: Final = 0.35  # fao56, Table 12: grain left to dry on the stalk

HEIGHT_M: Final = 2.0  # fao56, Table 12
SEEDLING_M: Final = 0.05  # setting
ROOT_FIRST_M: Final = 0.20  # setting: seed depth and the first roots
ROOT_DEEPEST_M: Final = 1.0  # fao56, Table 22: the lower end of 1.0 to 1.7, for hoed soil

CALM_WIND_M_S: Final = 2.0  # fao56: the climate that its coefficients are printed for
USUAL_HUMIDITY_MIN: Final = 45.0  # fao56: the same, in %


@dataclass(frozen=True, slots=True)
class Growth:
    """Days of the four parts of a crop's season: first, development, middle, last."""

    first: int
    development: int
    middle: int
    last: int

    def __post_init__(self) -> None:
        for name in self.__slots__:
            check_within(name, getattr(self, name), 1, 200, "days")

    @property
    def days(self) -> int:
        """Length of the season in days."""
        return self.first + self.development + self.middle + self.last


PRINTED_GROWTH: Final = Growth(25, 40, 45, 30)  # fao56, Table 11: arid climate, 140 days
"""Maize sown in December or January, the printed season closest to a rain-fed one here."""


def growth_of(maturity: str) -> Growth:
    """Parts of the season of a variety class: the printed one, stretched to the class's days.

    Parameters
    ----------
    maturity : ``short``, ``medium`` or ``long``

    Returns
    -------
    days of each part

    Raises
    ------
    OutOfRange
        There is no such class.

    References
    ----------
    Table 11 [fao56]; days of a class [S18].

    Examples
    --------
    >>> growth_of("long")
    Growth(first=27, development=43, middle=48, last=32)
    """
    days = days_to_maturity(maturity)
    stretch = days / PRINTED_GROWTH.days
    first, development, middle = (
        round(part * stretch)
        for part in (PRINTED_GROWTH.first, PRINTED_GROWTH.development, PRINTED_GROWTH.middle)
    )
    return Growth(first, development, middle, days - first - development - middle)


def crop_coefficient(day: int, growth: Growth, single: bool = False) -> float:
    """Share of the reference evapotranspiration that unstressed maize uses on one day.

    Parameters
    ----------
    day : days after planting, 0 or more
    growth : parts of the season
    single : with the evaporation of bare soil in it, on average; without it if False

    Returns
    -------
    coefficient, mm/mm

    Raises
    ------
    OutOfRange
        The day lies before planting.

    References
    ----------
    Equation 66, Table 12 (single) and Table 17 (basal) [fao56].

    Examples
    --------
    >>> [round(crop_coefficient(day, PRINTED_GROWTH), 2) for day in (0, 45, 80, 140)]
    [0.15, 0.65, 1.15, 0.15]
    """
    check_within("day", day, 0, 1000, "days")
    low, high, last = (
        (SINGLE_FIRST, SINGLE_MIDDLE, SINGLE_LAST)
        if single
        else (BASAL_FIRST, BASAL_MIDDLE, BASAL_LAST)
    )
    grown_on = growth.first + growth.development
    ripening_on = grown_on + growth.middle
    if day <= grown_on:
        return low + (high - low) * max(0, day - growth.first) / growth.development
    gone = min(growth.last, max(0, day - ripening_on)) / growth.last
    return high + (last - high) * gone


def grown_share(day: int, growth: Growth) -> float:
    """How far the plant has grown, of its full height and roots.

    Parameters
    ----------
    day : days after planting, 0 or more
    growth : parts of the season

    Returns
    -------
    0 to 1; it never falls

    Raises
    ------
    OutOfRange
        The day lies before planting.

    References
    ----------
    Roots and height follow the basal coefficient until it is highest; page 279 [fao56].

    Examples
    --------
    >>> grown_share(45, PRINTED_GROWTH)
    0.5
    """
    check_within("day", day, 0, 1000, "days")
    return min(1.0, max(0, day - growth.first) / growth.development)


def highest_coefficient(
    height_m: float,
    basal: float,
    wind_m_s: float = CALM_WIND_M_S,
    humidity_min: float = USUAL_HUMIDITY_MIN,
) -> float:
    """Most that crop and wet soil together can use, as a share of the reference.

    Parameters
    ----------
    height_m : height of the plants, m
    basal : basal coefficient of the day
    wind_m_s : at two metres; 1 to 6 counts
    humidity_min : lowest relative humidity of the day, %; 20 to 80 counts

    Returns
    -------
    coefficient, mm/mm

    References
    ----------
    Equation 72 [fao56].

    Examples
    --------
    >>> highest_coefficient(2, 1.15)
    1.2
    """
    wind = min(6.0, max(1.0, wind_m_s))
    humidity = min(80.0, max(20.0, humidity_min))
    climate = (0.04 * (wind - 2) - 0.004 * (humidity - 45)) * float((height_m / 3) ** 0.3)
    return max(1.2 + climate, basal + 0.05)


def ground_cover(basal: float, highest: float, height_m: float) -> float:
    """Share of the ground that the leaves shade.

    Parameters
    ----------
    basal : basal coefficient of the day
    highest : see `highest_coefficient`
    height_m : height of the plants, m

    Returns
    -------
    0 to 0.99

    References
    ----------
    Equation 76 [fao56].

    Examples
    --------
    >>> round(ground_cover(1.15, 1.2, 2.0), 2)
    0.91
    """
    shade = max(0.0, (basal - BASAL_FIRST) / (highest - BASAL_FIRST))
    return min(0.99, float(shade ** (1 + 0.5 * height_m)))
