"""One amount a day from many observers: the stated rule, case by case and by random input."""

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reminder_service.agronomy.rain_book import (
    Flag,
    Observation,
    Observer,
    amounts,
    borne_out,
    gaps,
    observation_flags,
    plot_rain,
    ward_rain,
)

DAY = date(2026, 11, 12)
AT = datetime(2026, 11, 12, 6, tzinfo=UTC)
KEEPER, FARMER, FILE, SOURCE = Observer


def seen(ref, mm, observer=FARMER, by=None, plot=None, on=DAY, hours=0, trace=False):
    at = AT + timedelta(hours=hours)
    return Observation(ref, plot, on, mm, observer, by or f"phone {ref}", at, trace)


def flags(*observations) -> dict[int, set[str]]:
    return {ref: set(found) for ref, found in observation_flags(observations).items()}


def ward_mm(*observations) -> float:
    return ward_rain(observations)[DAY].mm


@pytest.mark.parametrize(
    "observations, mm, observer",
    [
        pytest.param([seen(1, 30, KEEPER), seen(2, 5)], 30, KEEPER, id="the keeper before farmers"),
        pytest.param([seen(1, 30, FILE), seen(2, 5)], 5, FARMER, id="farmers before a file"),
        pytest.param(
            [seen(1, 30, FILE), seen(2, 5, SOURCE)], 30, FILE, id="a file before a source"
        ),
        pytest.param([seen(1, 10), seen(2, 12), seen(3, 90)], 12, FARMER, id="median of farmers"),
        pytest.param([seen(1, 10), seen(2, 14)], 12, FARMER, id="middle of two"),
        pytest.param([seen(1, -3, KEEPER), seen(2, 5)], 5, FARMER, id="a negative is passed over"),
        pytest.param([seen(1, 401, KEEPER), seen(2, 5)], 5, FARMER, id="too much alone"),
        pytest.param([seen(1, 400, KEEPER)], 400, KEEPER, id="400 mm needs no second"),
        pytest.param([seen(1, 450, KEEPER), seen(2, 225)], 450, KEEPER, id="seconded by half"),
        pytest.param([seen(1, 450, KEEPER), seen(2, 224)], 224, FARMER, id="seconded too weakly"),
    ],
)
def test_a_wards_day(observations, mm, observer):
    found = ward_rain(observations)[DAY]
    assert (found.mm, found.observer) == (mm, observer)


def test_an_observer_does_not_second_themselves_from_another_plot():
    found = ward_rain([seen(1, 450, by="phone 1", plot=1), seen(2, 450, by="phone 1", plot=2)])
    assert found == {}


def test_nothing_above_what_ever_fell_is_believed():
    assert ward_rain([seen(1, 2001), seen(2, 2001)]) == {}


def test_an_observer_with_many_plots_counts_once():
    lead = [seen(ref, 40, by="phone 9", plot=ref) for ref in range(1, 6)]
    assert ward_mm(*lead, seen(6, 10, by="phone 1"), seen(7, 12, by="phone 2")) == 12


def test_the_last_word_of_an_observer_counts_and_the_first_is_kept_flagged():
    first, last = seen(1, 10, by="phone 1"), seen(2, 23, by="phone 1", hours=2)
    assert ward_mm(last, first) == 23
    assert flags(first, last) == {1: {Flag.REPLACED}}


def test_the_same_said_twice_counts_once():
    twice = [seen(1, 10, by="phone 1"), seen(2, 10, by="phone 1", hours=2)]
    assert ward_mm(*twice, seen(3, 20), seen(4, 30)) == 20
    assert flags(*twice) == {1: {Flag.DUPLICATE}}


def test_impossible_amounts_are_flagged_and_leave_the_day_unknown():
    assert flags(seen(1, -1), seen(2, 800, on=date(2026, 11, 13))) == {
        1: {Flag.IMPOSSIBLE},
        2: {Flag.IMPOSSIBLE},
    }
    assert ward_rain([seen(1, -1)]) == {}


@pytest.mark.parametrize("mm, trace", [(0.0, True), (0.09, False)], ids=["said", "too little"])
def test_a_trace_is_known_and_measures_nothing(mm, trace):
    found = ward_rain([seen(1, mm, trace=trace)])[DAY]
    assert found.mm == 0 and found.flags == {Flag.TRACE}


