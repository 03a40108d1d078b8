"""Water that a soil holds for the plants: soil classes, available water and water stress."""

from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from reminder_service.agronomy.errors import OutOfRange, check_within

EVAPORATION_LAYER_M: Final = 0.10  # fao56: 0.10 to 0.15 m dries by evaporation
DEPLETION_SHARE: Final = 0.55  # fao56, Table 22: maize, where it uses 5 mm/d
DEPLETION_SHARE_PER_MM: Final = 0.04  # fao56, Table 22, note; from memory
USUAL_USE_MM: Final = 5.0  # fao56, Table 22: the use that its shares are printed for
DEPLETION_SHARE_RANGE: Final = (0.1, 0.8)  # fao56, Table 22, note; from memory


@dataclass(frozen=True, slots=True)
class Soil:
    """What one class of soil holds.

    Attributes
    ----------
    name : class, as a farmer would say it
    field_capacity, wilting_point, saturation : m3 water in a m3 of soil
    readily_evaporable_mm : what a wet surface loses before it looks dry, mm
    """

    name: str
    field_capacity: float
    wilting_point: float
    saturation: float
    readily_evaporable_mm: float

    def __post_init__(self) -> None:
        check_within("field_capacity", self.field_capacity, 0.02, 0.6, "m3/m3")
        check_within("saturation", self.saturation, self.field_capacity, 0.9, "m3/m3")
        if not 0 <= self.wilting_point < self.field_capacity:
            raise OutOfRange(
                "wilting_point", self.wilting_point, f"0 to below {self.field_capacity} m3/m3"
            )
        high_mm = self.total_evaporable_mm
        if not 0 <= self.readily_evaporable_mm < high_mm:
            raise OutOfRange(
                "readily_evaporable_mm", self.readily_evaporable_mm, f"0 to below {high_mm:.1f} mm"
            )

    @property
    def total_evaporable_mm(self) -> float:
        """Most that can evaporate from the top 10 cm, mm; equation 73 of fao56."""
        held = self.field_capacity - 0.5 * self.wilting_point
        return 1000 * held * EVAPORATION_LAYER_M


SOILS: Final = MappingProxyType(
    {
        # fao56, Table 19: middles of its ranges, from memory. Saturation: nmsu, soil types.
        "sand": Soil("sand", 0.12, 0.045, 0.386, 4.5),
        "loam": Soil("loam", 0.25, 0.12, 0.474, 9.0),
        "clay": Soil("clay", 0.36, 0.22, 0.524, 10.0),
    }
)
"""Soil classes by name."""


def soil_of(name: str) -> Soil:
    """One soil class.

    Parameters
    ----------
    name : ``sand``, ``loam`` or ``clay``

    Returns
    -------
    the class

    Raises
    ------
    OutOfRange
        There is no such class.

    References
    ----------
    Field capacity, wilting point and evaporation [fao56]; saturation [nmsu].

    Examples
    --------
    >>> soil_of("loam").field_capacity
    0.25
    """
    if name not in SOILS:
        raise OutOfRange("soil", name, f"one of {', '.join(SOILS)}")
    return SOILS[name]


def total_available_mm(field_capacity: float, wilting_point: float, root_m: float) -> float:
    """Water that roots can reach, between field capacity and wilting point.

    Parameters
    ----------
    field_capacity, wilting_point : m3 water in a m3 of soil
    root_m : rooting depth, 0 to 5 m

    Returns
    -------
    mm

    Raises
    ------
    OutOfRange
        The depth lies outside its range, or the soil holds less than nothing.

    References
    ----------
    Equation 82 [fao56].

    Examples
    --------
    >>> round(total_available_mm(0.23, 0.10, 1.2), 3)
    156.0
    """
    check_within("root_m", root_m, 0, 5, "m")
    check_within("wilting_point", wilting_point, 0, field_capacity, "m3/m3")
    return 1000 * (field_capacity - wilting_point) * root_m


def depletion_share(use_mm: float, share: float = DEPLETION_SHARE) -> float:
    """Share of the available water that is easy to take on a day of so much use.

    Parameters
    ----------
    use_mm : what the crop would use without stress, mm/d, 0 or more
    share : printed share of the crop, for a use of 5 mm/d

    Returns
    -------
    share, 0.1 to 0.8

    Raises
    ------
    OutOfRange
        The use is below zero.

    References
    ----------
    Table 22 and its note [fao56]; the adjustment is from [memory].

    Examples
    --------
    >>> round(depletion_share(7), 2)
    0.47
    """
    check_within("use_mm", use_mm, 0, 30, "mm/d")
    low, high = DEPLETION_SHARE_RANGE
    return min(high, max(low, share + DEPLETION_SHARE_PER_MM * (USUAL_USE_MM - use_mm)))


def water_stress(depleted_mm: float, available_mm: float, share: float) -> float:
    """How much of its transpiration a crop keeps in drying soil.

    Parameters
    ----------
    depleted_mm : missing to field capacity in the root zone, mm
    available_mm : total available water of the root zone, above 0 mm
    share : see `depletion_share`, below 1

    Returns
    -------
    1 without stress, down to 0 at the wilting point

    Raises
    ------
    OutOfRange
        The root zone holds no water, or the share leaves none to be hard to take.

    References
    ----------
    Equations 83 and 84 [fao56].

    Examples
    --------
    >>> water_stress(80, 100, 0.5)
    0.4
    """
    check_within("available_mm", available_mm, 1e-9, 5000, "mm")
    check_within("share", share, 0, 0.999, "")
    left_mm = available_mm - depleted_mm
    return min(1.0, max(0.0, left_mm / ((1 - share) * available_mm)))
