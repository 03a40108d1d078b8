"""Growing degree days of maize from daily temperatures, in the published variants by name."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from math import asin, cos, pi
from typing import Final

from reminder_service.agronomy.errors import OutOfRange, check_within

BASE_C: Final = 10.0  # nielsen: 50 F
"""Below this maize does not develop."""

CAP_C: Final = 30.0  # nielsen: 86 F
"""Above this maize does not develop any faster."""

AIR_C_RANGE: Final = (-60.0, 60.0)  # setting: wider than any weather station has seen
"""Air temperatures that are believed."""


class Variant(StrEnum):
    """How one day's degree days are made from its lowest and highest temperature.

    ``86-50`` is the variant that the printed stage tables of maize are counted in.
    """

    LIMITED = "86-50"
    CAPPED = "capped-mean"
    PLAIN = "plain-mean"
    SINE = "sine"


class Basis(StrEnum):
    """What a day's degree days rest on."""

    MEASURED = "measured"
    NORMAL = "normal"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Temperatures:
    """Lowest and highest air temperature of one day, or their means of one month, in °C."""

    tmin_c: float
    tmax_c: float

    def __post_init__(self) -> None:
        check_within("tmin_c", self.tmin_c, *AIR_C_RANGE, "°C")
        check_within("tmax_c", self.tmax_c, *AIR_C_RANGE, "°C")
        if self.tmin_c > self.tmax_c:
            raise OutOfRange("tmin_c", self.tmin_c, f"at most tmax_c, which is {self.tmax_c}")


@dataclass(frozen=True, slots=True)
class HeatDay:
    """One day of a sum of degree days.

    Attributes
    ----------
    on : local day
    degree_days : of this day alone, °C d; None if unknown
    total : from the first day to this one, °C d; None from the first unknown day on
    basis : what this day rests on
    """

    on: date
    degree_days: float | None
    total: float | None
    basis: Basis


def day_degrees(
    day: Temperatures,
    variant: Variant = Variant.LIMITED,
    base_c: float = BASE_C,
    cap_c: float = CAP_C,
) -> float:
    """Degree days of one day.

    Parameters
    ----------
    day : its temperatures
    variant : ``86-50`` caps the highest and lifts the lowest temperature to the limits first;
        ``capped-mean`` caps the highest only; ``plain-mean`` knows no cap; ``sine`` draws a sine
        through both and counts the area between the limits
    base_c, cap_c : limits in °C, the cap above the base

    Returns
    -------
    °C d, 0 or more

    Raises
    ------
    OutOfRange
        The cap is not above the base.

    References
    ----------
    ``86-50`` [nielsen]; ``plain-mean`` and the difference of both readings [mcmaster];
    ``capped-mean`` as the first reading with an upper limit [mcmaster]; ``sine`` with a
    horizontal cut-off [ucipm].

    Examples
    --------
    >>> day_degrees(Temperatures(8, 34)), day_degrees(Temperatures(8, 34), Variant.PLAIN)
    (10.0, 11.0)
    """
    if not base_c < cap_c:
        raise OutOfRange("cap_c", cap_c, f"above base_c, which is {base_c}")
    if variant is Variant.SINE:
        return _area_above(day, base_c) - _area_above(day, cap_c)
    tmin_c, tmax_c = day.tmin_c, day.tmax_c
    if variant is not Variant.PLAIN:
        # A night warmer than the cap is capped as well, so that no day beats cap minus base.
        tmin_c, tmax_c = min(tmin_c, cap_c), min(tmax_c, cap_c)
    if variant is Variant.LIMITED:
        tmin_c, tmax_c = max(tmin_c, base_c), max(tmax_c, base_c)
    return max(0.0, (tmin_c + tmax_c) / 2 - base_c)


def _area_above(day: Temperatures, limit_c: float) -> float:
    """Mean height of the day's sine above a limit, in °C d."""
    mean_c, swing_c = (day.tmax_c + day.tmin_c) / 2, (day.tmax_c - day.tmin_c) / 2
    if day.tmin_c >= limit_c:
        return mean_c - limit_c
    if day.tmax_c <= limit_c:
        return 0.0
    crossing = asin((limit_c - mean_c) / swing_c)
    return ((mean_c - limit_c) * (pi / 2 - crossing) + swing_c * cos(crossing)) / pi


def heat_sum(
    temperatures: Mapping[date, Temperatures],
    start_on: date,
    end_on: date,
    variant: Variant = Variant.LIMITED,
    normals: Mapping[int, Temperatures] | None = None,
) -> tuple[HeatDay, ...]:
    """Degree days day by day, and their running sum.

    A day without temperatures is bridged by its month's normal, and says so; without normals it
    is unknown, and so is the sum from that day on, for a gap taken as zero would pass for cold.

    Parameters
    ----------
    temperatures : by local day; days left out are unknown
    start_on, end_on : first and last local day counted
    variant : see `day_degrees`
    normals : mean temperatures of months 1 to 12; months may be left out

    Returns
    -------
    one entry a day, in order

    Raises
    ------
    OutOfRange
        The last day lies before the first.

    References
    ----------
    Arithmetic.

    Examples
    --------
    >>> days = heat_sum({date(2025, 12, 1): Temperatures(15, 25)},
    ...                 date(2025, 12, 1), date(2025, 12, 2))
    >>> [day.total for day in days]
    [10.0, None]
    """
    if end_on < start_on:
        raise OutOfRange("end_on", end_on, f"{start_on} or later")
    days: list[HeatDay] = []
    total: float | None = 0.0
    for ahead in range((end_on - start_on).days + 1):
        on = start_on + timedelta(days=ahead)
        found, basis = day_temperatures(on, temperatures, normals)
        degrees = None if found is None else day_degrees(found, variant)
        total = None if total is None or degrees is None else total + degrees
        days.append(HeatDay(on, degrees, total, basis))
    return tuple(days)


def day_temperatures(
    on: date,
    temperatures: Mapping[date, Temperatures],
    normals: Mapping[int, Temperatures] | None = None,
) -> tuple[Temperatures | None, Basis]:
    """Temperatures of one day, from its own record or else from its month's normal.

    Parameters
    ----------
    on : local day
    temperatures : by local day
    normals : mean temperatures of months 1 to 12

    Returns
    -------
    the temperatures, None if neither is known; and what they rest on

    References
    ----------
    Arithmetic.

    Examples
    --------
    >>> day_temperatures(date(2026, 1, 5), {}, {1: Temperatures(17, 27)})[1].value
    'normal'
    """
    if on in temperatures:
        return temperatures[on], Basis.MEASURED
    if normals and on.month in normals:
        return normals[on.month], Basis.NORMAL
    return None, Basis.UNKNOWN
