"""How a budget divides."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reminder_service.work.budget import LimitLeft
from reminder_service.work.money import Budget, is_covered, thousandths

AMOUNTS = st.integers(0, 10**9)


@given(st.decimals(0, 10**12, places=3))
def test_thousandths_lose_nothing(amount):
    assert Decimal(thousandths(amount)) / 1000 == amount


@given(st.decimals(Decimal("0.001"), 10**9, places=3), st.decimals(0, Decimal("0.9"), places=2))
def test_the_kept_part_is_no_more_than_its_share(amount, share):
    budget = Budget(currency="ZMW", per_season=amount, kept_for_important=share)
    ((key, limit, kept),) = budget.limits()
    assert key == "per_season"
    assert 0 <= limit * share - kept < 1


def test_both_limits_are_kept_the_day_first():
    budget = Budget(currency="ZMW", per_day=10, per_season=100, kept_for_important=0)
    assert list(budget.limits()) == [("per_day", 10_000, 0), ("per_season", 100_000, 0)]


@pytest.mark.parametrize(
    "spent, important, covered",
    [
        pytest.param(70, False, True, id="up to the kept part"),
        pytest.param(71, False, False, id="into the kept part"),
        pytest.param(71, True, True, id="important into the kept part"),
        pytest.param(90, True, True, id="important to the end"),
        pytest.param(91, True, False, id="important beyond the end"),
    ],
)
def test_the_last_part_is_for_the_important(spent, important, covered):
    assert is_covered(10, spent, 100, 20, important) is covered


@given(AMOUNTS, AMOUNTS, st.integers(1, 10**9), st.integers(0, 90))
def test_who_may_take_the_kept_part_is_never_worse_off(cost, spent, limit, percent):
    kept = limit * percent // 100
    if is_covered(cost, spent, limit, kept, important=False):
        assert is_covered(cost, spent, limit, kept, important=True)


@given(AMOUNTS, st.integers(1, 10**9), st.integers(0, 90))
def test_what_is_left_is_what_would_still_be_covered(spent, limit, percent):
    stands = LimitLeft(limit, spent, limit * percent // 100)
    for left, important in ((stands.left, True), (stands.left_for_others, False)):
        assert left >= 0
        assert not is_covered(left + 1, spent, limit, stands.kept, important)
        if left:
            assert is_covered(left, spent, limit, stands.kept, important)
