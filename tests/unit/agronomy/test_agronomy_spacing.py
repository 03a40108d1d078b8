"""Stations and plants a hectare against the handbook table of spacings."""

import pytest

from reminder_service.agronomy.errors import OutOfRange
from reminder_service.agronomy.spacing import plants_per_ha, stations_per_ha

TABLE = [
    pytest.param(75, 60, 22_222, 44_444, 66_667, id="75 x 60"),
    pytest.param(90, 60, 18_519, 37_037, 55_556, id="90 x 60"),
    pytest.param(90, 50, 22_222, 44_444, 66_667, id="90 x 50"),
    pytest.param(75, 50, 26_667, 53_333, 80_000, id="75 x 50"),
]


@pytest.mark.parametrize(("row_cm", "in_row_cm", "stations", "twos", "threes"), TABLE)
def test_agrees_with_the_table(
    row_cm: int, in_row_cm: int, stations: int, twos: int, threes: int
) -> None:
    density = stations_per_ha(row_cm, in_row_cm)
    assert round(density) == stations
    assert round(plants_per_ha(density, 2)) == twos
    assert round(plants_per_ha(density, 3)) == threes


def test_assumes_75_by_60_where_nothing_is_said() -> None:
    assert stations_per_ha() == stations_per_ha(75, 60)


@pytest.mark.parametrize(
    ("row_cm", "in_row_cm", "field"),
    [
        pytest.param(0.75, 60, "row_cm", id="metres for centimetres"),
        pytest.param(75, 600, "in_row_cm", id="millimetres for centimetres"),
        pytest.param(float("nan"), 60, "row_cm", id="not a number"),
    ],
)
def test_refuses_a_distance(row_cm: float, in_row_cm: float, field: str) -> None:
    with pytest.raises(OutOfRange) as refusal:
        stations_per_ha(row_cm, in_row_cm)
    assert refusal.value.field == field


@pytest.mark.parametrize(
    ("stations", "plants", "field"),
    [
        pytest.param(0, 2, "stations", id="no station"),
        pytest.param(22_222, -1, "plants_a_station", id="fewer than no plants"),
    ],
)
def test_refuses_a_stand(stations: float, plants: float, field: str) -> None:
    with pytest.raises(OutOfRange) as refusal:
        plants_per_ha(stations, plants)
    assert refusal.value.field == field
