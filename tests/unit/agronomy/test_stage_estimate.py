"""Estimated stages: by heat, by normals, by the days of the class, and mixed."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reminder_service.agronomy.errors import OutOfRange
from reminder_service.agronomy.heat import Temperatures
from reminder_service.agronomy.maize_stages import Stage, days_to_stage, stage_needs
from reminder_service.agronomy.stage_estimate import EstimateBasis, estimated_stage

PLANTED = date(2025, 11, 20)
WARM = Temperatures(17, 27)  # 12 °C d a day
ALL_YEAR = {month: WARM for month in range(1, 13)}


def record(days: int, air: Temperatures = WARM) -> dict[date, Temperatures]:
    """Measured temperatures from planting on."""
    return {PLANTED + timedelta(days=n): air for n in range(days)}


@pytest.mark.parametrize("maturity", ["short", "medium", "long"])
def test_without_temperatures_the_class_days_stand(maturity: str) -> None:
    found = estimated_stage(Stage.TASSELLING, maturity, PLANTED)
    assert (found.likely - PLANTED).days == days_to_stage(Stage.TASSELLING, maturity)
    assert found.basis is EstimateBasis.CLASS_DAYS


def test_by_normals_alone() -> None:
    found = estimated_stage(Stage.TASSELLING, "medium", PLANTED, normals=ALL_YEAR)
    needed = stage_needs("medium")[Stage.TASSELLING]
    assert (found.likely - PLANTED).days == -(-needed // 12)
    assert found.basis is EstimateBasis.NORMALS


def test_measured_days_go_before_normals() -> None:
    hot = Temperatures(22, 32)
    found = estimated_stage(
        Stage.TASSELLING, "medium", PLANTED, temperatures=record(200, hot), normals=ALL_YEAR
    )
    assert found.basis is EstimateBasis.MEASURED
    assert found.normal_days == 0
    assert found.likely < estimated_stage(Stage.TASSELLING, "medium", PLANTED).likely


def test_the_record_so_far_is_followed_by_normals_and_counted() -> None:
    found = estimated_stage(
        Stage.MATURITY, "medium", PLANTED, temperatures=record(31), normals=ALL_YEAR
    )
    assert (found.measured_days, found.class_days) == (30, 0)
    assert found.normal_days == (found.likely - PLANTED).days - 30


def test_a_gap_without_normals_goes_on_by_the_days_of_the_class() -> None:
    cool = record(31, Temperatures(10, 14))  # 2 °C d a day: far behind the class
    found = estimated_stage(Stage.TASSELLING, "medium", PLANTED, temperatures=cool)
    assert found.basis is EstimateBasis.CLASS_DAYS
    assert found.likely > estimated_stage(Stage.TASSELLING, "medium", PLANTED).likely


def test_a_stage_that_was_seen_shortens_the_way() -> None:
    seen = estimated_stage(
        Stage.MATURITY, "medium", date(2026, 2, 1), Stage.TASSELLING, normals=ALL_YEAR
    )
    needs = stage_needs("medium")
    way = needs[Stage.MATURITY] - needs[Stage.TASSELLING]
    assert (seen.likely - date(2026, 2, 1)).days == -(-way // 12)


@given(
    tmin_c=st.floats(12, 25),
    swing_c=st.floats(6, 15),
    maturity=st.sampled_from(["short", "medium", "long"]),
    stage=st.sampled_from([Stage.EMERGENCE, Stage.TASSELLING, Stage.SILKING, Stage.MATURITY]),
)
def test_earliest_likely_and_latest_stand_in_order(
    tmin_c: float, swing_c: float, maturity: str, stage: Stage
) -> None:
    normals = {month: Temperatures(tmin_c, tmin_c + swing_c) for month in range(1, 13)}
    found = estimated_stage(stage, maturity, PLANTED, normals=normals)
    assert PLANTED < found.earliest <= found.likely <= found.latest


@given(warmer=st.floats(0, 6))
def test_warmer_is_never_later(warmer: float) -> None:
    normals = {month: Temperatures(14 + warmer, 24 + warmer) for month in range(1, 13)}
    base = {month: Temperatures(14, 24) for month in range(1, 13)}
    found = estimated_stage(Stage.MATURITY, "short", PLANTED, normals=normals)
    assert found.likely <= estimated_stage(Stage.MATURITY, "short", PLANTED, normals=base).likely


def test_too_cold_is_said_and_no_day_made_up() -> None:
    cold = {month: Temperatures(0, 8) for month in range(1, 13)}
    with pytest.raises(OutOfRange, match="too cold for R6"):
        estimated_stage(Stage.MATURITY, "short", PLANTED, normals=cold)


def test_refuses_a_stage_that_lies_behind() -> None:
    with pytest.raises(OutOfRange, match="a stage before VT"):
        estimated_stage(Stage.TASSELLING, "short", PLANTED, Stage.MATURITY)
