"""The stand percentage against scipy's intervals, a matching solver and printed figures."""

from math import ceil

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import maximum_bipartite_matching
from scipy.stats import binomtest, norm

from reminder_service.agronomy.errors import OutOfRange
from reminder_service.agronomy.stand import plants_to_leave
from reminder_service.agronomy.stand_sample import (
    StandState,
    stand_estimate,
    stand_interval,
    stand_state,
    stations_to_count,
)


@pytest.mark.parametrize("confidence", [0.8, 0.95, 0.99])
def test_interval_is_scipys_wilson_interval_for_every_count_up_to_60(confidence: float) -> None:
    for counted in range(1, 61):
        for found in range(counted + 1):
            theirs = binomtest(found, counted).proportion_ci(confidence, method="wilson")
            assert stand_interval(found, counted, confidence) == pytest.approx(
                (theirs.low, theirs.high), abs=1e-12
            )


@pytest.mark.parametrize(
    ("found", "counted", "low", "high"),
    [
        # Newcombe 1998, Two-sided confidence intervals for the single proportion, table I,
        # method 3; value from memory.
        pytest.param(81, 263, 0.2553, 0.3662, id="81 of 263"),
        pytest.param(15, 148, 0.0624, 0.1605, id="15 of 148"),
        pytest.param(0, 20, 0.0, 0.1611, id="0 of 20"),
        pytest.param(1, 29, 0.0061, 0.1718, id="1 of 29"),
    ],
)
def test_interval_is_the_printed_one(found: int, counted: int, low: float, high: float) -> None:
    assert stand_interval(found, counted) == pytest.approx((low, high), abs=0.0001)


@given(st.integers(1, 500).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_interval_holds_the_share_that_was_counted(sample: tuple[int, int]) -> None:
    low, high = stand_interval(*sample)
    assert 0 <= low <= sample[0] / sample[1] <= high <= 1


@pytest.mark.parametrize(
    ("margin", "stations", "wanted"),
    [
        # 385 and 97: the textbook case, p = 1/2, 95 in 100, a large population.
        pytest.param(0.05, None, 385, id="5 points"),
        pytest.param(0.1, None, 97, id="10 points"),
        pytest.param(0.01, None, 9604, id="1 point"),
        pytest.param(0.05, 2000, 323, id="5 points of 2000 stations"),
        pytest.param(0.1, 10, 10, id="a plot smaller than the sample"),
        pytest.param(0.1, 1, 1, id="one station"),
    ],
)
def test_sample_is_the_textbook_size(margin: float, stations: int | None, wanted: int) -> None:
    assert stations_to_count(margin, stations) == wanted


@given(st.floats(0.02, 0.4), st.floats(0.6, 0.99), st.floats(0.05, 0.95))
def test_sample_is_what_the_normal_curve_asks_for(
    margin: float, confidence: float, share: float
) -> None:
    z = norm.ppf((1 + confidence) / 2)
    wanted = stations_to_count(margin, None, confidence, share)
    assert wanted == pytest.approx(max(ceil(z * z * share * (1 - share) / margin**2), 1), abs=1)


@given(st.integers(1, 100_000))
def test_a_sample_never_asks_for_more_stations_than_there_are(stations: int) -> None:
    assert 1 <= stations_to_count(stations=stations) <= min(stations, 97)


@pytest.mark.parametrize(
    ("share", "state"),
    [
        pytest.param(1.0, StandState.GOOD, id="full"),
        pytest.param(0.8, StandState.GOOD, id="exactly four fifths"),
        pytest.param(0.79, StandState.GAPS, id="just below"),
        pytest.param(2 / 3, StandState.GAPS, id="exactly two thirds"),
        pytest.param(0.66, StandState.POOR, id="below two thirds"),
        pytest.param(0.0, StandState.POOR, id="nothing came up"),
    ],
)
def test_a_stand_is_judged(share: float, state: StandState) -> None:
    assert stand_state(share) is state


def test_limits_agree_with_the_table_of_yield_by_stand() -> None:
    # Iowa State 2004, thousands of plants an acre: yield in 100, planted early; sown again a month
    # later, a full stand gives 90.
    table = {30: 100, 24: 94, 20: 81, 16: 74, 12: 68}
    states = {stand: stand_state(stand / 30) for stand in table}
    assert all(table[stand] > 90 for stand in table if states[stand] is StandState.GOOD)
    assert all(table[stand] < 90 for stand in table if states[stand] is not StandState.GOOD)


def test_an_estimate_counts_plants_after_thinning() -> None:
    found = stand_estimate([3, 0, 4, 1, 2], 20_000)
    assert (found.counted, found.with_plants, found.share) == (5, 4, 0.8)
    assert found.full_share == pytest.approx(0.9)
    assert found.plants_per_ha == pytest.approx(36_000)
    assert found.state is StandState.GOOD


@given(st.lists(st.integers(0, 20), min_size=1, max_size=60))
def test_thinning_covers_as_many_plants_as_a_matching_solver(counts: list[int]) -> None:
    spare = [here for here, count in enumerate(counts) if count > 2]
    missing = [here for here, count in enumerate(counts) for _ in range(max(2 - count, 0))]
    beside = np.array([[abs(a - b) == 1 for b in missing] for a in spare], dtype=int)
    pairs = 0
    if spare and missing:
        pairs = int((maximum_bipartite_matching(csr_matrix(beside), "column") >= 0).sum())
    assert plants_to_leave(counts).short == len(missing) - pairs


@pytest.mark.parametrize(
    ("call", "field"),
    [
        pytest.param(lambda: stand_interval(3, 2), "found", id="more than were counted"),
        pytest.param(lambda: stand_interval(0, 0), "counted", id="no station"),
        pytest.param(lambda: stand_interval(1, 2, 1.0), "confidence", id="certainty"),
        pytest.param(lambda: stations_to_count(0.0), "margin", id="no margin"),
        pytest.param(lambda: stations_to_count(stations=0), "stations", id="no plot"),
        pytest.param(lambda: stations_to_count(share=2), "share", id="share above one"),
        pytest.param(lambda: stations_to_count(confidence=0.2), "confidence", id="no confidence"),
        pytest.param(lambda: stand_state(1.5), "full_share", id="more than full"),
        pytest.param(lambda: stand_estimate([], 20_000), "counts", id="no count"),
    ],
)
def test_refuses(call, field: str) -> None:
    with pytest.raises(OutOfRange) as refusal:
        call()
    assert refusal.value.field == field
