"""Dressing texts follow the soil of the day they go out, on both engines."""

from datetime import date, timedelta

import pytest
from season_cast import AMINA, Programme, a_programme, local, rain_falls

from reminder_service.records import tables as t
from reminder_service.records.engine import writing
from reminder_service.work.rewording import SOON, reword_dressings
from reminder_service.work.ticks import EVERY_S, WORK, tick

DRY = "Soil is dry: wait for rain, then dress."
WET = "Soil is too wet: dress once it has drained."
PLANTED = date(2026, 11, 14)
OPENS = date(2026, 12, 12)
"""Three weeks after germination: the dressing opens and its text goes out."""


@pytest.fixture
def programme(engine) -> Programme:
    """Amina's plot is thinned; the text of its first dressing is planned for 12 December."""
    made = a_programme(engine, local("2026-12-06", "10:00"))
    made.plot()
    made.text("PLANTED 14/11")
    made.text("GERM 21/11")
    made.text("DONE THIN")
    return made


def dry_until(last: date, **changed: float) -> dict[date, float]:
    """No rain from planting to a day, but for some days of December named ``d10`` and so on."""
    days = [PLANTED + timedelta(n) for n in range((last - PLANTED).days + 1)]
    return dict.fromkeys(days, 0.0) | {date(2026, 12, int(d[1:])): mm for d, mm in changed.items()}


def opening(programme: Programme) -> dict:
    (row,) = programme.rows(task="top-dress-first", stage="opens")
    return row


def morning(programme: Programme, day: date = OPENS) -> None:
    """Shortly before a day's text goes out, whatever its minute."""
    programme.clock.now = opening(programme)["send_at"] - SOON / 2
    assert local(day, "07:00") < programme.clock.now < local(day, "18:00")


def test_a_dry_soil_makes_the_text_say_wait(programme):
    rain_falls(programme, dry_until(OPENS - timedelta(1)))
    morning(programme)
    before = opening(programme)
    assert reword_dressings(programme.services) == 1
    after = opening(programme)
    assert DRY not in before["body"] and DRY in after["body"]
    assert after["body"].endswith("Off leaves. Wash hands. Label and adviser first.")
    assert 1 <= after["segments"] <= 2


def test_nothing_but_the_words_is_changed(programme):
    rain_falls(programme, dry_until(OPENS - timedelta(1)))
    morning(programme)
    before = {row["id"]: row for row in programme.rows()}
    tasks = programme.rows("tasks")
    reword_dressings(programme.services)
    after = {row["id"]: row for row in programme.rows()}
    assert before.keys() == after.keys() and programme.rows("tasks") == tasks
    words = {"body", "segments", "changed_at"}
    changed = {
        (id_, key) for id_ in after for key in after[id_] if after[id_][key] != before[id_][key]
    }
    assert {id_ for id_, _ in changed} == {opening(programme)["id"]}
    assert {key for _, key in changed} <= words


def test_it_is_sent_once_with_the_words_of_the_day(programme):
    rain_falls(programme, dry_until(OPENS - timedelta(1)))
    morning(programme)
    reword_dressings(programme.services)
    programme.at(OPENS, "17:59")
    said = [message.body for _, message in programme.left if DRY in message.body]
    assert len(said) == 1
    assert reword_dressings(programme.services) == 0, "what is sent stays as it is"


def test_a_second_turn_changes_nothing(programme):
    rain_falls(programme, dry_until(OPENS - timedelta(1)))
    morning(programme)
    assert [reword_dressings(programme.services) for _ in range(2)] == [1, 0]


def test_rain_of_the_morning_takes_the_words_back(programme):
    rain_falls(programme, dry_until(OPENS - timedelta(1)))
    morning(programme)
    plain = opening(programme)["body"]
    reword_dressings(programme.services)
    rain_falls(programme, {OPENS: 25.0})
    assert reword_dressings(programme.services) == 1
    assert opening(programme)["body"] == plain


