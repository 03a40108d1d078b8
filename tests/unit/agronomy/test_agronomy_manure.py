"""Manure tea: the batch for a plot, and the stop before harvest."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reminder_service.agronomy import manure
from reminder_service.agronomy.errors import OutOfRange
from reminder_service.agronomy.manure import tea_batch


@given(st.integers(1, 10_000_000), st.floats(0.05, 10))
def test_one_part_of_tea_to_ten_of_water(stations: int, litres: float) -> None:
    batch = tea_batch(stations, litres)
    assert batch.dilute_l == pytest.approx(stations * litres)
    assert batch.water_l == pytest.approx(10 * batch.steeped_l)
    assert batch.steeped_l + batch.water_l == pytest.approx(batch.dilute_l)


@pytest.mark.parametrize(
    ("stations", "drums"),
    [
        pytest.param(1, 1, id="a single station is a drum"),
        pytest.param(2200, 1, id="exactly one drum"),
        pytest.param(2201, 2, id="a station more"),
        pytest.param(22_222, 11, id="a hectare at 75 x 60"),
    ],
)
def test_drums_are_whole(stations: int, drums: int) -> None:
    assert tea_batch(stations, 1).drums == drums


@given(st.integers(1, 100_000))
def test_drums_hold_the_tea_with_less_than_one_to_spare(stations: int) -> None:
    batch = tea_batch(stations, 1)
    assert 0 <= batch.drums * 200 - batch.steeped_l < 200


@given(st.integers(1, 100_000))
def test_a_bag_a_drum_with_the_manure_of_the_source(stations: int) -> None:
    batch = tea_batch(stations)
    assert batch.bags == batch.drums
    assert 30 <= batch.manure_kg / batch.drums <= 50


def test_stops_before_harvest_are_those_of_the_rule() -> None:
    assert (manure.STOP_DAYS, manure.STOP_DAYS_TOUCHING_SOIL) == (90, 120)


@pytest.mark.parametrize(
    ("stations", "litres", "field"),
    [
        pytest.param(0, 1, "stations", id="no station"),
        pytest.param(10, 0, "litres_per_station", id="no tea"),
        pytest.param(10, 11, "litres_per_station", id="a flood"),
    ],
)
def test_refuses(stations: int, litres: float, field: str) -> None:
    with pytest.raises(OutOfRange) as refusal:
        tea_batch(stations, litres)
    assert refusal.value.field == field
