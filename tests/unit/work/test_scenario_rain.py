"""The invented rain of the demo's scenario shows what the rain book is there to show."""

from datetime import date, timedelta

import pytest

from reminder_service.agronomy.onset import onset
from reminder_service.agronomy.onset_criteria import criterion
from reminder_service.agronomy.rain_days import Status
from reminder_service.work.scenario import ScenarioWard, read_scenario
from reminder_service.work.scenario_rain import invented_rain

SCENARIO = read_scenario()
FIRST_RAIN = date(2026, 11, 12)


@pytest.fixture(params=SCENARIO.wards, ids=lambda ward: ward.name)
def ward(request: pytest.FixtureRequest) -> ScenarioWard:
    return request.param


def test_onset_and_false_starts_fall_where_the_scenario_has_them(ward: ScenarioWard) -> None:
    rain = invented_rain(SCENARIO, ward, FIRST_RAIN)
    found = onset(rain, criterion("programme"), min(rain))
    assert (found.status, found.on) == (Status.CONFIRMED, FIRST_RAIN + timedelta(ward.onset))
    false_on = {start.on for start in found.false_starts}
    if ward.false_start is None:
        assert false_on == set()
    else:
        first = FIRST_RAIN + timedelta(ward.false_start)
        assert false_on and false_on <= {first, first + timedelta(1)}


def test_the_same_seed_gives_the_same_rain_and_wards_differ(ward: ScenarioWard) -> None:
    rain = invented_rain(SCENARIO, ward, FIRST_RAIN)
    assert rain == invented_rain(SCENARIO, ward, FIRST_RAIN)
    other = ward.model_copy(update={"name": "elsewhere"})
    assert rain != invented_rain(SCENARIO, other, FIRST_RAIN)


def test_every_day_of_the_season_is_known_and_dry_spells_are_dry(ward: ScenarioWard) -> None:
    rain = invented_rain(SCENARIO, ward, FIRST_RAIN)
    days = [FIRST_RAIN + timedelta(day) for day in range(SCENARIO.season_starts, 160)]
    assert set(days) <= rain.keys() and min(rain.values()) >= 0
    for first, last in ward.dry:
        assert {rain[FIRST_RAIN + timedelta(day)] for day in range(first, last + 1)} == {0.0}


def test_at_least_one_ward_has_a_false_start_and_one_a_dry_spell() -> None:
    assert any(ward.false_start is not None for ward in SCENARIO.wards)
    assert any(ward.dry for ward in SCENARIO.wards)
