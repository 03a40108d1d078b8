"""Available water and stress against the examples of FAO-56 and a second soil table."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reminder_service.agronomy.errors import OutOfRange
from reminder_service.agronomy.soils import (
    SOILS,
    Soil,
    depletion_share,
    soil_of,
    total_available_mm,
    water_stress,
)

# FAO-56, example 36, from memory: field capacity, wilting point, and available mm per m.
EXAMPLE_36 = {
    "loamy sand": (0.15, 0.06, 90),
    "silt": (0.32, 0.15, 170),
    "silty clay": (0.35, 0.23, 120),
}

# New Mexico State University (nmsu): field capacity and wilting point in g/g, density in g/cm3.
NMSU = {
    "sand": (0.091, 0.039, 1.627),
    "loam": (0.223, 0.102, 1.395),
    "clay": (0.351, 0.172, 1.262),
}

# FAO-56, Table 19, from memory: mm that the top 10 cm can lose, lowest and highest.
EVAPORABLE_MM = {"sand": (6, 12), "loam": (16, 22), "clay": (22, 29)}


@pytest.mark.parametrize("name", EXAMPLE_36)
def test_example_36_available_water_of_maize(name: str) -> None:
    capacity, wilting, per_m = EXAMPLE_36[name]
    assert total_available_mm(capacity, wilting, 1.2) == pytest.approx(1.2 * per_m)


@pytest.mark.parametrize(("use_mm", "easy_mm"), [(5, 85.8), (7, 73.3)], ids=["at 5 mm", "at 7 mm"])
def test_easily_available_water_of_maize(use_mm: float, easy_mm: float) -> None:
    # 0.23 and 0.10 over 1.2 m of roots: 156 mm, of which 0.55 at 5 mm/d (FAO-56, Table 22).
    available = total_available_mm(0.23, 0.10, 1.2)
    assert available == pytest.approx(156)
    assert depletion_share(use_mm) * available == pytest.approx(easy_mm, abs=0.05)


@pytest.mark.parametrize(
    ("use_mm", "share"), [(0, 0.75), (16.25, 0.10), (25, 0.10)], ids=["none", "at the end", "more"]
)
def test_share_stays_in_its_range(use_mm: float, share: float) -> None:
    assert depletion_share(use_mm) == pytest.approx(share)


@pytest.mark.parametrize(
    ("depleted_mm", "stress"),
    [(0, 1), (58, 1), (109, 0.5), (160, 0), (170, 0)],
    ids=["full", "easy water just gone", "half way", "wilting", "beyond"],
)
def test_stress_falls_in_a_straight_line(depleted_mm: float, stress: float) -> None:
    # FAO-56, equation 84, with the 160 mm and 58 mm of example 37 (from memory).
    assert water_stress(depleted_mm, 160, 58 / 160) == pytest.approx(stress)


@given(a=st.floats(0, 200), b=st.floats(0, 200))
def test_drier_is_never_less_stressed(a: float, b: float) -> None:
    assert water_stress(max(a, b), 156, 0.55) <= water_stress(min(a, b), 156, 0.55)


@pytest.mark.parametrize("name", EVAPORABLE_MM)
def test_evaporable_water_lies_in_the_printed_range(name: str) -> None:
    low, high = EVAPORABLE_MM[name]
    assert low <= soil_of(name).total_evaporable_mm <= high


@pytest.mark.parametrize("name", NMSU)
def test_classes_agree_with_a_second_table(name: str) -> None:
    # Volumes from masses; the two tables differ by 0.085 at most, most for clay.
    capacity, wilting, density = NMSU[name]
    found = soil_of(name)
    assert found.field_capacity == pytest.approx(capacity * density, abs=0.085)
    assert found.wilting_point == pytest.approx(wilting * density, abs=0.025)


def test_heavier_soil_holds_more_of_everything() -> None:
    held = [(soil.field_capacity, soil.wilting_point, soil.saturation) for soil in SOILS.values()]
    for column in zip(*held, strict=True):
        assert list(column) == sorted(set(column))


def test_refuses_an_unknown_class() -> None:
    with pytest.raises(OutOfRange, match="one of sand, loam, clay"):
        soil_of("gravel")


@pytest.mark.parametrize(
    ("numbers", "field"),
    [
        ((0.2, 0.2, 0.4, 5), "wilting_point"),
        ((0.2, 0.1, 0.1, 5), "saturation"),
        ((0.2, 0.1, 0.4, 40), "readily_evaporable_mm"),
        ((0.9, 0.1, 0.95, 5), "field_capacity"),
    ],
    ids=["holds nothing", "fuller than full", "loses more than all", "a swamp"],
)
def test_refuses_an_impossible_soil(numbers: tuple[float, ...], field: str) -> None:
    with pytest.raises(OutOfRange) as caught:
        Soil("odd", *numbers)
    assert caught.value.field == field
