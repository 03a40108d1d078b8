"""Evapotranspiration by day: measured temperatures, else the month's usual ones, else left out."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reminder_service.agronomy.et0_days import et0_days
from reminder_service.agronomy.heat import Basis, Temperatures

LYON, LYON_DAY = 45.72, Temperatures(14.8, 26.6)
FIRST = date(2026, 12, 30)


def test_the_day_of_fao_56_example_20() -> None:
    # Printed as 5.0 (from memory).
    on = date(2026, 7, 15)
    assert et0_days(LYON, on, on, {on: LYON_DAY}, {})[on].mm == pytest.approx(5.0, abs=0.05)


def test_measured_goes_before_usual_and_a_day_without_either_is_left_out() -> None:
    found = et0_days(-15, FIRST, FIRST + timedelta(3), {FIRST: LYON_DAY}, {12: LYON_DAY})
    assert {on: each.basis for on, each in found.items()} == {
        FIRST: Basis.MEASURED,
        FIRST + timedelta(1): Basis.NORMAL,
    }


def test_nothing_is_reckoned_without_a_latitude() -> None:
    assert et0_days(None, FIRST, FIRST, {FIRST: LYON_DAY}, {12: LYON_DAY}) == {}


@given(st.floats(-65, 65), st.floats(-20, 35), st.floats(0, 25), st.dates())
def test_every_day_is_one_that_the_water_balance_takes(latitude, low, range_c, on) -> None:
    found = et0_days(latitude, on, on, {on: Temperatures(low, low + range_c)}, {})
    assert 0 <= found[on].mm <= 20
