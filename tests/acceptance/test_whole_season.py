"""A whole season by text, day by day, on both engines: every notice against common practice.

The days below are counted by hand from the practice that the shipped rulebook must express
(common practice, no source), not read from the rulebook.
"""

from datetime import date, timedelta

import pytest
from freezegun import freeze_time
from season_cast import ZONE, Programme, a_programme, local

RAIN = date(2026, 11, 12)
GERMINATED = date(2026, 11, 21)
TASSELLED = date(2027, 1, 15)  # a week before the estimate for a medium variety
HARVESTED = date(2027, 4, 2)


def after(day: date, days: int) -> date:
    return day + timedelta(days=days)


def days_out(programme: Programme, task: str, stage: str, number: int = 1) -> list[date]:
    """Local days on which a reminder left."""
    return [
        row["sent_at"].astimezone(ZONE).date()
        for row in programme.rows(task=task, stage=stage, number=number)
        if row["sent_at"] is not None
    ]


def season(engine, **choices: str) -> Programme:
    """The season of one farmer who reports every date and never says that a task is done."""
    with freeze_time(local(RAIN, "07:00")) as frozen:
        programme = a_programme(engine, local(RAIN, "07:00"))
        programme.plot("1", **choices)
        script = [
            (RAIN, "RAIN today"),
            (after(RAIN, 2), "planted today"),
            (GERMINATED, "GERM today"),
            (TASSELLED, "TASSEL today"),
            (HARVESTED, "HARVESTED today"),
        ]
        for day, body in script:
            programme.at(day, "17:00")
            frozen.move_to(programme.clock())
            assert programme.text(body).reply is not None
        programme.at(after(HARVESTED, 320))
    return programme


@pytest.fixture
def mineral(engine) -> Programme:
    return season(engine, top_dressing="mineral")


@pytest.fixture
def both(engine) -> Programme:
    return season(engine, top_dressing="both")


WINDOWS = [
    pytest.param("thin", 1, after(GERMINATED, 14), after(GERMINATED, 21), id="thinning"),
    pytest.param("top-dress-first", 1, after(GERMINATED, 21), None, id="first dressing"),
    pytest.param("top-dress-tassel", 1, TASSELLED, None, id="dressing at tasselling"),
    pytest.param("borer", 1, after(RAIN, 28), after(TASSELLED, -1), id="borer"),
]


def test_every_reminder_of_the_season_leaves_in_its_window(mineral):
    for task, number, opens, closes in (param.values for param in WINDOWS):
        rows = [
            row
            for row in mineral.rows(task=task, number=number)
            if row["sent_at"] is not None and row["stage"] not in ("getting-ready", "correction")
        ]
        assert rows, task
        for row in rows:
            left_on = row["sent_at"].astimezone(ZONE).date()
            assert opens <= left_on, (task, row["stage"])
            assert closes is None or left_on <= closes, (task, row["stage"])


@pytest.mark.parametrize(
    "task, number, stage, day",
    [
        pytest.param("thin", 1, "opens", date(2026, 12, 5), id="thinning opens"),
        pytest.param("top-dress-first", 1, "opens", date(2026, 12, 12), id="first dressing due"),
        pytest.param("borer", 1, "opens", date(2026, 12, 10), id="borer window opens"),
        pytest.param("borer", 1, "nudge", date(2026, 12, 21), id="borer at 30 days"),
        pytest.param("weed", 1, "opens", after(GERMINATED, 7), id="first weeding"),
        pytest.param("weed", 4, "opens", after(GERMINATED, 49), id="fourth weeding"),
        pytest.param("top-dress-tassel", 1, "opens", TASSELLED, id="dressing at tassels"),
    ],
)
def test_a_reminder_leaves_on_its_day(mineral, task, number, stage, day):
    assert days_out(mineral, task, stage, number) == [day]


def test_stalks_are_reminded_of_at_the_likely_harvest_and_again_when_it_came_later(mineral):
    """Tassels on 15 January and a medium variety make harvest likely 71 days on, on 27 March."""
    assert days_out(mineral, "stalks-down", "opens") == [date(2027, 3, 27)]
    (correction,) = mineral.rows(task="stalks-down", stage="correction")
    assert correction["state"] == "handed over"
    assert correction["sent_at"].astimezone(ZONE).date() in (HARVESTED, after(HARVESTED, 1))
    assert correction["opens_on"] == HARVESTED


def test_tassels_reported_early_move_the_dressing_and_end_the_borer_window(mineral):
    dressing = mineral.rows("tasks", name="top-dress-tassel")[0]
    assert (dressing["due_on"], dressing["basis"]) == (TASSELLED, "reported")
    assert mineral.rows("tasks", name="borer")[0]["closes_on"] == after(TASSELLED, -1)


