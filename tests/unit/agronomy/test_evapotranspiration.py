"""Reference evapotranspiration against the worked examples of FAO-56.

The examples' numbers were read in the tests of a public library that cite them by page; what is
only known from memory says so.
"""

import pytest

from reminder_service.agronomy.errors import OutOfRange
from reminder_service.agronomy.evapotranspiration import (
    Place,
    daylight_hours,
    extraterrestrial_radiation,
    net_radiation,
    radiation_from_sunshine,
    reference_et_from_temperatures_mm,
    reference_et_mm,
    saturation_kpa,
    vapour_kpa,
    wind_at_2m,
)
from reminder_service.agronomy.heat import Temperatures

UCCLE = Place(50.80, 100)
UCCLE_DAY = Temperatures(12.3, 21.5)
BANGKOK = Place(13.73, 2)
MID_APRIL = 105


def test_example_3_saturation() -> None:
    assert (saturation_kpa(15) + saturation_kpa(24.5)) / 2 == pytest.approx(2.39, abs=0.005)


def test_example_5_vapour_from_humidity() -> None:
    assert vapour_kpa(Temperatures(18, 25), 82, 54) == pytest.approx(1.70, abs=0.005)


def test_example_8_sunshine_above_the_air() -> None:
    assert extraterrestrial_radiation(-20, 246) == pytest.approx(32.2, abs=0.05)


def test_example_9_daylight() -> None:
    assert daylight_hours(-20, 246) == pytest.approx(11.7, abs=0.05)


def test_example_10_sunshine_on_the_ground() -> None:
    # Rio de Janeiro in May, 7.1 hours of bright sun: 14.5.
    assert radiation_from_sunshine(7.1, -22.9, 135) == pytest.approx(14.5, abs=0.1)


def test_example_14_wind() -> None:
    assert wind_at_2m(3.2, 10) == pytest.approx(2.4, abs=0.05)


def test_example_17_bangkok_month() -> None:
    # 5.72 with 0.14 into the soil; the printed net radiation is 14.33.
    day = Temperatures(25.6, 34.8)
    solar = radiation_from_sunshine(8.5, BANGKOK.latitude_deg, MID_APRIL)  # 8.5 h: from memory
    net = net_radiation(day, solar, 2.85, BANGKOK, MID_APRIL)
    assert net == pytest.approx(14.33, abs=0.1)
    assert reference_et_mm(day, net, 2.85, 2.0, 2, soil_heat_mj=0.14) == pytest.approx(
        5.72, abs=0.02
    )


def test_example_18_uccle_day() -> None:
    # 3.88, printed as 3.9; humidity 63 to 84 %, wind 2.78 m/s at 10 m, 9.25 h of bright sun.
    vapour = vapour_kpa(UCCLE_DAY, 84, 63)
    solar = radiation_from_sunshine(9.25, UCCLE.latitude_deg, 187)
    net = net_radiation(UCCLE_DAY, solar, vapour, UCCLE, 187)
    assert vapour == pytest.approx(1.409, abs=0.001)
    assert solar == pytest.approx(22.07, abs=0.02)
    assert net == pytest.approx(13.28, abs=0.02)
    found = reference_et_mm(UCCLE_DAY, net, vapour, wind_at_2m(2.78, 10), 100)
    assert found == pytest.approx(3.88, abs=0.01)


def test_example_20_lyon_by_temperatures_alone() -> None:
    # Printed as 5.0 (from memory).
    found = reference_et_from_temperatures_mm(Temperatures(14.8, 26.6), 45.72, 196)
    assert found == pytest.approx(5.0, abs=0.05)


def test_sunshine_longer_than_the_day_counts_as_all_of_it() -> None:
    assert radiation_from_sunshine(20, -17, 340) == radiation_from_sunshine(24, -17, 340)


def test_both_hemispheres_mirror_each_other() -> None:
    assert daylight_hours(17, 10) + daylight_hours(-17, 10) == pytest.approx(24)


def test_damp_cold_air_never_gives_water_back() -> None:
    assert reference_et_mm(Temperatures(1, 2), -3, 0.7, 0.5, 1000) == 0


@pytest.mark.parametrize(
    ("place", "field"),
    [((80, 10), "latitude_deg"), ((10, 9000), "altitude_m")],
    ids=["polar", "above all mountains"],
)
def test_refuses_an_impossible_place(place: tuple[float, float], field: str) -> None:
    with pytest.raises(OutOfRange, match=field):
        Place(*place)


def test_refuses_a_day_without_a_place_in_the_year() -> None:
    with pytest.raises(OutOfRange, match="day_of_year"):
        extraterrestrial_radiation(-17, 0)
