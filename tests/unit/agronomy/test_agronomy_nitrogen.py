"""Top-dressing by the cup against worked figures, printed grades and the density sheet."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reminder_service.agronomy.errors import OutOfRange
from reminder_service.agronomy.nitrogen import PRODUCTS, cup_ml_for, dressing
from reminder_service.agronomy.spacing import stations_per_ha

G_PER_ML_OF_LB_PER_CUFT = 0.01601846
WORKED = [
    pytest.param(5, "an", 75, 4.5, 100.0, 34.5, id="5 ml AN at 75 x 60"),
    pytest.param(5, "an", 90, 4.5, 83.3, 28.7, id="5 ml AN at 90 x 60"),
    pytest.param(8, "an", 75, 7.2, 160.0, 55.2, id="8 ml AN at 75 x 60"),
    pytest.param(5, "urea", 75, 3.7, 82.2, 37.8, id="5 ml urea at 75 x 60"),
]


@pytest.mark.parametrize(("cup_ml", "product", "row_cm", "grams", "kg_per_ha", "n_kg"), WORKED)
def test_agrees_with_the_worked_figure(
    cup_ml: float, product: str, row_cm: float, grams: float, kg_per_ha: float, n_kg: float
) -> None:
    stations = 1_000_000
    need = dressing(stations, cup_ml, product, row_cm=row_cm)
    density = stations_per_ha(row_cm, 60)
    assert need.grams_per_station == pytest.approx(grams)
    assert need.kg / stations * density == pytest.approx(kg_per_ha, abs=0.05)
    assert need.n_kg_per_ha == pytest.approx(n_kg, abs=0.05)


@pytest.mark.parametrize(("product", "grade_percent"), [("an", 34.5), ("urea", 46), ("can", 27)])
def test_nitrogen_is_the_printed_grade(product: str, grade_percent: float) -> None:
    assert PRODUCTS[product].n_share * 100 == pytest.approx(grade_percent)


def test_measured_ammonium_nitrate_is_near_its_grade() -> None:
    assert PRODUCTS["an"].n_share == pytest.approx(0.346, abs=0.002)


def test_three_quarters_the_urea_carries_the_nitrogen_of_ammonium_nitrate() -> None:
    assert PRODUCTS["an"].n_share / PRODUCTS["urea"].n_share == pytest.approx(0.75)


@pytest.mark.parametrize(("product", "low", "high"), [("an", 54, 58), ("urea", 44, 48)])
def test_density_is_the_middle_of_the_sheet(product: str, low: float, high: float) -> None:
    middle = (low + high) / 2 * G_PER_ML_OF_LB_PER_CUFT
    assert PRODUCTS[product].density_g_per_ml == pytest.approx(middle, abs=0.005)


def test_a_second_dose_doubles_all_but_the_cup() -> None:
    once, twice = dressing(2000, 5, "an"), dressing(2000, 5, "an", doses=2)
    assert twice.grams_per_station == once.grams_per_station
    assert twice.kg == 2 * once.kg
    assert twice.n_kg_per_ha == pytest.approx(2 * once.n_kg_per_ha)


@pytest.mark.parametrize(
    ("stations", "bags"),
    [
        pytest.param(1, 1, id="any product at all is a bag"),
        pytest.param(10_000, 1, id="exactly one bag"),
        pytest.param(10_001, 2, id="a station more"),
        pytest.param(60_000, 6, id="exactly six bags"),
    ],
)
def test_bags_are_whole(stations: int, bags: int) -> None:
    assert dressing(stations, 5, "can").bags_50kg == bags


def test_a_rounding_error_buys_no_bag() -> None:
    need = dressing(9_000_000, 1.1, "can")
    assert need.kg == pytest.approx(9900)
    assert need.bags_50kg == 198


@pytest.mark.parametrize(
    ("given_as", "density"),
    [
        pytest.param({}, 1e8 / (75 * 60), id="nothing said"),
        pytest.param({"row_cm": 90, "in_row_cm": 50}, 1e8 / (90 * 50), id="spacing"),
        pytest.param({"area_ha": 0.1}, 20_000, id="area over spacing"),
        pytest.param({"area_ha": 0.1, "stations_per_ha": 18_000}, 18_000, id="density over area"),
    ],
)
def test_nitrogen_a_hectare_follows_the_stations_a_hectare(
    given_as: dict[str, Any], density: float
) -> None:
    need = dressing(2000, 5, "an", **given_as)
    assert need.n_kg_per_ha == pytest.approx(4.5 / 1000 * density * 0.345)


@given(
    product=st.sampled_from(sorted(PRODUCTS)),
    n_kg=st.floats(1, 500),
    density=st.floats(10_000, 60_000),
    doses=st.integers(1, 6),
)
def test_the_cup_asked_for_brings_the_nitrogen_wanted(
    product: str, n_kg: float, density: float, doses: int
) -> None:
    cup_ml = cup_ml_for(n_kg, product, density, doses)
    grams = cup_ml * PRODUCTS[product].density_g_per_ml
    brought = grams * doses * density / 1000 * PRODUCTS[product].n_share
    assert brought == pytest.approx(n_kg)


def test_the_cup_asked_for_is_the_worked_one() -> None:
    assert cup_ml_for(55.2, "an", stations_per_ha(75, 60)) == pytest.approx(8)


GOOD = {"stations": 2000, "cup_ml": 5, "product": "an"}


@pytest.mark.parametrize(
    ("field", "wrong"),
    [
        ("stations", 0),
        ("cup_ml", 0),
        ("cup_ml", float("nan")),
        ("cup_ml", float("inf")),
        ("product", "AN 34"),
        ("doses", 0),
        ("row_cm", 0),
        ("area_ha", 0),
        ("stations_per_ha", 0),
    ],
)
def test_dressing_refuses(field: str, wrong: object) -> None:
    with pytest.raises(OutOfRange) as refusal:
        dressing(**{**GOOD, field: wrong})
    assert refusal.value.field == field


def test_dressing_refuses_more_stations_than_the_area_holds() -> None:
    with pytest.raises(OutOfRange, match="stations_per_ha"):
        dressing(2000, 5, "an", area_ha=0.001)


@pytest.mark.parametrize(
    ("field", "wrong"),
    [("n_kg_per_ha", 0), ("product", "dung"), ("stations_per_ha", 0), ("doses", 7)],
)
def test_cup_refuses(field: str, wrong: object) -> None:
    good = {"n_kg_per_ha": 30, "product": "an", "stations_per_ha": 20_000}
    with pytest.raises(OutOfRange) as refusal:
        cup_ml_for(**{**good, field: wrong})
    assert refusal.value.field == field
