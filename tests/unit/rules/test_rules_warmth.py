"""Estimates by degree days: only with usual temperatures, from stage to stage, and said so."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rules_cast import GERMINATED_ON, HEAD, RAIN_ON, THIN, maize_plan, plot

from reminder_service.agronomy.heat import Temperatures
from reminder_service.agronomy.maize_stages import Stage
from reminder_service.agronomy.stage_estimate import estimated_stage
from reminder_service.kinds import Kind
from reminder_service.rules.errors import RulebookError
from reminder_service.rules.estimates import estimated_dates
from reminder_service.rules.loader import load_rulebook
from reminder_service.rules.shipped import shipped_rulebook

MAIZE = shipped_rulebook()
CLASSES = ("short", "medium", "long")


def months(tmin_c: float, tmax_c: float) -> dict[int, Temperatures]:
    return {month: Temperatures(tmin_c, tmax_c) for month in range(1, 13)}


WARM, MILD = months(17, 29), months(13, 23)
DAYS = st.dates(date(2026, 10, 15), date(2027, 1, 15))


@st.composite
def normals(draw: st.DrawFn) -> dict[int, Temperatures]:
    """Usual temperatures of some months, mild to hot, as maize is grown in."""
    known = draw(st.sets(st.integers(1, 12)))
    lows = {month: draw(st.floats(8, 22)) for month in known}
    return {month: Temperatures(low, low + draw(st.floats(4, 16))) for month, low in lows.items()}


@given(st.sampled_from(CLASSES), st.dictionaries(st.sampled_from(list(Kind)[:5]), DAYS))
def test_without_usual_temperatures_the_rules_days_stand(maturity: str, dates: dict) -> None:
    facts = replace(plot(choices={"maturity": maturity}), dates=dates)
    plain = MAIZE.model_copy(
        update={
            "estimates": tuple(r.model_copy(update={"degree_days": None}) for r in MAIZE.estimates)
        }
    )
    assert estimated_dates(facts, MAIZE) == estimated_dates(facts, plain)


@given(st.sampled_from(CLASSES), DAYS, normals())
def test_days_follow_the_usual_temperatures(maturity: str, on: date, usual: dict) -> None:
    facts = plot(germinated=on, choices={"maturity": maturity})
    found = estimated_dates(replace(facts, normals=usual), MAIZE)
    for fact in (Kind.TASSELLED, Kind.HARVESTED):
        assert found[fact].earliest <= found[fact].on <= found[fact].latest
    if not usual:
        assert found == estimated_dates(facts, MAIZE)
    elif len(usual) == 12:
        expected = estimated_stage(Stage.TASSELLING, maturity, on, Stage.EMERGENCE, normals=usual)
        assert found[Kind.TASSELLED].on == expected.likely


@given(st.sampled_from(CLASSES), DAYS)
def test_warmth_brings_tassels_and_harvest_forward(maturity: str, on: date) -> None:
    facts = plot(germinated=on, choices={"maturity": maturity})
    warm = estimated_dates(replace(facts, normals=WARM), MAIZE)
    mild = estimated_dates(replace(facts, normals=MILD), MAIZE)
    assert warm[Kind.TASSELLED].on < mild[Kind.TASSELLED].on
    assert warm[Kind.HARVESTED].on < mild[Kind.HARVESTED].on


def test_check_value_of_a_warm_lowland() -> None:
    # 13 °C d a day at 17 and 29 °C; 617.3 °C d from emergence to tassels of a medium class.
    found = estimated_dates(replace(plot(germinated=GERMINATED_ON), normals=WARM), MAIZE)
    assert found[Kind.TASSELLED].on == GERMINATED_ON + timedelta(48)


def test_spread_of_an_estimated_start_is_carried_on() -> None:
    facts = replace(plot(first_rain=RAIN_ON), normals=WARM)
    found = estimated_dates(facts, MAIZE)
    up, tassels = found[Kind.GERMINATED], found[Kind.TASSELLED]
    seen = estimated_dates(replace(plot(germinated=up.on), normals=WARM), MAIZE)[Kind.TASSELLED]
    assert tassels.on == seen.on
    assert tassels.earliest < seen.earliest <= seen.latest < tassels.latest


def test_sentence_names_the_degree_days() -> None:
    facts = replace(plot(germinated=GERMINATED_ON), normals=WARM)
    assert estimated_dates(facts, MAIZE)[Kind.TASSELLED].because == (
        "Tasselling is taken to be Fri 8 Jan 2027, between Sun 3 Jan 2027 and Wed 13 Jan 2027: "
        "617 degree days after germination on Sat 21 Nov 2026 (reported), by the usual "
        "temperatures of the ward."
    )


def test_tasks_counted_from_it_are_still_estimated() -> None:
    plan = maize_plan(replace(plot(germinated=GERMINATED_ON), normals=WARM))
    dressing = next(task for task in plan.tasks if task.name == "top-dress-tassel")
    assert dressing.opens == date(2027, 1, 8) and "opens" in dressing.estimated


def test_a_report_goes_before_warmth() -> None:
    facts = replace(plot(germinated=GERMINATED_ON, tasselled=date(2027, 1, 20)), normals=WARM)
    found = estimated_dates(facts, MAIZE)
    assert Kind.TASSELLED not in found
    assert "after tasselling on Wed 20 Jan 2027 (reported)" in found[Kind.HARVESTED].because


@pytest.mark.parametrize(
    "usual",
    [months(1, 11), {7: Temperatures(17, 29)}],
    ids=["too cold ever to tassel", "only a month that is not on the way"],
)
def test_temperatures_that_say_nothing_leave_the_rules_days(usual: dict) -> None:
    facts = plot(germinated=GERMINATED_ON)
    assert estimated_dates(replace(facts, normals=usual), MAIZE) == estimated_dates(facts, MAIZE)


@pytest.mark.parametrize(
    ("fact", "start"),
    [("planted", "first-rain"), ("planted", "germinated"), ("first-rain", "planted")],
    ids=["from no stage", "backwards", "to no stage"],
)
def test_degree_days_lead_from_a_stage_to_a_later_one(fact: str, start: str) -> None:
    rule = (
        f'[[estimates]]\nfact = "{fact}"\nfrom = "{start}"\ndegree_days = "short"\n'
        'days = { earliest = 1, likely = 2, latest = 3 }\nsource = "setting"\n'
    )
    with pytest.raises(RulebookError, match="a stage of maize from an earlier one"):
        load_rulebook(HEAD + rule + THIN)
