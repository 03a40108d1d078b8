"""The settings of quiet days and of the weekly cap."""

from datetime import UTC, date, datetime

import pytest

from reminder_service.errors import BadSettings
from reminder_service.rules.plan import SendingHours
from reminder_service.rules.quiet_days import QuietDays, quiet_days
from reminder_service.settings import Settings, load_settings
from reminder_service.work.hours import next_allowed


@pytest.fixture
def given(monkeypatch):
    def set_one(name, value):
        monkeypatch.setenv(f"REMINDER_{name}", value)

    return set_one


def test_no_day_is_quiet_unless_said():
    assert Settings().quiet_days == QuietDays()


def test_weekdays_days_and_days_of_every_year_stand_between_commas(given):
    given("QUIET_DAYS", "Sunday, 12-25,2027-04-02")
    days = load_settings().quiet_days
    assert all(day in days for day in (date(2026, 12, 6), date(2030, 12, 25), date(2027, 4, 2)))
    assert date(2028, 4, 2) not in days or date(2028, 4, 2).weekday() == 6


def test_a_file_holds_one_a_line(given, tmp_path):
    file = tmp_path / "holidays.txt"
    file.write_text("# the programme's\n01-01 # new year\n\n2027-03-26\n", "utf-8")
    given("QUIET_DAYS", f"sunday, {file}")
    days = load_settings().quiet_days
    assert days == quiet_days(["sunday", "01-01", "2027-03-26"])


@pytest.mark.parametrize(
    "value",
    [
        pytest.param("sundy", id="no such day and no such file"),
        pytest.param("13-40", id="no day of a year"),
        pytest.param("monday,tuesday,wednesday,thursday,friday,saturday,sunday", id="all days"),
    ],
)
def test_a_bad_value_stops_the_start_and_says_what_is_allowed(given, value):
    given("QUIET_DAYS", value)
    with pytest.raises(BadSettings, match=r"REMINDER_QUIET_DAYS.*allowed is weekdays"):
        load_settings()


@pytest.mark.parametrize("value", ["-1", "101", "many"])
def test_a_cap_out_of_range_is_refused(given, value):
    given("WEEKLY_CAP", value)
    with pytest.raises(BadSettings, match="REMINDER_WEEKLY_CAP"):
        load_settings()


@pytest.mark.parametrize(
    ("now", "allowed"),
    [
        pytest.param("2026-12-05T15:59", "2026-12-05T15:59", id="the day before, in time"),
        pytest.param("2026-12-05T16:00", "2026-12-07T06:00", id="the day before, too late"),
        pytest.param("2026-12-06T09:00", "2026-12-07T06:00", id="on it, within the hours"),
        pytest.param("2026-12-06T23:00", "2026-12-07T06:00", id="after it, before the hours"),
    ],
)
def test_what_is_due_on_a_quiet_day_waits_for_the_next_opening(now, allowed):
    hours = SendingHours("Africa/Lusaka", 480, 1080, quiet_days(["sunday"]))
    at = datetime.fromisoformat(now).replace(tzinfo=UTC)
    assert next_allowed(at, hours) == datetime.fromisoformat(allowed).replace(tzinfo=UTC)
