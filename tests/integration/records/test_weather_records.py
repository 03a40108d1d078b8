"""Where wards lie and their temperatures, on both engines."""

from datetime import UTC, date, datetime

import pytest

from reminder_service.agronomy.heat import Temperatures
from reminder_service.records import farmers, weather
from reminder_service.records.engine import reading, writing
from reminder_service.records.weather import WardPlace

AT = datetime(2026, 12, 5, 8, 0, tzinfo=UTC)
FIRST, SECOND = date(2026, 12, 1), date(2026, 12, 2)
MILD, WARM = Temperatures(15, 25), Temperatures(17, 31)


@pytest.fixture
def ward_id(engine) -> int:
    with writing(engine) as c:
        farmers.add_ward(c, "Setiwe", "Africa/Lusaka")
        return farmers.add_ward(c, "Olmara", "Africa/Lusaka")


def test_a_ward_without_a_place_has_none(engine, ward_id):
    with reading(engine) as c:
        assert weather.ward_place(c, ward_id) == WardPlace(None, None)


def test_the_place_said_last_counts(engine, ward_id):
    with writing(engine) as c:
        weather.set_ward_place(c, ward_id, WardPlace(-15.5, "clay"))
        weather.set_ward_place(c, ward_id, WardPlace(12.0, None))
    with reading(engine) as c:
        assert weather.ward_place(c, ward_id) == WardPlace(12.0, None)


def test_temperatures_said_last_count_and_only_changes_are_counted(engine, ward_id):
    with writing(engine) as c:
        assert weather.keep_temperatures(c, ward_id, {FIRST: MILD, SECOND: MILD}, "a.csv", AT) == 2
        assert weather.keep_temperatures(c, ward_id, {FIRST: WARM, SECOND: MILD}, "b.csv", AT) == 1
        assert weather.keep_temperatures(c, ward_id, {}, "c.csv", AT) == 0
    with reading(engine) as c:
        found = weather.daily_temperatures(c, ward_id, FIRST, SECOND)
        assert found == {FIRST: WARM, SECOND: MILD}
        assert weather.daily_temperatures(c, ward_id, SECOND, SECOND) == {SECOND: MILD}
        assert weather.daily_temperatures(c, ward_id - 1, FIRST, SECOND) == {}
