"""Dry spells."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from onset_oracle import record_of

from reminder_service.agronomy.dry_spells import DrySpell, dry_spells
from reminder_service.agronomy.errors import OutOfRange
from reminder_service.agronomy.rain_days import next_runs

NOVEMBER = date(2026, 11, 1)


def spells(mm, at_least_days=3, **given):
    record = record_of(NOVEMBER, mm)
    asked = {"from_on": min(record), "until_on": max(record)} | given
    return dry_spells(record, **asked, wet_day_mm=1.0, at_least_days=at_least_days)


@pytest.mark.parametrize(
    ("mm", "days"),
    [
        pytest.param([2.0, 0.0, 0.0, 0.0, 2.0], [3], id="a run as long as asked for"),
        pytest.param([2.0, 0.0, 0.0, 2.0], [], id="a run too short"),
        pytest.param([2.0, 0.0, 0.9, 0.0, 2.0], [3], id="less than the wet day is dry"),
        pytest.param([2.0, 0.0, 1.0, 0.0, 2.0], [], id="the wet day itself is wet"),
        pytest.param([*[0.0] * 4, 2.0, *[0.0] * 5], [4, 5], id="every run"),
    ],
)
def test_spells_are_runs_of_dry_days(mm, days):
    assert [spell.days for spell in spells(mm)] == days


def test_an_unknown_day_ends_a_spell_that_may_then_be_longer():
    (spell,) = spells([2.0, 0.0, 0.0, 0.0, None, 2.0])
    assert spell == DrySpell(date(2026, 11, 2), 3, may_be_longer=True)


def test_an_unknown_day_joins_no_two_spells():
    assert spells([2.0, 0.0, 0.0, None, 0.0, 0.0, 2.0]) == ()


@pytest.mark.parametrize(
    ("last", "longer"),
    [
        pytest.param(3, True, id="the next day is dry"),
        pytest.param(4, False, id="the next day is wet"),
    ],
)
def test_the_day_after_the_last_tells_whether_a_spell_goes_on(last, longer):
    (spell,) = spells([2.0, 0.0, 0.0, 0.0, 2.0], 2, until_on=date(2026, 11, last))
    assert spell.may_be_longer is longer


def test_spells_need_a_length():
    with pytest.raises(OutOfRange, match="at_least_days"):
        spells([2.0], at_least_days=0)


@given(mm=st.lists(st.sampled_from([0.0, 0.5, 1.0, 9.0, None]), min_size=1, max_size=40))
def test_spells_of_any_length_cover_each_known_dry_day_once(mm):
    covered = [spell.first_on + timedelta(n) for spell in spells(mm, 1) for n in range(spell.days)]
    record = record_of(NOVEMBER, mm)
    assert covered == [on for on, amount in record.items() if amount is not None and amount < 1]


@given(inside=st.lists(st.booleans(), max_size=30), days=st.integers(1, 5))
def test_next_runs_are_the_first_places_where_enough_days_follow(inside, days):
    found = next_runs(inside, days)
    for place in range(len(inside) + 1):
        begins = [n for n in range(place, len(inside) - days + 1) if all(inside[n : n + days])]
        assert found[place] == min(begins, default=len(inside))
