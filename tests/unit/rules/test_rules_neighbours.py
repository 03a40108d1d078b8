"""What a ward's plots say of germination to one that has not reported it."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rules_cast import plot, task_of

from reminder_service.kinds import Kind
from reminder_service.rules.derive import derive
from reminder_service.rules.neighbours import FEWEST, SAME_DAYS, Lag, Neighbour, neighbour_lag
from reminder_service.rules.shipped import shipped_rulebook

DAY = date(2026, 11, 14)


def up(*lags: int | None, planted: date = DAY) -> list[Neighbour]:
    return [Neighbour(planted, None if lag is None else planted + timedelta(lag)) for lag in lags]


def test_median_and_quarters_of_those_planted_together() -> None:
    assert neighbour_lag(DAY, up(5, 6, 7, 8, 9, 9, 12, 20)) == Lag(6, 8, 9, 8, 8)


SILENT = {
    "nobody around": [],
    "too few": up(7, 7, 7, 7),
    "half have reported": up(7, 7, 7, None, None, None),
    "most have not": up(7, None, None, None, None),
    "planted too long before": up(7, 7, 7, 7, 7, planted=DAY - SAME_DAYS - timedelta(1)),
    "planted too long after": up(7, 7, 7, 7, 7, planted=DAY + SAME_DAYS + timedelta(1)),
    "came up before it was planted": up(-1, -1, -1, 7, 7),
}


@pytest.mark.parametrize("around", SILENT.values(), ids=list(SILENT))
def test_plots_that_say_nothing(around: list[Neighbour]) -> None:
    assert neighbour_lag(DAY, around) is None


@pytest.mark.parametrize("days", [-3, 0, 3])
def test_plots_of_the_same_few_days_count(days: int) -> None:
    around = up(7, 7, 8, None, 7, planted=DAY + timedelta(days))
    assert neighbour_lag(DAY, around) == Lag(7, 7, 7, 4, 5)


def test_one_plot_more_than_half_is_enough() -> None:
    assert neighbour_lag(DAY, up(8, 8, 8, 8, None, None, None)) == Lag(8, 8, 8, 4, 7)


AROUND = st.lists(
    st.builds(
        lambda apart, lag: Neighbour(
            DAY + timedelta(apart), None if lag is None else DAY + timedelta(apart + lag)
        ),
        st.integers(-6, 6),
        st.none() | st.integers(0, 25),
    ),
    max_size=30,
)


@given(AROUND, st.randoms(use_true_random=False))
def test_order_of_neighbours_does_not_matter(around: list[Neighbour], random: object) -> None:
    shuffled = list(around)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    assert neighbour_lag(DAY, around) == neighbour_lag(DAY, shuffled)


@given(AROUND)
def test_lag_is_one_that_was_reported_and_in_order(around: list[Neighbour]) -> None:
    lag = neighbour_lag(DAY, around)
    if lag is None:
        return
    reported = {(n.germinated - n.planted).days for n in around if n.germinated is not None}
    assert {lag.earliest, lag.likely, lag.latest} <= reported
    assert lag.earliest <= lag.likely <= lag.latest
    assert FEWEST <= lag.planted and lag.planted < 2 * lag.reported


MAIZE = shipped_rulebook()
QUICK = Lag(4, 5, 6, 7, 9)


def test_estimate_leans_on_the_plots_around_and_says_so() -> None:
    facts = replace(plot(planted=DAY), lag=QUICK)
    up_on = derive(facts, MAIZE).estimates[Kind.GERMINATED]
    days = [DAY + timedelta(n) for n in (4, 5, 6)]
    assert [up_on.earliest, up_on.on, up_on.latest] == days
    assert up_on.because.endswith(
        "5 days after planting on Sat 14 Nov 2026 (reported), as on 7 of 9 plots around that were "
        "planted in those days."
    )
    assert "is the maize up?" in up_on.question


def test_tasks_follow_the_estimate_that_leans_on_the_plots_around() -> None:
    alone = derive(plot(planted=DAY), MAIZE)
    leaning = derive(replace(plot(planted=DAY), lag=QUICK), MAIZE)
    opens = [task_of(plan, "thin").opens for plan in (alone, leaning)]
    assert opens[0] - opens[1] == timedelta(2)


def test_own_report_wins_over_the_plots_around() -> None:
    facts = plot(planted=DAY, germinated=DAY + timedelta(9))
    assert derive(replace(facts, lag=QUICK), MAIZE) == derive(facts, MAIZE)


def test_planting_that_is_only_estimated_leans_on_nobody() -> None:
    facts = plot(first_rain=DAY)
    assert derive(replace(facts, lag=QUICK), MAIZE) == derive(facts, MAIZE)
