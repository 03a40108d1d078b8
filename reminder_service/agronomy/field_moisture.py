"""What the soil's water means for the work: dressing, dry spells and weeds."""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from enum import StrEnum
from typing import Final

from reminder_service.agronomy.errors import OutOfRange, check_within
from reminder_service.agronomy.soils import Soil
from reminder_service.agronomy.water import WaterDay

MOIST_SHARE: Final = 0.25  # setting: of what the top 10 cm can lose, still there
"""Reached in full sun one, two and three days after a soaking rain on sand, loam and clay."""

WEED_MOIST_SHARE: Final = 0.25  # setting: the same for weeds
WEED_DAYS: Final = 3  # setting: moist days in a row that bring weeds up
HURT_STRESS: Final = 0.8  # setting: below this a crop visibly loses, outside its sensitive weeks
SENSITIVE_DAYS: Final = 14  # drystress: two weeks before and after tasselling

HEAVY_STORM_MM: Final = 30.0  # memory: 30 to 50 mm a day washes nitrogen down
STORM_DAYS: Final = 3  # setting: days of a forecast that count
WATERLOGGED_DAYS: Final = 2  # setting: days that a soaked topsoil takes to drain
WATERLOGGED_M: Final = 0.30  # setting: depth where most roots of young maize are
PAST_TASSELLING_DAYS: Final = 7  # setting: the tasselling dose is given in the week of the tassels


class Answer(StrEnum):
    """Yes, no, or not known for want of rain reports."""

    YES = "yes"
    NO = "no"
    UNKNOWN = "unknown"


class DrySpell(StrEnum):
    """What a dry spell does to the crop today."""

    NO_HARM = "no harm"
    BEGINS = "begins"
    HURTS = "hurts"
    UNKNOWN = "unknown"


class HoldReason(StrEnum):
    """Why nitrogen should not be placed today."""

    WAIT_FOR_MOISTURE = "wait for moisture"
    HEAVY_STORM = "heavy storm expected"
    WATERLOGGED = "waterlogged"
    PAST_TASSELLING = "past tasselling"


def topsoil_moist_enough(day: WaterDay, soil: Soil, moist_share: float = MOIST_SHARE) -> Answer:
    """Whether a dressing placed today lies in moist soil.

    Where rain of a day is unknown the soil is reckoned dry: moist is then still a safe yes, but
    dry is unknown.

    Parameters
    ----------
    day : soil water of the evening before
    soil : class of the soil
    moist_share : of the water that the top 10 cm can lose, that must still be there

    Returns
    -------
    yes, no or unknown

    Raises
    ------
    OutOfRange
        The share lies outside 0 to 1.

    References
    ----------
    The layer and its water [fao56]; the share is a [setting].

    Examples
    --------
    >>> from reminder_service.agronomy.soils import soil_of
    >>> from reminder_service.agronomy.water import WaterDay
    >>> wet = WaterDay(date(2026, 1, 5), 20, 4, 9, 0, 60, 1, 1, 4, 0, 0, 0, True, True, True)
    >>> topsoil_moist_enough(wet, soil_of("loam")).value
    'yes'
    """
    check_within("moist_share", moist_share, 0, 1, "")
    total = soil.total_evaporable_mm
    if total - day.topsoil_missing_mm >= moist_share * total:
        return Answer.YES
    return Answer.NO if day.topsoil_certain else Answer.UNKNOWN


def dry_spell_hurts(day: WaterDay, tasselling_on: date | None) -> DrySpell:
    """What the dry spell does to the crop.

    Parameters
    ----------
    day : soil water of the day
    tasselling_on : reported or expected local day; None if there is no idea of it

    Returns
    -------
    ``hurts`` at any stress in the sensitive weeks around tasselling and at strong stress outside
    them, ``begins`` at lighter stress, ``unknown`` where the stress may only come from a missing
    rain report

    References
    ----------
    Stress [fao56]; the sensitive weeks [drystress]; strong stress is a [setting].

    Examples
    --------
    >>> day = WaterDay(date(2026, 1, 5), 0, 19, 50, 0, 60, 1, 0.9, 3, 0, 0, 0, True, True, True)
    >>> dry_spell_hurts(day, date(2026, 1, 12)).value, dry_spell_hurts(day, None).value
    ('hurts', 'begins')
    """
    if day.stress_after >= 1:
        return DrySpell.NO_HARM
    if not day.certain:
        return DrySpell.UNKNOWN
    sensitive = tasselling_on is not None and abs((day.on - tasselling_on).days) <= SENSITIVE_DAYS
    if sensitive or day.stress_after < HURT_STRESS:
        return DrySpell.HURTS
    return DrySpell.BEGINS