@pytest.mark.parametrize(
    "low, high, apart",
    [(10, 20, False), (5, 15.5, True), (30, 40.5, False), (20, 60, True), (0, 10, False)],
    ids=["ten apart", "far apart", "a share only", "both", "a drizzle beside nothing"],
)
def test_observers_far_apart_are_flagged(low, high, apart):
    found = ward_rain([seen(1, low), seen(2, high, FILE)])[DAY]
    assert (Flag.DISAGREES in found.flags) is apart


def test_a_plots_own_rain_goes_before_the_keepers():
    book = [seen(1, 30, KEEPER), seen(2, 8, plot=5)]
    assert plot_rain(book, 5)[DAY].mm == 8
    assert plot_rain(book, 6)[DAY].mm == 30


def test_a_plots_impossible_amount_leaves_it_the_wards():
    book = [seen(1, 30, KEEPER), seen(2, -8, plot=5)]
    assert plot_rain(book, 5)[DAY].mm == 30


def test_gaps_are_runs_of_days_that_nobody_observed():
    known = {date(2026, 11, 3), date(2026, 11, 4)}
    found = gaps(known, date(2026, 11, 1), date(2026, 11, 6))
    assert [(gap.first.day, gap.last.day, gap.days) for gap in found] == [(1, 2, 2), (5, 6, 2)]


def dry_but(**rain):
    days = {date(2026, 11, day): 0.0 for day in range(8, 17)}
    return days | {date(2026, 11, int(name[1:])): mm for name, mm in rain.items()}


@pytest.mark.parametrize(
    "rain, said",
    [
        pytest.param(dry_but(), False, id="dry all around"),
        pytest.param(dry_but(d12=20.0), True, id="exactly the amount"),
        pytest.param(dry_but(d12=19.9), False, id="a little less"),
        pytest.param(dry_but(d10=12.0, d12=8.0), True, id="reached on the day"),
        pytest.param(dry_but(d12=8.0, d14=12.0), True, id="reached two days later"),
        pytest.param(dry_but(d11=10.0, d14=10.0), False, id="too far apart"),
        pytest.param({}, None, id="nothing known"),
        pytest.param({date(2026, 11, 12): 0.0}, None, id="the days around unknown"),
    ],
)
def test_a_first_rain_is_borne_out_denied_or_left_open(rain, said):
    assert borne_out(rain, DAY, 20, 3) is said


observations = st.lists(
    st.builds(
        seen,
        ref=st.integers(1, 10_000),
        mm=st.sampled_from([-5.0, 0.0, 0.05, 3.0, 12.5, 250.0, 401.0, 700.0, 2500.0]),
        observer=st.sampled_from(Observer),
        by=st.sampled_from(["phone 1", "phone 2", "phone 3"]),
        plot=st.sampled_from([None, 1, 2]),
        on=st.dates(DAY, DAY + timedelta(days=2)),
        hours=st.integers(0, 3),
        trace=st.booleans(),
    ),
    max_size=14,
    unique_by=lambda each: each.ref,
)


@given(observations, st.randoms())
def test_the_order_of_observations_does_not_matter(given_, random):
    mixed = list(given_)
    random.shuffle(mixed)
    assert ward_rain(mixed) == ward_rain(given_)
    assert plot_rain(mixed, 1) == plot_rain(given_, 1)
    assert observation_flags(mixed) == observation_flags(given_)


@given(observations)
def test_an_amount_lies_within_what_was_seen_and_unknown_is_never_none(given_):
    found = ward_rain(given_)
    by_day = {on: [o.mm for o in given_ if o.on == on] for on in {o.on for o in given_}}
    assert found.keys() <= by_day.keys()
    for on, day in found.items():
        possible = [mm for mm in by_day[on] if 0 <= mm <= 2000]
        assert 0 <= day.mm <= max(possible)
        assert day.counted


@given(observations)
def test_saying_it_all_again_changes_nothing(given_):
    again = [
        Observation(o.ref + 20_000, o.plot, o.on, o.mm, o.observer, o.by, o.kept_at, o.trace)
        for o in given_
    ]
    assert amounts(ward_rain([*given_, *again])) == amounts(ward_rain(given_))