def test_a_farmers_report_of_rain_takes_the_words_back_at_once(programme):
    rain_falls(programme, dry_until(OPENS - timedelta(1)))
    morning(programme)
    plain = opening(programme)["body"]
    reword_dressings(programme.services)
    programme.text("RAIN 25MM")
    assert opening(programme)["body"] == plain


def test_a_report_of_that_day_keeps_the_words(programme):
    """A re-plan and the tick say the same, so that neither undoes the other."""
    rain_falls(programme, dry_until(OPENS - timedelta(1)))
    morning(programme)
    reword_dressings(programme.services)
    programme.text("COUNT 2 2 2 2 2 2 2 2 2 2")
    assert DRY in opening(programme)["body"]
    assert reword_dressings(programme.services) == 0


def test_a_soaked_clay_is_too_wet(programme):
    with writing(programme.services.engine) as c:
        c.execute(t.seasons.update().values(choices={"top-dressing": "mineral", "soil": "clay"}))
    rain_falls(programme, dry_until(OPENS - timedelta(1), d9=120, d10=140, d11=160))
    morning(programme)
    reword_dressings(programme.services)
    assert WET in opening(programme)["body"]


@pytest.mark.parametrize(
    "mm",
    [
        {},
        dry_until(OPENS - timedelta(2)),
        dry_until(OPENS - timedelta(1), d10=30),
    ],
    ids=["no rain book", "yesterday unknown", "moist"],
)
def test_unknown_or_moist_soil_leaves_the_text(programme, mm):
    rain_falls(programme, mm)
    morning(programme)
    assert reword_dressings(programme.services) == 0


def test_a_plots_own_rain_goes_before_the_wards(programme):
    rain_falls(programme, dry_until(OPENS - timedelta(1)))
    programme.clock.now = local(OPENS - timedelta(1), "12:00")
    programme.text("RAIN 30MM 10/12")
    morning(programme)
    assert reword_dressings(programme.services) == 0


def test_texts_of_a_later_day_are_left(programme):
    rain_falls(programme, dry_until(OPENS - timedelta(1)))
    programme.clock.now = local(OPENS - timedelta(1), "17:50")
    assert reword_dressings(programme.services) == 0


def test_other_tasks_are_left(programme):
    rain_falls(programme, dry_until(OPENS - timedelta(1)))
    morning(programme)
    reword_dressings(programme.services)
    assert [row["task"] for row in programme.rows() if DRY in row["body"]] == ["top-dress-first"]


def test_a_held_text_is_reworded_and_stays_held(programme):
    rain_falls(programme, dry_until(OPENS - timedelta(1)))
    morning(programme)
    with writing(programme.services.engine) as c:
        c.execute(
            t.notices.update()
            .where(t.notices.c.id == opening(programme)["id"])
            .values(state="held")
        )
    assert reword_dressings(programme.services) == 1
    assert opening(programme)["state"] == "held" and DRY in opening(programme)["body"]


def test_a_text_that_a_worker_has_is_left(programme):
    rain_falls(programme, dry_until(OPENS - timedelta(1)))
    morning(programme)
    taken = {"state": "claimed", "claim": "x" * 32, "lease_until": programme.clock.now}
    with writing(programme.services.engine) as c:
        c.execute(
            t.notices.update().where(t.notices.c.id == opening(programme)["id"]).values(taken)
        )
    assert reword_dressings(programme.services) == 0


def test_a_farmer_who_said_stop_gets_nothing(programme):
    rain_falls(programme, dry_until(OPENS - timedelta(1)))
    morning(programme)
    programme.text("STOP", sender=AMINA)
    assert reword_dressings(programme.services) == 0
    assert opening(programme)["state"] == "withdrawn"


def test_the_tick_does_it_before_a_text_can_slip_by(programme):
    rain_falls(programme, dry_until(OPENS - timedelta(1)))
    morning(programme)
    tick(programme.services, "moisture")
    assert DRY in opening(programme)["body"]
    assert programme.rows("ticks", name="moisture")[0]["error"] is None
    assert "moisture" in WORK and timedelta(seconds=EVERY_S["moisture"]) < SOON
