"""Coefficients of maize by day of its season."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reminder_service.agronomy.crop_water import (
    PRINTED_GROWTH,
    Growth,
    crop_coefficient,
    ground_cover,
    grown_share,
    growth_of,
    highest_coefficient,
)
from reminder_service.agronomy.errors import OutOfRange
from reminder_service.agronomy.stages import days_to_maturity


def test_the_printed_season() -> None:
    # FAO-56, Table 11, maize grain, arid climate, sown in December or January.
    assert PRINTED_GROWTH == Growth(25, 40, 45, 30)
    assert PRINTED_GROWTH.days == 140


@pytest.mark.parametrize("maturity", ["short", "medium", "long"])
def test_a_class_keeps_its_own_length(maturity: str) -> None:
    assert growth_of(maturity).days == days_to_maturity(maturity)


@pytest.mark.parametrize(
    ("day", "basal", "single"),
    [
        (0, 0.15, 0.30),
        (25, 0.15, 0.30),
        (45, 0.65, 0.75),
        (65, 1.15, 1.20),
        (110, 1.15, 1.20),
        (125, 0.65, 0.775),
        (140, 0.15, 0.35),
        (200, 0.15, 0.35),
    ],
    ids=lambda value: f"{value}",
)
def test_coefficients_run_between_the_printed_ones(day: int, basal: float, single: float) -> None:
    # FAO-56, Tables 12 and 17: 0.30, 1.20, 0.35 and 0.15, 1.15, 0.15.
    assert crop_coefficient(day, PRINTED_GROWTH) == pytest.approx(basal)
    assert crop_coefficient(day, PRINTED_GROWTH, single=True) == pytest.approx(single)


@given(day=st.integers(0, 200), maturity=st.sampled_from(["short", "medium", "long"]))
def test_a_plant_never_shrinks(day: int, maturity: str) -> None:
    growth = growth_of(maturity)
    assert grown_share(day, growth) <= grown_share(day + 1, growth) <= 1


def test_windy_dry_air_uses_more() -> None:
    assert highest_coefficient(2, 1.15, 4, 20) > highest_coefficient(2, 1.15)


def test_wind_and_humidity_count_within_their_range_only() -> None:
    assert highest_coefficient(2, 1.15, 40, 5) == highest_coefficient(2, 1.15, 6, 20)


def test_cover_runs_from_bare_to_nearly_closed() -> None:
    assert ground_cover(0.15, 1.2, 0.05) == 0
    assert ground_cover(5, 1.2, 2) == 0.99


@pytest.mark.parametrize("ask", [crop_coefficient, grown_share], ids=lambda f: f.__name__)
def test_refuses_days_before_planting(ask) -> None:
    with pytest.raises(OutOfRange, match="day is -1"):
        ask(-1, PRINTED_GROWTH)


def test_refuses_a_season_without_a_middle() -> None:
    with pytest.raises(OutOfRange, match="middle"):
        Growth(20, 30, 0, 30)
