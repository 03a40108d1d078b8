"""What soil water means for dressing, dry spells and weeds: each answer from both sides."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from reminder_service.agronomy.crop_water import growth_of
from reminder_service.agronomy.errors import OutOfRange
from reminder_service.agronomy.field_moisture import (
    HEAVY_STORM_MM,
    PAST_TASSELLING_DAYS,
    SENSITIVE_DAYS,
    Answer,
    DrySpell,
    HoldReason,
    dry_spell_hurts,
    hold_dressing,
    topsoil_moist_enough,
    waterlogged,
    weeds_will_germinate,
)
from reminder_service.agronomy.soils import soil_of
from reminder_service.agronomy.water import Plot, WaterDay, water_balance

TODAY = date(2026, 1, 5)
LOAM = soil_of("loam")
TOTAL = LOAM.total_evaporable_mm
MOIST = WaterDay(TODAY, 0, TOTAL * 0.75, 20, 0, 60, 1, 1, 4, 0, 0, 0, True, True, et0_known=True)
DRY = replace(MOIST, topsoil_missing_mm=TOTAL * 0.75 + 0.01)
UNSURE = replace(DRY, topsoil_certain=False)


@pytest.mark.parametrize(
    ("day", "answer"),
    [
        (MOIST, Answer.YES),
        (DRY, Answer.NO),
        (UNSURE, Answer.UNKNOWN),
        (replace(MOIST, topsoil_certain=False), Answer.YES),
    ],
    ids=[
        "a quarter is there",
        "less than a quarter",
        "dry if no rain fell",
        "moist even if no rain fell",
    ],
)
def test_topsoil_moist_enough(day: WaterDay, answer: Answer) -> None:
    assert topsoil_moist_enough(day, LOAM) is answer


def test_a_programme_may_ask_for_more_moisture() -> None:
    assert topsoil_moist_enough(MOIST, LOAM, moist_share=0.6) is Answer.NO


@pytest.mark.parametrize(
    ("stress", "days_from_tassel", "answer"),
    [
        (1.0, 0, DrySpell.NO_HARM),
        (0.99, SENSITIVE_DAYS, DrySpell.HURTS),
        (0.99, -SENSITIVE_DAYS, DrySpell.HURTS),
        (0.99, SENSITIVE_DAYS + 1, DrySpell.BEGINS),
        (0.80, 40, DrySpell.BEGINS),
        (0.79, 40, DrySpell.HURTS),
    ],
    ids=["none", "before tassel", "after tassel", "outside", "light", "strong"],
)
def test_dry_spell_hurts(stress: float, days_from_tassel: int, answer: DrySpell) -> None:
    tasselling = TODAY + timedelta(days=days_from_tassel)
    assert dry_spell_hurts(replace(MOIST, stress_after=stress), tasselling) is answer


def test_stress_that_a_missing_report_may_explain_is_unknown() -> None:
    assert (
        dry_spell_hurts(replace(MOIST, stress_after=0.2, certain=False), TODAY) is DrySpell.UNKNOWN
    )


def test_rain_ends_the_stress_on_its_own_day() -> None:
    assert dry_spell_hurts(replace(MOIST, stress=0.1), TODAY) is DrySpell.NO_HARM


def test_no_stress_needs_no_report() -> None:
    assert dry_spell_hurts(replace(MOIST, certain=False), TODAY) is DrySpell.NO_HARM


@pytest.mark.parametrize(
    ("days", "answer"),
    [
        ([MOIST] * 3, Answer.YES),
        ([DRY, MOIST, MOIST, MOIST], Answer.YES),
        ([MOIST, DRY, MOIST], Answer.NO),
        ([MOIST, UNSURE, MOIST], Answer.UNKNOWN),
        ([MOIST] * 2, Answer.UNKNOWN),
    ],
    ids=["moist", "moist at last", "dried between", "not reported", "too few days"],
)
def test_weeds_will_germinate(days: list[WaterDay], answer: Answer) -> None:
    assert weeds_will_germinate(days, LOAM) is answer


@pytest.mark.parametrize(
    ("name", "pores_mm"), [("sand", 79.8), ("loam", 67.2), ("clay", 49.2)], ids=str
)
def test_waterlogged_beyond_the_pores_that_drain(name: str, pores_mm: float) -> None:
    soil = soil_of(name)
    under, over = replace(MOIST, overflow_mm=pores_mm - 0.1), replace(MOIST, overflow_mm=pores_mm)
    assert not waterlogged([under], soil)
    assert waterlogged([replace(over, overflow_mm=pores_mm + 0.1)], soil)


def test_two_wet_days_add_up_and_a_third_has_drained() -> None:
    wet = replace(MOIST, overflow_mm=40)
    assert waterlogged([wet, wet], LOAM)
    assert not waterlogged([wet, wet, MOIST, MOIST], LOAM)


def reasons(day: WaterDay = MOIST, **given: object) -> tuple[HoldReason, ...]:
    """Reasons to hold the dressing back on `TODAY`."""
    return hold_dressing(TODAY, [day], LOAM, **given)


def test_moist_soil_and_fair_weather_hold_nothing() -> None:
    assert reasons(forecast_mm={TODAY: 6.0}) == ()


def test_dry_topsoil_waits_for_moisture() -> None:
    assert reasons(DRY) == (HoldReason.WAIT_FOR_MOISTURE,)


def test_unknown_moisture_leaves_the_look_to_the_farmer() -> None:
    assert reasons(UNSURE) == ()
    assert hold_dressing(TODAY, [], LOAM) == ()


@pytest.mark.parametrize(
    ("ahead", "mm", "held"),
    [
        (0, HEAVY_STORM_MM, True),
        (2, HEAVY_STORM_MM, True),
        (3, HEAVY_STORM_MM, False),
        (1, HEAVY_STORM_MM - 0.1, False),
        (-1, 90.0, False),
    ],
    ids=["today", "in two days", "too far ahead", "not heavy", "already fallen"],
)
def test_heavy_storm_expected(ahead: int, mm: float, held: bool) -> None:
    found = reasons(forecast_mm={TODAY + timedelta(days=ahead): mm})
    assert (HoldReason.HEAVY_STORM in found) is held


def test_a_programme_may_set_the_storm_higher() -> None:
    assert reasons(forecast_mm={TODAY: 44.0}, heavy_storm_mm=50.0) == ()


@pytest.mark.parametrize(
    ("since", "held"),
    [(0, False), (PAST_TASSELLING_DAYS, False), (PAST_TASSELLING_DAYS + 1, True)],
    ids=["at the tassel", "in its week", "past it"],
)
def test_past_tasselling(since: int, held: bool) -> None:
    found = reasons(tasselled_on=TODAY - timedelta(days=since))
    assert (HoldReason.PAST_TASSELLING in found) is held


def test_all_reasons_stand_by_weight() -> None:
    soaked = replace(DRY, overflow_mm=100)
    found = reasons(soaked, forecast_mm={TODAY: 60.0}, tasselled_on=date(2025, 12, 1))
    assert found == (
        HoldReason.PAST_TASSELLING,
        HoldReason.WATERLOGGED,
        HoldReason.HEAVY_STORM,
        HoldReason.WAIT_FOR_MOISTURE,
    )


@pytest.mark.parametrize(("name", "moist_days"), [("sand", 1), ("loam", 2), ("clay", 3)], ids=str)
def test_heavier_soil_stays_moist_longer_after_a_soaking_rain(name: str, moist_days: int) -> None:
    planted, soil = date(2025, 11, 20), soil_of(name)
    plot = Plot(soil, growth_of("medium"))
    days = water_balance(plot, planted, planted + timedelta(days=9), {planted: 45.0}, {})
    known = water_balance(plot, planted, days[-1].on, {day.on: day.rain_mm for day in days}, {})
    moist = [topsoil_moist_enough(day, soil) is Answer.YES for day in known]
    assert moist == [True] * (moist_days + 1) + [False] * (9 - moist_days)


def test_a_season_runs_through_all_answers() -> None:
    planted = date(2025, 11, 20)
    rain = {planted + timedelta(days=n): (45.0 if n == 0 else 0.0) for n in range(40)}
    plot = Plot(LOAM, growth_of("medium"))
    days = water_balance(plot, planted, planted + timedelta(days=39), rain, {})
    assert topsoil_moist_enough(days[1], LOAM) is Answer.YES
    assert topsoil_moist_enough(days[20], LOAM) is Answer.NO
    assert weeds_will_germinate(days[:3], LOAM) is Answer.YES
    assert weeds_will_germinate(days[:20], LOAM) is Answer.NO


def test_refuses_soil_water_of_a_later_day() -> None:
    with pytest.raises(OutOfRange, match="soil water up to 2026-01-04"):
        hold_dressing(date(2026, 1, 4), [MOIST], LOAM)
