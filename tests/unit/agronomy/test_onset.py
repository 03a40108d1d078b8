"""Onset, false starts and how sure they are, on records where every day is known."""

from datetime import date, timedelta

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from onset_oracle import SMALL, plain_onset, record_of

from reminder_service.agronomy.errors import OutOfRange
from reminder_service.agronomy.onset import onset
from reminder_service.agronomy.onset_criteria import Criterion, criteria, criterion
from reminder_service.agronomy.rain_days import Status

NOVEMBER = date(2026, 11, 1)
PROGRAMME = criterion("programme")
DRY_WEEK = [0.0] * 7
WET_MONTH = [5.0, 0.0, 3.0] * 14

amounts = st.lists(st.sampled_from([0.0, 0.0, 0.5, 0.9, 1.0, 5.0, 10.0, 19.9, 20.0]), max_size=60)


def found(mm: list[float | None], **given):
    """Onset by the programme's numbers in a record that begins with the search."""
    return onset(record_of(NOVEMBER, mm), PROGRAMME, NOVEMBER, **given)


def test_rain_that_no_dry_run_follows_is_the_onset():
    answer = found([0.0, 12.0, 9.0, *WET_MONTH])
    assert (answer.on, answer.status) == (date(2026, 11, 3), Status.CONFIRMED)
    assert (answer.false_starts, answer.undecided) == ((), ())
    assert answer.look_ahead_until == date(2026, 12, 3)


def test_without_rain_there_is_no_onset():
    answer = found([0.0] * 90)
    assert (answer.on, answer.status, answer.look_ahead_until) == (None, Status.NONE, None)


@pytest.mark.parametrize(
    ("mm", "on"),
    [
        pytest.param([19.9, *WET_MONTH], 2, id="a tenth under the amount waits for more"),
        pytest.param([20.0, *WET_MONTH], 1, id="the amount itself is enough"),
        pytest.param([6.6, 6.7, 6.7, *WET_MONTH], 3, id="tenths add up exactly"),
        pytest.param([15.0, 0.0, 0.0, 5.0, 14.9, 0.1, *WET_MONTH], 6, id="four days are too many"),
        pytest.param([15.0, 0.0, 5.0, *WET_MONTH], 3, id="three days are not"),
        pytest.param([30.0, 0.0, *WET_MONTH], 1, id="a day of rain begins it, not one without"),
    ],
)
def test_wet_test(mm, on):
    assert found(mm).on == NOVEMBER + timedelta(on - 1)


def test_an_amount_that_must_be_passed_is_not_enough_itself():
    record = record_of(NOVEMBER, [20.0, 0.0, 0.0, 20.1, *WET_MONTH])
    assert onset(record, criterion("moorings"), NOVEMBER).on == date(2026, 11, 4)


@pytest.mark.parametrize(
    ("after", "rejected"),
    [
        pytest.param([*DRY_WEEK, 0.9, 5.0], True, id="eight days under the wet day reject"),
        pytest.param([*DRY_WEEK, 1.0, 5.0], False, id="the eighth day is wet at 1.0 mm"),
        pytest.param([*DRY_WEEK, 5.0], False, id="seven days are too few"),
        pytest.param([2.0] * 22 + [0.0] * 8 + [5.0], True, id="the run ends with the look-ahead"),
        pytest.param([2.0] * 23 + [0.0] * 9 + [5.0], False, id="the run ends a day after it"),
    ],
)
def test_dry_run_in_the_look_ahead(after, rejected):
    answer = found([25.0, *after, *WET_MONTH])
    assert bool(answer.false_starts) is rejected
    assert (answer.on != NOVEMBER) is rejected


def test_a_false_start_names_its_day_and_the_run_that_rejected_it():
    answer = found([25.0, 3.0, *[0.0] * 11, 30.0, *WET_MONTH])
    (start,) = answer.false_starts
    assert (start.on, start.dry_from, start.dry_days) == (NOVEMBER, date(2026, 11, 3), 11)
    assert answer.on == date(2026, 11, 14)


