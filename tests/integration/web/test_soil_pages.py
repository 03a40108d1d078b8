"""The plot page tells the soil beside an open dressing, on both engines."""

from datetime import date, timedelta

import pytest
from page_cast import NOW, OLMARA, a_task
from sqlalchemy import insert

from reminder_service.agronomy.rain_book import Observer
from reminder_service.kinds import Kind
from reminder_service.records import tables as t
from reminder_service.records.rain import NewObservation, keep_observations

PLANTED = date(2026, 11, 10)


@pytest.fixture
def dressed(cast):
    """The dressing of plot 1 is open; a gauge of the ward saw no rain since planting."""
    days = [PLANTED + timedelta(n) for n in range(26)]
    with cast.begin() as c:
        a_task(c, 1, "top-dress-first", date(2026, 12, 5))
        planted = {"season_id": 1, "kind": Kind.PLANTED.value, "on": PLANTED, "sent_at": NOW}
        c.execute(insert(t.reports).values(planted))
        seen = [
            NewObservation(OLMARA, None, on, 0.0, False, Observer.KEEPER, "phone 9") for on in days
        ]
        keep_observations(c, seen, NOW)
    return cast


def test_a_dry_soil_is_told_with_its_numbers(dressed, coordinator):
    text = coordinator.see("/plots/1")
    assert "Soil: dry since Tue 10 Nov; 0 of 19 mm are left in the top 10 cm on Sat 5 Dec" in text
    assert "Reminders that go out today say to wait for rain." in text


def test_a_plot_whose_dressing_is_not_open_says_nothing(dressed, coordinator):
    assert "Soil:" not in coordinator.see("/plots/2")