def weeds_will_germinate(
    days: Sequence[WaterDay], soil: Soil, moist_days: int = WEED_DAYS
) -> Answer:
    """Whether the topsoil has been moist for long enough that weeds keep coming up.

    Parameters
    ----------
    days : soil water of the last days, in order
    soil : class of the soil
    moist_days : moist days in a row, up to the last, that bring weeds up

    Returns
    -------
    yes, no or unknown; unknown too with fewer days than that

    Raises
    ------
    OutOfRange
        Fewer than one moist day is asked for.

    References
    ----------
    Weeds come up with the rains [weedrains]; days and moisture are a [setting].

    Examples
    --------
    >>> from reminder_service.agronomy.soils import soil_of
    >>> wet = WaterDay(date(2026, 1, 5), 20, 4, 9, 0, 60, 1, 1, 4, 0, 0, 0, True, True, True)
    >>> weeds_will_germinate([wet, wet, wet], soil_of("loam")).value
    'yes'
    """
    check_within("moist_days", moist_days, 1, 60, "days")
    last = [topsoil_moist_enough(day, soil, WEED_MOIST_SHARE) for day in days[-moist_days:]]
    if Answer.NO in last:
        return Answer.NO
    if Answer.UNKNOWN in last or len(last) < moist_days:
        return Answer.UNKNOWN
    return Answer.YES


def waterlogged(days: Sequence[WaterDay], soil: Soil) -> bool:
    """Whether more water lies in the topsoil than it holds against its weight.

    Parameters
    ----------
    days : soil water of the last days, in order
    soil : class of the soil

    Returns
    -------
    True if the water that went down in the last days would fill the pores of the topsoil that
    drain

    References
    ----------
    Pores at saturation [nmsu], field capacity [fao56]; days and depth are a [setting].

    Examples
    --------
    >>> from reminder_service.agronomy.soils import soil_of
    >>> flood = WaterDay(date(2026, 1, 5), 90, 0, 0, 0, 60, 1, 1, 4, 80, 70, 70, True, True, True)
    >>> waterlogged([flood], soil_of("clay")), waterlogged([flood], soil_of("sand"))
    (True, False)
    """
    pores_mm = 1000 * (soil.saturation - soil.field_capacity) * WATERLOGGED_M
    return sum(day.overflow_mm for day in days[-WATERLOGGED_DAYS:]) > pores_mm


def hold_dressing(
    today: date,
    days: Sequence[WaterDay],
    soil: Soil,
    forecast_mm: Mapping[date, float] | None = None,
    tasselled_on: date | None = None,
    heavy_storm_mm: float = HEAVY_STORM_MM,
) -> tuple[HoldReason, ...]:
    """Reasons not to place nitrogen today, none if it may be placed.

    Unknown moisture is no reason: the farmer's own look at the soil decides then.

    Parameters
    ----------
    today : local day of the dressing
    days : soil water up to today or the evening before, in order; empty if nothing is known
    soil : class of the soil
    forecast_mm : expected rain by local day; None without a forecast
    tasselled_on : local day that tassels were seen; None if not yet
    heavy_storm_mm : rain of one day that washes nitrogen down, above 0 mm

    Returns
    -------
    reasons, the weightiest first

    Raises
    ------
    OutOfRange
        The storm's rain is not above zero, or the soil water is of a later day.

    References
    ----------
    Moist soil and covering [S35]; the storm's rain is from [memory], the days are a [setting];
    yield is lost by late nitrogen [S29].

    Examples
    --------
    >>> from reminder_service.agronomy.soils import soil_of
    >>> day = WaterDay(date(2026, 1, 5), 0, 18, 30, 0, 60, 1, 1, 4, 0, 0, 0, True, True, True)
    >>> reasons = hold_dressing(date(2026, 1, 5), [day], soil_of("loam"), {date(2026, 1, 6): 44.0})
    >>> [reason.value for reason in reasons]
    ['heavy storm expected', 'wait for moisture']
    """
    check_within("heavy_storm_mm", heavy_storm_mm, 1, 500, "mm")
    if days and days[-1].on > today:
        raise OutOfRange("days", days[-1].on, f"soil water up to {today}")
    reasons: list[HoldReason] = []
    if tasselled_on is not None and (today - tasselled_on).days > PAST_TASSELLING_DAYS:
        reasons.append(HoldReason.PAST_TASSELLING)
    if waterlogged(days, soil):
        reasons.append(HoldReason.WATERLOGGED)
    expected = [(forecast_mm or {}).get(today + timedelta(days=n), 0.0) for n in range(STORM_DAYS)]
    if max(expected) >= heavy_storm_mm:
        reasons.append(HoldReason.HEAVY_STORM)
    if days and topsoil_moist_enough(days[-1], soil) is Answer.NO:
        reasons.append(HoldReason.WAIT_FOR_MOISTURE)
    return tuple(reasons)