def test_two_wet_spells_before_one_dry_run_are_one_false_start():
    answer = found([25.0, 3.0, 0.0, 0.0, 28.0, *[0.0] * 9, 30.0, *WET_MONTH])
    assert [start.on for start in answer.false_starts] == [NOVEMBER]


def test_each_dry_run_makes_a_false_start_of_its_own():
    answer = found([25.0, *[0.0] * 9, 22.0, *[0.0] * 8, 30.0, *WET_MONTH])
    assert [start.on.day for start in answer.false_starts] == [1, 11]


def test_light_rain_in_a_rejecting_run_is_no_start_of_its_own():
    answer = found([25.0, 0.5, *[0.0] * 10, 30.0, *WET_MONTH])
    assert [start.on.day for start in answer.false_starts] == [1]
    assert answer.on == date(2026, 11, 13)


def test_light_rain_is_the_onset_where_what_is_left_of_the_run_is_too_short_to_reject_it():
    """The rule to the letter: some rain on the day, and the run counted from the day after."""
    answer = found([25.0, 0.5, *[0.0] * 7, 9.0, *WET_MONTH])
    assert [start.on.day for start in answer.false_starts] == [1]
    assert answer.on == date(2026, 11, 2)


def test_an_onset_is_provisional_until_the_last_day_of_its_look_ahead_is_over():
    record = record_of(NOVEMBER, [25.0, *WET_MONTH])
    ends = NOVEMBER + timedelta(30)
    early = onset(record, PROGRAMME, NOVEMBER, known_until=ends - timedelta(1))
    late = onset(record, PROGRAMME, NOVEMBER, known_until=ends)
    assert (early.on, early.status) == (NOVEMBER, Status.PROVISIONAL)
    assert (late.on, late.status) == (NOVEMBER, Status.CONFIRMED)


def test_what_was_measured_later_is_left_aside():
    record = record_of(NOVEMBER, [25.0, *[0.0] * 12, 30.0, *WET_MONTH])
    answer = onset(record, PROGRAMME, NOVEMBER, known_until=date(2026, 11, 5))
    assert (answer.on, answer.status) == (NOVEMBER, Status.PROVISIONAL)
    assert answer.false_starts == ()


def test_without_a_look_ahead_the_wet_test_settles_it():
    answer = onset(record_of(NOVEMBER, [25.0, 0.0]), criterion("arex"), NOVEMBER)
    assert (answer.on, answer.status) == (NOVEMBER, Status.CONFIRMED)


def test_rain_known_from_before_the_search_counts():
    before = NOVEMBER - timedelta(2)
    record = record_of(before, [11.0, 8.0, 1.0, *WET_MONTH])
    assert onset(record, PROGRAMME, NOVEMBER).on == NOVEMBER


def test_a_day_before_the_search_is_never_the_onset():
    record = record_of(NOVEMBER - timedelta(5), [30.0, *[4.0] * 10, 22.0, *WET_MONTH])
    assert onset(record, PROGRAMME, NOVEMBER).on == date(2026, 11, 7)


def test_the_search_ends_with_its_last_day():
    record = record_of(NOVEMBER, [0.0] * 9 + [25.0, *WET_MONTH])
    ninth = date(2026, 11, 9)
    assert onset(record, PROGRAMME, NOVEMBER, search_until=ninth).on is None
    assert onset(record, PROGRAMME, NOVEMBER, search_until=ninth + timedelta(1)).on is not None


def test_a_year_is_searched_and_no_more():
    for days, on in ((364, NOVEMBER + timedelta(364)), (365, None)):
        assert found([0.0] * days + [25.0, *WET_MONTH]).on == on


def test_a_season_runs_across_the_new_year():
    record = record_of(date(2026, 12, 1), [0.0] * 35 + [25.0, *WET_MONTH])
    assert onset(record, PROGRAMME, date(2026, 12, 1)).on == date(2027, 1, 5)


