"""Degree days against printed examples, and what unknown days do to a sum."""

from datetime import date, timedelta
from math import pi, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reminder_service.agronomy.errors import OutOfRange
from reminder_service.agronomy.heat import (
    Basis,
    Temperatures,
    Variant,
    day_degrees,
    heat_sum,
)

FIRST = date(2025, 12, 30)
MILD = Temperatures(15, 25)
days_of_air = st.tuples(st.floats(-20, 40), st.floats(0, 20)).map(
    lambda pair: Temperatures(pair[0], pair[0] + pair[1])
)


def fahrenheit(tmin_f: float, tmax_f: float) -> Temperatures:
    """A day printed in °F."""
    return Temperatures((tmin_f - 32) * 5 / 9, (tmax_f - 32) * 5 / 9)


@pytest.mark.parametrize(
    ("tmin_f", "tmax_f", "printed_f"),
    [
        pytest.param(55, 80, 17.5, id="Purdue heat units example 1, and gddPy 1.0.3"),
        pytest.param(65, 90, 25.5, id="Purdue heat units example 2, and gddPy 1.0.3"),
        pytest.param(46, 72, 11.0, id="Purdue heat units example 3, and gddPy 1.0.3"),
        pytest.param(60, 80, 20.0, id="Ohio AGF-101 example 1"),
        pytest.param(40, 60, 5.0, id="Ohio AGF-101 example 2"),
        pytest.param(70, 90, 28.0, id="Ohio AGF-101 example 3"),
        pytest.param(48, 90, 18.0, id="a seed grower's page, low 48 and high 90"),
    ],
)
def test_printed_examples_of_the_limited_variant(
    tmin_f: float, tmax_f: float, printed_f: float
) -> None:
    assert day_degrees(fahrenheit(tmin_f, tmax_f)) * 9 / 5 == pytest.approx(printed_f)


@pytest.mark.parametrize(
    ("tmin_f", "tmax_f", "printed_f"),
    [
        pytest.param(65, 90, 27.5, id="gddPy 1.0.3, warm"),
        pytest.param(46, 72, 9.0, id="gddPy 1.0.3, cool night"),
    ],
)
def test_printed_examples_of_the_plain_mean(tmin_f: float, tmax_f: float, printed_f: float) -> None:
    found = day_degrees(fahrenheit(tmin_f, tmax_f), Variant.PLAIN)
    assert found * 9 / 5 == pytest.approx(printed_f)


def test_printed_examples_with_another_base() -> None:
    # gddPy 1.0.3, description: 34 and 60 with base 40 give 7; between 35 and 55 they give 5.
    day = fahrenheit(34, 60)
    base_c, cap_c = fahrenheit(40, 55).tmin_c, fahrenheit(40, 55).tmax_c
    assert day_degrees(day, Variant.PLAIN, base_c) * 9 / 5 == pytest.approx(7)
    assert day_degrees(fahrenheit(35, 60), Variant.CAPPED, base_c, cap_c) * 9 / 5 == pytest.approx(
        5
    )


def test_capped_mean_lets_a_cold_night_count() -> None:
    day = Temperatures(4, 34)
    assert day_degrees(day, Variant.CAPPED) == pytest.approx(7)
    assert day_degrees(day, Variant.LIMITED) == pytest.approx(10)


@pytest.mark.parametrize(
    ("tmin_c", "tmax_c"),
    [(12, 28), (2, 28), (12, 38), (2, 38), (-5, 8), (31, 40)],
    ids=["inside", "cold night", "hot day", "both", "too cold", "too hot all day"],
)
def test_sine_is_the_area_between_the_limits(tmin_c: float, tmax_c: float) -> None:
    steps = 20_000
    curve = (
        (tmin_c + tmax_c) / 2 + (tmax_c - tmin_c) / 2 * sin(2 * pi * step / steps)
        for step in range(steps)
    )
    area = sum(min(max(air_c, 10), 30) - 10 for air_c in curve) / steps
    assert day_degrees(Temperatures(tmin_c, tmax_c), Variant.SINE) == pytest.approx(area, abs=1e-3)


@pytest.mark.parametrize("variant", [v for v in Variant if v is not Variant.PLAIN])
@given(day=days_of_air)
def test_no_day_beats_cap_minus_base(variant: Variant, day: Temperatures) -> None:
    assert 0 <= day_degrees(day, variant) <= 20 + 1e-9


@given(day=days_of_air)
def test_cold_nights_never_count_against_the_limited_variant(day: Temperatures) -> None:
    assert day_degrees(day, Variant.LIMITED) >= day_degrees(day, Variant.CAPPED) - 1e-9


@given(day=days_of_air)
def test_a_cap_takes_nothing_from_the_sum_but_heat(day: Temperatures) -> None:
    assert day_degrees(day, Variant.CAPPED) <= day_degrees(day, Variant.PLAIN) + 1e-9


def test_refuses_a_cap_below_the_base() -> None:
    with pytest.raises(OutOfRange, match="cap_c"):
        day_degrees(MILD, base_c=10, cap_c=10)


@pytest.mark.parametrize(
    ("tmin_c", "tmax_c", "field"),
    [(20, 19, "tmin_c"), (-80, 10, "tmin_c"), (10, 99, "tmax_c"), (float("nan"), 9, "tmin_c")],
    ids=["upside down", "too cold to be true", "too hot to be true", "no number"],
)
def test_refuses_impossible_temperatures(tmin_c: float, tmax_c: float, field: str) -> None:
    with pytest.raises(OutOfRange) as caught:
        Temperatures(tmin_c, tmax_c)
    assert caught.value.field == field


def test_sum_runs_across_the_new_year() -> None:
    air = {FIRST + timedelta(days=n): MILD for n in range(4)}
    assert [day.total for day in heat_sum(air, FIRST, date(2026, 1, 2))] == [10, 20, 30, 40]


def test_sum_is_unknown_from_an_unknown_day_on() -> None:
    air = {FIRST: MILD, date(2026, 1, 1): MILD}
    days = heat_sum(air, FIRST, date(2026, 1, 1))
    assert [day.total for day in days] == [10, None, None]
    assert [day.degree_days for day in days] == [10, None, 10]
    assert [day.basis for day in days] == [Basis.MEASURED, Basis.UNKNOWN, Basis.MEASURED]


def test_normals_bridge_an_unknown_day_and_say_so() -> None:
    normals = {12: Temperatures(16, 26)}
    days = heat_sum({FIRST: MILD}, FIRST, date(2025, 12, 31), normals=normals)
    assert [day.total for day in days] == [10, 21]
    assert days[1].basis is Basis.NORMAL


def test_normals_bridge_their_own_months_only() -> None:
    normals = {12: Temperatures(16, 26)}
    days = heat_sum({}, FIRST, date(2026, 1, 1), normals=normals)
    assert [day.total for day in days] == [11, 22, None]


def test_refuses_an_end_before_the_start() -> None:
    with pytest.raises(OutOfRange, match="end_on"):
        heat_sum({}, FIRST, FIRST - timedelta(days=1))
