"""What the page says of the soil beside an open dressing, with the numbers used."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from reminder_service.agronomy.crop_water import PRINTED_GROWTH
from reminder_service.agronomy.soils import SOILS
from reminder_service.agronomy.water import Plot, water_balance
from reminder_service.kinds import Kind
from reminder_service.rules.derive import derive
from reminder_service.rules.facts import PlotFacts
from reminder_service.rules.shipped import shipped_rulebook
from reminder_service.web.soil_notes import soil_notes, weed_notes
from reminder_service.web.task_notes import PlotNow, task_notes
from reminder_service.work.moisture import FieldSoil

BOOK = shipped_rulebook()
UP = date(2026, 11, 21)
PLANTED = date(2026, 11, 14)
TODAY = date(2026, 12, 12)


def field(soil: str = "loam", unknown: int = 0, **rain: float) -> FieldSoil:
    """No rain up to yesterday but on days of December named ``d10``; the last days unknown."""
    days = [PLANTED + timedelta(n) for n in range((TODAY - PLANTED).days)]
    mm = dict.fromkeys(days, 0.0) | {date(2026, 12, int(on[1:])): x for on, x in rain.items()}
    for on in days[len(days) - unknown :]:
        del mm[on]
    kind = SOILS[soil]
    water = water_balance(Plot(kind, PRINTED_GROWTH), PLANTED, days[-1], mm, {})
    return FieldSoil(TODAY, kind, water, frozenset(mm))


def test_a_dry_soil_says_since_when_and_what_reminders_ask_for():
    assert list(soil_notes(field(d3=40.0))) == [
        "Soil: dry since Sun 6 Dec; 0 of 19 mm are left in the top 10 cm on Fri 11 Dec (loam).",
        "Reminders that go out today say to wait for rain.",
    ]


def test_a_moist_soil_says_how_much_is_left():
    assert list(soil_notes(field("sand", d11=40.0))) == [
        "Soil: moist; 10 of 10 mm are left in the top 10 cm on Fri 11 Dec (sand)."
    ]


def test_an_unknown_soil_says_what_is_missing():
    assert list(soil_notes(field(unknown=2))) == [
        "Soil: dry or moist is not known, for the rain of 2 days of the last 7 is missing. "
        "Reminders stay as they are."
    ]


def test_a_soaked_soil_says_how_much_came_down():
    state, ask = soil_notes(field("clay", d9=120, d10=140, d11=160))
    assert state.startswith("Soil: too wet; ") and state.endswith("up to Fri 11 Dec (clay).")
    assert ask == "Reminders that go out today say to let it drain."


def test_a_storm_of_the_forecast_is_named():
    soil = replace(field(d10=30.0), forecast_mm={TODAY + timedelta(1): 44.4})
    assert list(soil_notes(soil))[1:] == [
        "44 mm of rain are expected on Sun 13 Dec.",
        "Reminders that go out today say to dress after it.",
    ]


def test_without_a_planting_day_the_soil_is_unknown():
    (said,) = soil_notes(FieldSoil(TODAY, SOILS["loam"]))
    assert "planting has no day yet" in said


@pytest.mark.parametrize(
    ("done", "soil", "shown"),
    [(False, True, True), (True, True, False), (False, False, False)],
    ids=["open", "done", "no dressing is open"],
)
def test_it_stands_beside_the_open_dressing_alone(done, soil, shown):
    facts = PlotFacts(
        {Kind.GERMINATED: UP, Kind.PLANTED: PLANTED},
        {("top-dress-first", 1): TODAY} if done else {},
        {"top-dressing": "mineral"},
    )
    plot = PlotNow(facts, 4400, 22_222, soil=field() if soil else None)
    said = task_notes(derive(facts, BOOK).tasks, BOOK, plot)
    assert any("Soil:" in note for note in said["top-dress-first", 1]) is shown
    assert not any("Soil:" in note for note in said["top-dress-tassel", 1])


def test_weeds_come_up_in_a_soil_that_has_stayed_moist():
    assert list(weed_notes(field(d9=30.0, d10=20.0, d11=30.0), None)) == [
        "Weeds will keep coming up: the topsoil has stayed moist."
    ]


def test_a_long_dry_spell_at_tasselling_hurts_the_crop():
    assert list(weed_notes(field("sand"), TODAY)) == [
        "Few weeds will come up now: the topsoil is dry.",
        "The dry spell hurts the crop: weeds that stand now take the last water.",
    ]


def test_nothing_is_said_of_weeds_where_rain_is_not_known():
    assert list(weed_notes(field(unknown=4), None)) == []
    assert list(weed_notes(FieldSoil(TODAY, SOILS["loam"]), None)) == []


def test_weeds_are_told_beside_an_open_weeding_alone():
    plan = derive(PlotFacts({Kind.GERMINATED: UP}, {}, {}), BOOK)
    now = PlotNow(PlotFacts({Kind.GERMINATED: UP}, {}, {}), 5600, 22_222, soil=field("sand"))
    told = {key for key, said in task_notes(plan.tasks, BOOK, now).items() if "weeds" in str(said)}
    assert told and {name for name, _ in told} <= {"weed", "keep-clean"}
    open_now = {(t.name, t.number) for t in plan.tasks if t.opens <= TODAY <= t.closes}
    assert told <= open_now
