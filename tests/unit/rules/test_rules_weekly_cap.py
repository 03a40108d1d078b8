"""The cap on a phone's week: what is held back, and the laws it keeps."""

from collections import Counter
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reminder_service.rules.weekly_cap import PhoneText, held_back

SATURDAY = date(2026, 12, 5)


def text(ref: int, day: int = 0, importance: int = 5, always: bool = False) -> PhoneText:
    return PhoneText(ref, SATURDAY + timedelta(day), importance, always)


CASES = {
    "room for all": ([text(1), text(2)], 2, set()),
    "the less important is held back": ([text(1, importance=5), text(2, importance=2)], 1, {1}),
    "of two alike the later is held back": ([text(1, day=1), text(2)], 1, {1}),
    "of two alike on one day the younger is held back": ([text(1), text(2)], 1, {2}),
    "the seventh day is the same week": ([text(1), text(2, day=6)], 1, {2}),
    "the eighth day is another week": ([text(1), text(2, day=7)], 1, set()),
    "tomorrow's important text keeps its place": (
        [text(1, importance=6), text(2, day=1, importance=2)], 1, {1},
    ),
    "what went counts": ([text(1, day=-3, importance=9, always=True), text(2)], 1, {2}),
    "what always goes is never held back": (
        [text(1, always=True), text(2, always=True), text(3)], 1, {3},
    ),
}  # fmt: skip


@pytest.mark.parametrize(("texts", "cap", "held"), CASES.values(), ids=list(CASES))
def test_what_is_held_back(texts: list[PhoneText], cap: int, held: set[int]) -> None:
    assert set(held_back(texts, cap)) == held


def test_reason_counts_the_fullest_week_around_it() -> None:
    texts = [text(1, day=-6, always=True), text(2, day=-5, always=True), text(3, day=5), text(4)]
    assert held_back(texts, 2) == {4: 2}


TEXTS = st.lists(
    st.tuples(st.integers(-13, 13), st.integers(1, 9), st.booleans()), max_size=30
).map(lambda rows: [text(ref, *row) for ref, row in enumerate(rows)])
CAPS = st.integers(1, 8)


def weeks(texts: list[PhoneText]) -> list[int]:
    days = Counter(each.on for each in texts)
    starts = [SATURDAY + timedelta(day) for day in range(-20, 14)]
    return [sum(days[start + timedelta(n)] for n in range(7)) for start in starts]


@given(TEXTS, CAPS)
def test_no_week_holds_more_than_the_cap_but_for_what_always_goes(
    texts: list[PhoneText], cap: int
) -> None:
    held = held_back(texts, cap)
    go = [each for each in texts if each.ref not in held]
    always = [each for each in texts if each.always]
    assert all(n <= max(cap, m) for n, m in zip(weeks(go), weeks(always), strict=True))


@given(TEXTS, CAPS, st.randoms(use_true_random=False))
def test_order_of_texts_does_not_matter(texts: list[PhoneText], cap: int, random) -> None:
    shuffled = list(texts)
    random.shuffle(shuffled)
    assert held_back(texts, cap) == held_back(shuffled, cap)


@given(TEXTS, CAPS)
def test_what_always_goes_goes(texts: list[PhoneText], cap: int) -> None:
    held = held_back(texts, cap)
    assert not any(each.always and each.ref in held for each in texts)


@given(TEXTS, CAPS)
def test_less_important_texts_change_nothing_for_the_more_important(
    texts: list[PhoneText], cap: int
) -> None:
    held = held_back(texts, cap)
    for most in (2, 5):
        some = [each for each in texts if each.always or each.importance <= most]
        refs = {each.ref for each in some}
        assert held_back(some, cap) == {ref: n for ref, n in held.items() if ref in refs}


@given(TEXTS, CAPS)
def test_every_text_held_back_would_overfill_a_week(texts: list[PhoneText], cap: int) -> None:
    for ref in held_back(texts, cap):
        one = next(each for each in texts if each.ref == ref)
        held = held_back(texts, cap)
        go = [each for each in texts if each.ref not in held] + [one]
        assert max(weeks(go)) > cap


@given(TEXTS, CAPS)
def test_days_lived_one_by_one_keep_the_cap(texts: list[PhoneText], cap: int) -> None:
    """Each day decides with what went before and what is still planned, as dispatch does."""
    planned = [each for each in texts if not each.always]
    gone: list[PhoneText] = []
    for day in sorted({each.on for each in planned}):
        ahead = [each for each in planned if timedelta(0) <= each.on - day < timedelta(7)]
        held = held_back([*gone, *ahead], cap)
        gone += [
            PhoneText(each.ref, day, each.importance, True)
            for each in ahead
            if each.on == day and each.ref not in held
        ]
    assert max(weeks(gone)) <= cap
