"""Unknown days: what is said holds whatever fell on them."""

from datetime import date, timedelta
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st
from onset_oracle import SMALL, plain_onset, record_of

from reminder_service.agronomy.onset import onset
from reminder_service.agronomy.onset_criteria import criterion
from reminder_service.agronomy.rain_days import Status

NOVEMBER = date(2026, 11, 1)
PROGRAMME = criterion("programme")
WET_MONTH = [5.0, 0.0, 3.0] * 14
ANY_AMOUNT = (0.0, 0.5, 10.0, 1_000.0)


def found(mm: list[float | None], **given):
    return onset(record_of(NOVEMBER, mm), PROGRAMME, NOVEMBER, **given)


def test_an_unknown_day_is_not_taken_for_a_dry_one():
    answer = found([25.0, *[0.0] * 7, None, *WET_MONTH])
    assert (answer.on, answer.status) == (NOVEMBER, Status.PROVISIONAL)
    assert answer.false_starts == ()


def test_a_day_left_out_is_as_unknown_as_one_without_an_amount():
    record = record_of(NOVEMBER, [25.0, *[0.0] * 7, None, *WET_MONTH])
    left_out = {on: mm for on, mm in record.items() if mm is not None}
    assert onset(left_out, PROGRAMME, NOVEMBER) == onset(record, PROGRAMME, NOVEMBER)


def test_an_unknown_day_is_not_taken_for_a_wet_one():
    answer = found([25.0, *[0.0] * 8, None, 30.0, *WET_MONTH])
    assert [start.on for start in answer.false_starts] == [NOVEMBER]


def test_an_unknown_day_that_can_complete_no_run_leaves_the_onset_confirmed():
    answer = found([25.0, 4.0, None, 4.0, *WET_MONTH])
    assert (answer.on, answer.status) == (NOVEMBER, Status.CONFIRMED)


def test_an_unknown_day_that_may_have_been_the_onset_is_undecided():
    answer = found([0.0, None, 0.0, 9.0, 12.0, *WET_MONTH])
    assert answer.undecided == (date(2026, 11, 2), date(2026, 11, 4))
    assert (answer.on, answer.status) == (date(2026, 11, 5), Status.PROVISIONAL)


def test_an_undecided_day_that_a_known_dry_run_rejects_is_decided():
    answer = found([None, *[0.0] * 9, 22.0, *WET_MONTH])
    assert answer.undecided == ()
    assert answer.status is Status.CONFIRMED


def test_rain_too_little_beside_an_unknown_day_starts_nothing_for_sure():
    answer = found([0.0, None, 5.0, 0.0, 0.0])
    assert (answer.on, answer.status) == (None, Status.NONE)
    assert answer.undecided == (date(2026, 11, 2), date(2026, 11, 3))


def test_a_known_dry_day_beside_an_unknown_one_is_no_onset():
    assert date(2026, 11, 3) not in found([0.0, None, 0.0, 0.0, 0.0]).undecided


def test_days_that_nobody_reported_yet_are_unknown():
    record = record_of(NOVEMBER, [25.0, *[4.0] * 20])
    answer = onset(record, PROGRAMME, NOVEMBER, known_until=NOVEMBER + timedelta(40))
    assert (answer.on, answer.status) == (NOVEMBER, Status.PROVISIONAL)


def test_a_record_that_begins_after_the_search_leaves_its_first_days_undecided():
    record = record_of(NOVEMBER + timedelta(3), [25.0, *WET_MONTH])
    answer = onset(record, PROGRAMME, NOVEMBER)
    assert answer.undecided == tuple(NOVEMBER + timedelta(n) for n in range(3))
    assert answer.status is Status.PROVISIONAL


def test_days_before_record_and_search_leave_nothing_open():
    assert found([8.0, 0.0, *[0.0] * 9, 25.0, *WET_MONTH]).status is Status.CONFIRMED


@pytest.mark.parametrize(
    ("before", "undecided"),
    [pytest.param([None, 4.0], 1, id="a gap"), pytest.param([0.0, 4.0], 0, id="a known day")],
)
def test_a_gap_just_before_the_search_is_unknown_too(before, undecided):
    record = record_of(NOVEMBER - timedelta(2), [*before, 6.0, *[0.0] * 3, 25.0, *WET_MONTH])
    assert len(onset(record, PROGRAMME, NOVEMBER).undecided) == undecided


amounts_or_unknown = st.lists(st.sampled_from([0.0, 0.5, 5.0, 15.0, 20.0]), max_size=12).flatmap(
    lambda mm: st.sets(st.integers(0, max(len(mm) - 1, 0)), max_size=4).map(
        lambda gaps: [None if place in gaps else amount for place, amount in enumerate(mm)]
    )
)


@given(mm=amounts_or_unknown)
def test_an_onset_is_confirmed_just_where_no_amount_on_the_unknown_days_could_change_it(mm):
    answer = onset(record_of(NOVEMBER, mm), SMALL, NOVEMBER)
    gaps = [place for place, amount in enumerate(mm) if amount is None]
    possible = set()
    for fill in product(ANY_AMOUNT, repeat=len(gaps)):
        filled = list(mm)
        for place, amount in zip(gaps, fill, strict=True):
            filled[place] = amount
        possible.add(plain_onset(record_of(NOVEMBER, filled), SMALL, NOVEMBER))
    last = NOVEMBER + timedelta(len(mm) - 1)
    over = answer.on is not None and answer.look_ahead_until <= last
    assert (answer.status is Status.CONFIRMED) == (possible == {answer.on} and over)
    assert not answer.undecided or answer.on is None or len(possible) > 1
