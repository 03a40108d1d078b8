"""The soil of a plot: what the rain book tells of it, and that the unknown never holds."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reminder_service.agronomy.crop_water import PRINTED_GROWTH
from reminder_service.agronomy.field_moisture import Answer, HoldReason
from reminder_service.agronomy.soils import SOILS
from reminder_service.agronomy.water import Plot, water_balance
from reminder_service.kinds import Kind
from reminder_service.rules.derive import derive
from reminder_service.rules.facts import PlotFacts
from reminder_service.rules.shipped import shipped_rulebook
from reminder_service.work.moisture import FieldSoil, dressing_tasks, planted_day

PLANTED = date(2026, 11, 14)
TODAY = date(2026, 12, 12)
DAYS = (TODAY - PLANTED).days


def field(mm: dict[date, float], soil: str = "loam", **known: object) -> FieldSoil:
    """Soil of a plot by its rain up to yesterday."""
    kind = SOILS[soil]
    days = water_balance(Plot(kind, PRINTED_GROWTH), PLANTED, TODAY - timedelta(1), mm, {})
    return FieldSoil(TODAY, kind, days, frozenset(mm), **known)


def series(amounts: list[float | None]) -> dict[date, float]:
    """Rain from planting on; None is an unknown day."""
    days = (PLANTED + timedelta(number) for number in range(DAYS))
    return {on: mm for on, mm in zip(days, amounts, strict=True) if mm is not None}


RAIN = st.one_of(st.just(0.0), st.floats(0, 80))
KNOWN = st.lists(RAIN, min_size=DAYS, max_size=DAYS)
PARTLY = st.lists(st.one_of(st.none(), RAIN), min_size=DAYS, max_size=DAYS)
SOIL = st.sampled_from(sorted(SOILS))


@given(SOIL, PARTLY, KNOWN)
def test_a_dry_soil_is_dry_whatever_fell_on_unknown_days(soil, said, fell):
    """No unknown day ever holds a dressing: with its rain known the soil would be dry as well."""
    if field(series(said), soil).hold is HoldReason.WAIT_FOR_MOISTURE:
        truth = [mm if mm is not None else true for mm, true in zip(said, fell, strict=True)]
        assert field(series(truth), soil).moist is Answer.NO


@given(SOIL, KNOWN)
def test_an_unknown_yesterday_is_never_dry(soil, fell):
    found = field(series([*fell[:-1], None]), soil)
    assert found.hold is not HoldReason.WAIT_FOR_MOISTURE and found.dry_since is None


@given(SOIL, PARTLY)
def test_dry_since_begins_the_last_dry_days(soil, said):
    found = field(series(said), soil)
    assert (found.dry_since is not None) == (found.moist is Answer.NO)
    if found.dry_since is not None and found.dry_since > PLANTED:
        before = (found.dry_since - PLANTED).days
        shorter = FieldSoil(TODAY, found.soil, found.days[:before])
        assert shorter.moist is not Answer.NO


@pytest.mark.parametrize(
    ("dry_days", "moist"), [(1, Answer.YES), (9, Answer.NO)], ids=["the next day", "nine days on"]
)
def test_a_soaking_rain_lasts_some_days(dry_days, moist):
    assert field(series([0.0] * (DAYS - dry_days - 1) + [50.0] + [0.0] * dry_days)).moist is moist


def test_a_storm_of_the_forecast_goes_before_a_dry_soil():
    dry = series([0.0] * DAYS)
    assert field(dry).hold is HoldReason.WAIT_FOR_MOISTURE
    storm = {TODAY + timedelta(1): 45.0}
    assert field(dry, forecast_mm=storm).hold is HoldReason.HEAVY_STORM
    assert field(dry, forecast_mm={TODAY + timedelta(3): 45.0}).hold is not HoldReason.HEAVY_STORM


def test_without_planting_nothing_is_known_and_nothing_held():
    found = FieldSoil(TODAY, SOILS["loam"])
    assert (found.moist, found.hold, found.dry_since) == (Answer.UNKNOWN, None, None)


def test_planting_is_as_reported_or_else_estimated():
    maize = shipped_rulebook()
    reported = PlotFacts({Kind.PLANTED: PLANTED})
    grown = PlotFacts({Kind.GERMINATED: date(2026, 11, 21)})
    assert planted_day(reported, {}) == PLANTED
    assert planted_day(grown, derive(grown, maize).estimates) == PLANTED
    assert planted_day(PlotFacts(), {}) is None


def test_both_dressings_lay_fertiliser_and_nothing_else_does():
    assert dressing_tasks(shipped_rulebook()) == {"top-dress-first", "top-dress-tassel"}
