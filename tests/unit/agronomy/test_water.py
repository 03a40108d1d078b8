"""The soil's water day by day: nothing lost or made, and unknown rain stays unknown."""

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reminder_service.agronomy.crop_water import growth_of
from reminder_service.agronomy.errors import OutOfRange
from reminder_service.agronomy.soils import SOILS, soil_of, total_available_mm
from reminder_service.agronomy.water import Plot, WaterDay, water_balance

PLANTED = date(2025, 11, 20)
LOAM = Plot(soil_of("loam"), growth_of("medium"))
rains = st.lists(st.sampled_from([0.0, 0.0, 0.0, 2.0, 11.0, 34.0, 80.0]), min_size=1, max_size=120)


def run(rain: list[float | None], plot: Plot = LOAM) -> tuple[WaterDay, ...]:
    """Balance of a plot under this rain, one amount a day; None is unknown."""
    known = {PLANTED + timedelta(days=n): mm for n, mm in enumerate(rain) if mm is not None}
    last = PLANTED + timedelta(days=len(rain) - 1)
    return water_balance(plot, PLANTED, last, known, {})


def deepest_mm(plot: Plot) -> float:
    """Most that the soil holds down to the deepest roots."""
    soil = plot.soil
    return total_available_mm(soil.field_capacity, soil.wilting_point, plot.root_deepest_m)


@settings(max_examples=60)
@given(rain=rains, name=st.sampled_from(list(SOILS)))
def test_water_is_neither_lost_nor_made(rain: list[float], name: str) -> None:
    plot = Plot(soil_of(name), growth_of("medium"), start_share=1.0)
    days = run(rain, plot)
    stored = -(days[-1].missing_mm + days[-1].below_missing_mm)
    # A soil at the wilting point still gives off what its surface holds below that point.
    empty = any(day.missing_mm >= day.available_mm - 1e-9 for day in days)
    balance = sum(rain) - sum(day.used_mm + day.drained_mm for day in days)
    if empty:
        assert stored >= balance - 1e-6
    else:
        assert stored == pytest.approx(balance, abs=1e-6)


@settings(max_examples=60)
@given(rain=rains, name=st.sampled_from(list(SOILS)), share=st.floats(0, 1))
def test_stores_stay_within_what_the_soil_can_hold(
    rain: list[float], name: str, share: float
) -> None:
    plot = Plot(soil_of(name), growth_of("short"), start_share=share)
    for day in run(rain, plot):
        assert 0 <= day.missing_mm <= day.available_mm
        assert 0 <= day.below_missing_mm <= deepest_mm(plot)
        assert 0 <= day.topsoil_missing_mm <= plot.soil.total_evaporable_mm
        assert 0 <= day.stress <= 1


@settings(max_examples=60)
@given(rain=rains, extra=st.floats(0, 50), on=st.integers(0, 119))
def test_more_rain_never_leaves_the_soil_much_drier(
    rain: list[float], extra: float, on: int
) -> None:
    more = list(rain)
    more[on % len(rain)] += extra
    # A wetter crop is less stressed and uses more, but never more than the extra rain.
    assert run(more)[-1].missing_mm <= run(rain)[-1].missing_mm + 1e-6


def test_a_dry_start_is_dry_below_as_well() -> None:
    first = run([0.0])[0]
    assert first.below_missing_mm == pytest.approx(deepest_mm(LOAM) - first.available_mm)


def test_a_wet_start_is_wet_below_as_well() -> None:
    first = run([0.0], Plot(LOAM.soil, LOAM.growth, start_share=1.0))[0]
    assert first.below_missing_mm == 0


def test_rain_goes_to_the_roots_first_and_then_below() -> None:
    first = run([60.0])[0]
    assert first.missing_mm == 0
    assert first.below_missing_mm < run([0.0])[0].below_missing_mm
    assert first.drained_mm == 0


def test_rain_beyond_all_stores_drains() -> None:
    assert run([400.0])[0].drained_mm > 0


def test_growing_roots_reach_the_dry_soil_below() -> None:
    # The same use and rain at the top; only the soil below the seedling's roots differs.
    wet = run([40.0] + [3.0] * 60, Plot(LOAM.soil, LOAM.growth, start_share=1.0))
    dry = run([40.0] + [3.0] * 60)
    assert dry[-1].missing_mm > wet[-1].missing_mm


def test_long_drought_stresses_the_crop() -> None:
    days = run([70.0] + [0.0] * 10)
    assert days[0].stress_after == days[2].stress == 1
    assert days[10].stress < 0.5


def test_an_unknown_day_counts_as_dry_and_is_not_certain() -> None:
    days = run([50.0, None, 0.0])
    assert [day.rain_mm for day in days] == [50, 0, 0]
    assert [day.certain for day in days] == [True, False, False]


def test_a_rain_that_fills_the_topsoil_makes_the_topsoil_certain_again() -> None:
    days = run([50.0, None, 40.0])
    assert [day.topsoil_certain for day in days] == [True, False, True]
    assert not days[-1].certain


def test_a_rain_that_fills_all_stores_makes_all_certain_again() -> None:
    assert [day.certain for day in run([50.0, None, 300.0])] == [True, False, True]


def test_unknown_rain_is_truly_bounded_by_the_dry_answer() -> None:
    unknown = run([30.0, None, 5.0, 0.0, 12.0, 0.0])
    for mm in (0.0, 8.0, 60.0):
        known = run([30.0, mm, 5.0, 0.0, 12.0, 0.0])
        for dry, true in zip(unknown, known, strict=True):
            assert true.missing_mm <= dry.missing_mm + 1e-9


def test_days_without_evapotranspiration_are_marked() -> None:
    days = water_balance(LOAM, PLANTED, PLANTED + timedelta(days=1), {}, {PLANTED: 4.2})
    assert [day.et0_known for day in days] == [True, False]


def test_seasons_run_across_the_new_year() -> None:
    days = run([10.0] * 50)
    assert days[-1].on == date(2026, 1, 8)


@pytest.mark.parametrize(
    ("rain", "et0", "field"),
    [({PLANTED: -1.0}, {}, "rain_mm"), ({}, {PLANTED: 99.0}, "et0_mm")],
    ids=["rain below zero", "more evaporation than the sun can pay"],
)
def test_refuses_impossible_weather(rain, et0, field: str) -> None:
    with pytest.raises(OutOfRange, match=f"{field}.*2025-11-20"):
        water_balance(LOAM, PLANTED, PLANTED, rain, et0)


def test_refuses_an_end_before_planting() -> None:
    with pytest.raises(OutOfRange, match="end_on"):
        water_balance(LOAM, PLANTED, PLANTED - timedelta(days=1), {}, {})