def test_an_empty_record_has_no_onset():
    assert onset({}, PROGRAMME, NOVEMBER).status is Status.NONE


@pytest.mark.parametrize("mm", [-0.1, 2_000.1, float("nan"), float("inf")])
def test_an_impossible_amount_is_refused_with_its_day(mm):
    with pytest.raises(OutOfRange, match="rain on 2026-11-02"):
        found([0.0, mm])


@pytest.mark.parametrize("name", ["search_until", "known_until"])
def test_a_mistyped_year_is_refused(name):
    with pytest.raises(OutOfRange, match=name):
        found([25.0], **{name: date(226, 11, 1)})


@given(mm=amounts, chosen=st.sampled_from([SMALL, *criteria().values()]))
def test_the_onset_is_the_first_day_that_the_plain_rule_takes(mm: list[float], chosen: Criterion):
    record = record_of(NOVEMBER, mm)
    assert onset(record, chosen, NOVEMBER).on == plain_onset(record, chosen, NOVEMBER)


@given(mm=amounts.map(lambda mm: [*mm, 20.0, 5.0, 5.0, 5.0, 5.0]), later=amounts)
def test_rain_after_the_look_ahead_never_changes_a_confirmed_onset(mm, later):
    first = onset(record_of(NOVEMBER, mm), SMALL, NOVEMBER)
    assume(first.status is Status.CONFIRMED)
    kept = (first.look_ahead_until - NOVEMBER).days + 1
    changed = onset(record_of(NOVEMBER, mm[:kept] + later), SMALL, NOVEMBER)
    assert (changed.on, changed.status) == (first.on, Status.CONFIRMED)
    assert [s.on for s in changed.false_starts] == [s.on for s in first.false_starts]


@given(mm=amounts, days=st.integers(-40_000, 40_000))
def test_a_record_moved_by_days_moves_the_answer_by_as_many(mm, days):
    moved = NOVEMBER + timedelta(days)
    here = onset(record_of(NOVEMBER, mm), SMALL, NOVEMBER)
    there = onset(record_of(moved, mm), SMALL, moved)
    assert there.status is here.status
    assert _places(there, moved) == _places(here, NOVEMBER)


def _places(answer, start: date) -> tuple:
    on = answer.on and (answer.on - start).days
    return on, [(s.on - start, s.dry_from - start, s.dry_days) for s in answer.false_starts]


@given(mm=amounts.map(lambda mm: [*mm, 20.0, 5.0, 5.0, 5.0, 5.0]), known=st.integers(4, 65))
def test_a_confirmed_onset_is_never_taken_back(mm, known):
    record = record_of(NOVEMBER, mm)
    early = onset(record, SMALL, NOVEMBER, known_until=NOVEMBER + timedelta(known))
    assume(early.status is Status.CONFIRMED)
    assert onset(record, SMALL, NOVEMBER).on == early.on


@given(mm=amounts)
def test_false_starts_come_before_the_onset_each_with_its_own_run(mm):
    answer = onset(record_of(NOVEMBER, mm), SMALL, NOVEMBER)
    for days in zip(*((start.on, start.dry_from) for start in answer.false_starts), strict=True):
        assert list(days) == sorted(set(days))
    assert all(start.dry_days >= SMALL.reject_dry_days for start in answer.false_starts)
    assert answer.on is None or all(start.on < answer.on for start in answer.false_starts)


def test_the_time_taken_grows_with_the_days_alone():
    """Light rain on every day, each of which passes a long wet test and is rejected."""
    chosen = Criterion("a long sum", 20, 60, 8, 120, 1.0)
    looked_at = []

    class Counted(dict):
        def get(self, on, default=None):
            looked_at.append(on)
            return super().get(on, default)

    record = Counted(record_of(NOVEMBER, [0.9] * 20_000))
    answer = onset(record, chosen, NOVEMBER, search_until=NOVEMBER + timedelta(15_000))
    assert answer.on is None
    assert len(answer.false_starts) == 1
    assert len(looked_at) == len(set(looked_at))
