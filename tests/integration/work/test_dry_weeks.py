"""Reminders of weeding after harvest wait while the soil is known to be dry, on both engines."""

from datetime import date, timedelta

import pytest
from season_cast import Programme, a_programme, local, rain_falls

from reminder_service.records import people, queue_by_hand
from reminder_service.records.engine import writing
from reminder_service.records.plans import WAITS_FOR_RAIN
from reminder_service.records.tables import Role
from reminder_service.work.rewording import SOON, follow_soil

PLANTED = date(2026, 11, 14)
OPENS = date(2027, 4, 3)
"""Two weeks after harvest: the first round of keeping the plot clean opens."""
CLOSES = date(2027, 4, 17)


@pytest.fixture
def programme(engine) -> Programme:
    """Amina's plot is harvested; the reminder to keep it clean is planned for 3 April."""
    made = a_programme(engine, local("2027-03-25", "10:00"))
    made.plot()
    for body in ("PLANTED 14/11", "GERM 21/11", "TASSEL 20/1", "HARVEST 20/3", "DONE STALKS"):
        made.text(body)
    return made


def days(first: date, last: date, mm: float = 0.0) -> dict[date, float]:
    return {first + timedelta(n): mm for n in range((last - first).days + 1)}


def reminder(programme: Programme, stage: str = "opens") -> dict:
    (row,) = programme.rows(task="keep-clean", stage=stage, number=1)
    return row


def tick_before(programme: Programme, row: dict) -> None:
    """The tick of the soil, shortly before a text goes out."""
    programme.clock.now = row["send_at"] - SOON / 2
    follow_soil(programme.services)


def live(programme: Programme, until: date) -> None:
    """Days pass: each has its tick before the text, and then the sending."""
    while (row := reminder(programme))["send_at"] < local(until, "05:00"):
        if row["sent_at"] or row["state"] in ("expired", "withdrawn"):
            return
        tick_before(programme, row)
        programme.at(programme.clock().date(), "18:00")


def test_on_a_dry_soil_it_waits_for_the_next_day_and_says_why(programme):
    rain_falls(programme, days(PLANTED, OPENS - timedelta(1)))
    before = reminder(programme)
    assert before["day"] == OPENS
    tick_before(programme, before)
    after = reminder(programme)
    assert (after["state"], after["reason"]) == ("waiting", WAITS_FOR_RAIN)
    assert after["day"] == OPENS + timedelta(1)
    assert after["send_at"] == before["send_at"] + timedelta(1)
    programme.at(OPENS, "18:00")
    assert reminder(programme)["sent_at"] is None
    assert programme.rows("tasks", name="keep-clean")[0]["opens_on"] == OPENS, "the plan stays"


def test_a_second_turn_and_a_new_plan_change_nothing(programme):
    rain_falls(programme, days(PLANTED, OPENS - timedelta(1)))
    tick_before(programme, reminder(programme))
    waits = reminder(programme)
    assert follow_soil(programme.services) == 0
    programme.text("RAIN 0MM 1/4")
    assert reminder(programme) == waits


@pytest.mark.parametrize(
    "mm",
    [
        {},
        days(PLANTED, date(2027, 3, 20)),
        days(PLANTED, OPENS - timedelta(1)) | days(date(2027, 3, 28), OPENS - timedelta(1), 20),
    ],
    ids=["no rain book", "last weeks unknown", "wet"],
)
def test_where_it_is_wet_or_not_known_it_goes_as_usual(programme, mm):
    rain_falls(programme, mm)
    before = reminder(programme)
    tick_before(programme, before)
    assert reminder(programme) == before
    programme.at(OPENS, "18:00")
    assert reminder(programme)["state"] == "handed over"


def test_it_goes_once_the_soil_has_been_wet_for_long_enough(programme):
    rain_falls(programme, days(PLANTED, OPENS + timedelta(1)))
    live(programme, OPENS + timedelta(2))
    assert reminder(programme)["reason"] == WAITS_FOR_RAIN
    rain_falls(programme, days(OPENS + timedelta(2), OPENS + timedelta(5), 20))
    live(programme, OPENS + timedelta(7))
    sent = reminder(programme)
    assert (sent["state"], sent["reason"]) == ("handed over", None)
    assert OPENS + timedelta(4) <= sent["day"] <= OPENS + timedelta(5)
    assert sum("hoe them before they seed" in message.body for _, message in programme.left) == 1


def test_where_it_stays_dry_nothing_goes_out(programme):
    rain_falls(programme, days(PLANTED, CLOSES + timedelta(3)))
    for n in range((CLOSES - OPENS).days + 2):
        day = OPENS + timedelta(n)
        for row in programme.rows(task="keep-clean", number=1):
            if row["state"] in ("planned", "waiting") and row["send_at"] < local(day, "18:00"):
                tick_before(programme, row)
        programme.at(day, "18:00")
    rows = programme.rows(task="keep-clean", number=1)
    assert {row["sent_at"] for row in rows} == {None}
    assert {row["state"] for row in rows} <= {"expired", "withdrawn"}


def test_what_a_person_holds_stays_held(programme):
    rain_falls(programme, days(PLANTED, OPENS - timedelta(1)))
    row = reminder(programme)
    with writing(programme.services.engine) as c:
        person_id = people.add_person(
            c, login="chan", name="Chan", password_hash="x", role=Role.COORDINATOR, ward_ids=[1]
        )
        queue_by_hand.hold(c, [row["id"]], person_id, programme.clock())
    tick_before(programme, row)
    assert reminder(programme)["state"] == "held"
