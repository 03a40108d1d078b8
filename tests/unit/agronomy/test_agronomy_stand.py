"""Thinning: the rule of the trade, its edges, and proof that one pass finds the best."""

from itertools import product
from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reminder_service.agronomy.errors import OutOfRange
from reminder_service.agronomy.stand import Thinning, plants_to_leave

ROWS = st.lists(st.integers(0, 20), min_size=1, max_size=60)


@pytest.mark.parametrize(
    ("counts", "leave", "short"),
    [
        pytest.param((1, 3, 2, 2), (1, 3, 2, 2), 0, id="a lone plant takes one extra next door"),
        pytest.param((1, 2, 2, 2), (1, 2, 2, 2), 1, id="no spare seedling anywhere"),
        pytest.param((3, 0, 4), (3, 0, 3), 0, id="an empty station takes one on both sides"),
        pytest.param((2, 1, 0, 3), (2, 1, 0, 3), 2, id="one side of an empty station cannot help"),
        pytest.param((0, 4), (0, 3), 1, id="no neighbour goes above three"),
        pytest.param((3, 1, 3), (3, 1, 2), 0, id="of two willing neighbours the left one"),
        pytest.param((1, 3, 1, 3), (1, 3, 1, 3), 0, id="left first, so that the next can help"),
        pytest.param((1, 2, 3), (1, 2, 2), 1, id="two stations away is no neighbour"),
        pytest.param((4, 5, 3), (2, 2, 2), 0, id="nothing missing, no third plant"),
        pytest.param((0,), (0,), 2, id="one empty station"),
        pytest.param((20,), (2,), 0, id="one crowded station"),
    ],
)
def test_leaves(counts: tuple[int, ...], leave: tuple[int, ...], short: int) -> None:
    assert plants_to_leave(counts) == Thinning(leave, sum(leave) / len(leave), short)


def best_of_all(counts: tuple[int, ...]) -> tuple[int, ...]:
    """Best way to leave the row, by trying every way spares can stand in for missing plants."""
    two = [min(count, 2) for count in counts]
    missing = {here: 2 - kept for here, kept in enumerate(two) if kept < 2}
    choices = [
        [None, *({here - 1, here + 1} & missing.keys())] if count > 2 else [None]
        for here, count in enumerate(counts)
    ]
    allowed = (
        way
        for way in product(*choices)
        if all(way.count(here) <= plants for here, plants in missing.items())
    )
    ways = (
        tuple(kept + (helped is not None) for kept, helped in zip(two, way, strict=True))
        for way in allowed
    )
    return max(ways, key=lambda leave: (sum(leave), leave))


@pytest.mark.parametrize(
    ("length", "most"),
    [*((length, 4) for length in range(1, 8)), (8, 3)],
    ids=str,
)
def test_is_the_best_way_of_all_for_every_row(length: int, most: int) -> None:
    for counts in product(range(most + 1), repeat=length):
        assert plants_to_leave(counts).leave == best_of_all(counts), counts


@given(ROWS)
def test_a_fourth_seedling_changes_nothing(counts: list[int]) -> None:
    assert plants_to_leave(counts) == plants_to_leave([min(count, 3) for count in counts])


@given(ROWS)
def test_never_more_than_three_nor_than_came_up(counts: list[int]) -> None:
    leave = plants_to_leave(counts).leave
    assert all(kept <= min(count, 3) for kept, count in zip(leave, counts, strict=True))


@given(ROWS)
def test_never_above_two_a_station_and_short_makes_up_the_rest(counts: list[int]) -> None:
    thinning = plants_to_leave(counts)
    assert thinning.short >= 0
    assert sum(thinning.leave) + thinning.short == 2 * len(counts)
    assert thinning.mean == sum(thinning.leave) / len(counts) <= 2


@given(ROWS)
def test_walking_the_row_backwards_is_as_good(counts: list[int]) -> None:
    assert plants_to_leave(counts).short == plants_to_leave(counts[::-1]).short


@given(ROWS)
def test_thinning_a_thinned_row_pulls_nothing_more(counts: list[int]) -> None:
    thinning = plants_to_leave(counts)
    assert plants_to_leave(thinning.leave) == thinning


@pytest.mark.parametrize(
    "counts",
    [
        pytest.param([], id="no station"),
        pytest.param([2, -1], id="below zero"),
        pytest.param([2, 21], id="more than anybody sows"),
        pytest.param([2, inf], id="endless"),
    ],
)
def test_refuses(counts: list[int]) -> None:
    with pytest.raises(OutOfRange, match="counts"):
        plants_to_leave(counts)