def test_four_weeding_rounds_cover_the_season(mineral):
    due = [row["due_on"] for row in mineral.rows("tasks", name="weed")]
    assert sorted(due) == [after(GERMINATED, days) for days in (14, 28, 42, 56)]


def test_nobody_who_chose_mineral_hears_of_manure(mineral):
    assert mineral.rows(task="manure-tea") == mineral.rows(task="manure-brew") == []


def test_manure_tea_comes_fortnightly_from_bags_three_weeks_in_water(both):
    teas = {row["number"]: row for row in both.rows("tasks", name="manure-tea")}
    brews = {row["number"]: row for row in both.rows("tasks", name="manure-brew")}
    assert teas[1]["due_on"] == date(2026, 12, 12)
    assert brews[1]["due_on"] == date(2026, 11, 21)
    for number, tea in teas.items():
        assert tea["due_on"] == after(date(2026, 12, 12), 14 * (number - 1))
        assert brews[number]["due_on"] == after(tea["due_on"], -21)


def test_no_manure_tea_falls_within_the_hygiene_stop_or_after_tasselling(both):
    sent = [day for n in range(1, 9) for day in days_out(both, "manure-tea", "opens", n)]
    assert sent and max(sent) <= min(after(HARVESTED, -90), TASSELLED)
    for tea in both.rows("tasks", name="manure-tea"):
        assert tea["closes_on"] <= min(after(HARVESTED, -90), TASSELLED)


def test_after_harvest_come_stalks_clean_plot_and_rotation(mineral):
    cleaning = [row["opens_on"] for row in mineral.rows("tasks", name="keep-clean")]
    assert cleaning and min(cleaning) > HARVESTED
    (rotation,) = days_out(mineral, "rotate", "opens")
    assert HARVESTED <= rotation < RAIN.replace(year=2027)


def test_every_reminder_of_a_dangerous_thing_carries_its_caution(both):
    for row in both.rows():
        if row["task"].startswith("top-dress") and row["stage"] != "reply":
            assert "Wash hands" in row["body"]
        if row["task"] == "borer":
            assert "adviser" in row["body"] and "label" in row["body"]
        if row["task"].startswith("manure"):
            assert "wash hands" in row["body"].lower()


def test_nothing_left_twice_and_nothing_is_still_open(mineral):
    bodies = [(message.to, message.reference) for _, message in mineral.left]
    assert len(bodies) == len(set(bodies))
    assert {row["state"] for row in mineral.rows()} <= {"handed over", "expired", "withdrawn"}
    assert all(
        8 <= at.astimezone(ZONE).hour < 18 or "Thank you" in message.body
        for at, message in mineral.left
    )


def test_a_late_germination_holds_the_borer_window_back(engine):
    programme = a_programme(engine, local("2026-12-20"))
    programme.plot("1")
    programme.text("RAIN 12/11")
    programme.text("GERM 18/12")
    assert programme.rows("tasks", name="borer")[0]["opens_on"] >= date(2027, 1, 1)


def test_an_estimate_is_marked_and_gives_way_to_the_report(engine):
    programme = a_programme(engine, local("2026-11-12", "17:00"))
    programme.plot("1")
    programme.text("RAIN today")
    estimated = programme.rows("tasks", name="thin")[0]
    assert estimated["basis"] == "estimated"
    assert "about" in programme.rows(task="thin", stage="opens")[0]["body"]
    programme.at("2026-11-24").text("GERM 23/11")
    reported = programme.rows("tasks", name="thin")[0]
    assert (reported["basis"], reported["opens_on"]) == ("reported", date(2026, 12, 7))
    assert "about" not in programme.rows(task="thin", stage="opens")[0]["body"]


def test_a_farmer_who_does_not_report_is_asked(engine):
    programme = a_programme(engine, local("2026-11-12", "17:00"))
    programme.plot("1")
    programme.text("RAIN today")
    programme.at("2026-11-23")
    asked = [m.body for _, m in programme.left if "GERM" in m.body and "up?" in m.body]
    assert len(asked) == 1


def test_a_correction_that_moves_a_sent_task_is_told_once(engine):
    programme = a_programme(engine, local("2026-11-21", "17:00"))
    programme.plot("1")
    programme.text("GERM today")
    programme.at("2026-12-06").text("GERM 26/11")
    programme.at("2026-12-20")
    told = programme.rows(task="thin", stage="correction")
    assert [row["state"] for row in told] == ["handed over"]
    assert "Thu 10 Dec" in told[0]["body"]
    assert len(days_out(programme, "thin", "opens")) == 1


def test_a_small_correction_is_not_worth_a_text(engine):
    programme = a_programme(engine, local("2026-11-21", "17:00"))
    programme.plot("1")
    programme.text("GERM today")
    programme.at("2026-12-06").text("GERM 22/11")
    assert programme.rows(task="thin", stage="correction") == []
