"""Soil water of a maize plot, day by day: what rain brings, and what soil and plants lose."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from reminder_service.agronomy.crop_water import (
    CALM_WIND_M_S,
    HEIGHT_M,
    ROOT_DEEPEST_M,
    ROOT_FIRST_M,
    SEEDLING_M,
    USUAL_HUMIDITY_MIN,
    Growth,
    crop_coefficient,
    ground_cover,
    grown_share,
    highest_coefficient,
)
from reminder_service.agronomy.errors import OutOfRange, check_within
from reminder_service.agronomy.soils import (
    USUAL_USE_MM,
    Soil,
    depletion_share,
    total_available_mm,
    water_stress,
)

RAIN_MM_RANGE: Final = (0.0, 2000.0)  # setting: more has fallen on one day nowhere
ET0_MM_RANGE: Final = (0.0, 20.0)  # setting


@dataclass(frozen=True, slots=True)
class Plot:
    """What the balance needs to know of a plot.

    Attributes
    ----------
    soil : class of its soil
    growth : parts of the season
    root_deepest_m : as deep as roots go in this soil
    start_share : share of the available water that the soil holds on the first day, 0 to 1
    wind_m_s, humidity_min : usual wind at two metres and lowest humidity in %
    """

    soil: Soil
    growth: Growth
    root_deepest_m: float = ROOT_DEEPEST_M
    start_share: float = 0.0
    wind_m_s: float = CALM_WIND_M_S
    humidity_min: float = USUAL_HUMIDITY_MIN

    def __post_init__(self) -> None:
        check_within("root_deepest_m", self.root_deepest_m, ROOT_FIRST_M, 5, "m")
        check_within("start_share", self.start_share, 0, 1, "")


@dataclass(frozen=True, slots=True)
class WaterDay:
    """Soil water at the end of one day, in mm.

    Attributes
    ----------
    on : local day
    rain_mm : rain of the day; 0 where it is unknown
    topsoil_missing_mm : missing in the top 10 cm between the plants
    missing_mm : missing to field capacity in the root zone
    below_missing_mm : the same below the roots, down to the deepest
    available_mm : most that the root zone can hold for the plants
    stress : share of its transpiration that the crop kept this day, 0 to 1
    stress_after : the same with the water of the day's end, so after its rain
    used_mm : evaporation and transpiration of the day
    topsoil_overflow_mm : rain that went through the top 10 cm
    overflow_mm : water that left the root zone downwards
    drained_mm : water that left the soil below the deepest roots
    topsoil_certain, certain : False while an unknown day of rain could have left more water
    et0_known : False if the day was reckoned with the usual evapotranspiration
    """

    on: date
    rain_mm: float
    topsoil_missing_mm: float
    missing_mm: float
    below_missing_mm: float
    available_mm: float
    stress: float
    stress_after: float
    used_mm: float
    topsoil_overflow_mm: float
    overflow_mm: float
    drained_mm: float
    topsoil_certain: bool
    certain: bool
    et0_known: bool


def water_balance(
    plot: Plot,
    planted_on: date,
    end_on: date,
    rain_mm: Mapping[date, float],
    et0_mm: Mapping[date, float],
    usual_et0_mm: float = USUAL_USE_MM,
) -> tuple[WaterDay, ...]:
    """Soil water of a plot from planting on, one entry a day.

    All rain goes into the ground: planting stations hold it, and no runoff is taken off. Rain of
    a day left out is unknown: the day counts as dry, and the answer is not certain until a rain
    fills the soil even so, for then the true soil is full as well.

    Parameters
    ----------
    plot : its soil and crop
    planted_on, end_on : first and last local day
    rain_mm : rain by local day, mm
    et0_mm : reference evapotranspiration by local day, mm
    usual_et0_mm : taken on days left out of it, mm

    Returns
    -------
    one entry a day, in order

    Raises
    ------
    OutOfRange
        The last day lies before the first, or a rain or evapotranspiration cannot be.

    References
    ----------
    Equations 69 to 88 with the basal coefficient [fao56]; a store below the roots by arithmetic;
    the usual evapotranspiration is a [setting].

    Examples
    --------
    >>> from reminder_service.agronomy.crop_water import PRINTED_GROWTH
    >>> from reminder_service.agronomy.soils import soil_of
    >>> first = date(2025, 11, 20)
    >>> plot = Plot(soil_of("loam"), PRINTED_GROWTH)
    >>> days = water_balance(plot, first, first + timedelta(days=1), {first: 60.0}, {})
    >>> days[0].topsoil_missing_mm < days[1].topsoil_missing_mm
    True
    """
    if end_on < planted_on:
        raise OutOfRange("end_on", end_on, f"{planted_on} or later")
    state = _first_state(plot, planted_on)
    days: list[WaterDay] = []
    for number in range((end_on - planted_on).days + 1):
        on = planted_on + timedelta(days=number)
        rain, et0 = rain_mm.get(on), et0_mm.get(on)
        if rain is not None:
            check_within("rain_mm", rain, *RAIN_MM_RANGE, f"mm on {on}")
        if et0 is not None:
            check_within("et0_mm", et0, *ET0_MM_RANGE, f"mm on {on}")
        state = _next(plot, state, number, on, rain, et0, usual_et0_mm)
        days.append(state)
    return tuple(days)


def _first_state(plot: Plot, planted_on: date) -> WaterDay:
    """The evening before planting: a dry surface over soil as wet as said."""
    soil = plot.soil
    available = total_available_mm(soil.field_capacity, soil.wilting_point, ROOT_FIRST_M)
    deepest = total_available_mm(soil.field_capacity, soil.wilting_point, plot.root_deepest_m)
    missing = (1 - plot.start_share) * available
    below = (1 - plot.start_share) * (deepest - available)
    on = planted_on - timedelta(days=1)
    topsoil = soil.total_evaporable_mm
    return WaterDay(
        on, 0, topsoil, missing, below, available, 1, 1, 0, 0, 0, 0, True, True, et0_known=True
    )


def _next(
    plot: Plot,
    before: WaterDay,
    number: int,
    on: date,
    rain_or_unknown: float | None,
    et0_or_unknown: float | None,
    usual_et0_mm: float,
) -> WaterDay:
    """One day further; its comments name the equations of fao56."""
    rain = 0.0 if rain_or_unknown is None else rain_or_unknown
    et0 = usual_et0_mm if et0_or_unknown is None else et0_or_unknown
    soil = plot.soil
    grown = grown_share(number, plot.growth)
    height = SEEDLING_M + (HEIGHT_M - SEEDLING_M) * grown
    basal = crop_coefficient(number, plot.growth)
    highest = highest_coefficient(height, basal, plot.wind_m_s, plot.humidity_min)
    bare = max(0.01, 1 - ground_cover(basal, highest, height))  # 75

    total = soil.total_evaporable_mm
    wetness = (total - before.topsoil_missing_mm) / (total - soil.readily_evaporable_mm)  # 74
    from_soil = min(min(1.0, wetness) * (highest - basal), bare * highest) * et0  # 71
    topsoil_overflow = max(0.0, rain - before.topsoil_missing_mm)  # 79
    topsoil = before.topsoil_missing_mm - rain + from_soil / bare + topsoil_overflow  # 77
    topsoil = min(total, max(0.0, topsoil))

    root_m = ROOT_FIRST_M + (plot.root_deepest_m - ROOT_FIRST_M) * grown
    available = total_available_mm(soil.field_capacity, soil.wilting_point, root_m)  # 82
    deepest = total_available_mm(soil.field_capacity, soil.wilting_point, plot.root_deepest_m)
    below_was, below_is = deepest - before.available_mm, deepest - available
    reached = before.below_missing_mm * (1 - below_is / below_was) if below_was > 0 else 0.0

    share = depletion_share(min(30.0, basal * et0 + from_soil))  # 83
    stress = water_stress(before.missing_mm, available, share)  # 84
    used = stress * basal * et0 + from_soil  # 80
    overflow = max(0.0, rain - used - before.missing_mm - reached)  # 88
    missing = before.missing_mm + reached - rain + used + overflow  # 85
    missing = min(available, max(0.0, missing))
    below = before.below_missing_mm - reached
    drained = max(0.0, overflow - below)
    return WaterDay(
        on=on,
        rain_mm=rain,
        topsoil_missing_mm=topsoil,
        missing_mm=missing,
        below_missing_mm=max(0.0, below - overflow),
        available_mm=available,
        stress=stress,
        stress_after=water_stress(missing, available, share),
        used_mm=used,
        topsoil_overflow_mm=topsoil_overflow,
        overflow_mm=overflow,
        drained_mm=drained,
        topsoil_certain=rain_or_unknown is not None
        and (before.topsoil_certain or topsoil_overflow > 0),
        certain=rain_or_unknown is not None and (before.certain or drained > 0),
        et0_known=et0_or_unknown is not None,
    )
