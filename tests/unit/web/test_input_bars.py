"""The bars of inputs by week: inside the drawing, as tall as their amounts, none on another."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reminder_service.rules.inputs import WeekInputs
from reminder_service.web.input_bars import input_bars, short_amount

MONDAY = date(2026, 12, 7)


def some_weeks(*labour: float, manure: int = 0) -> list[WeekInputs]:
    return [
        WeekInputs(MONDAY + timedelta(weeks=n), labour_days=days, manure_kg=manure)
        for n, days in enumerate(labour)
    ]


def test_without_a_need_there_is_no_row() -> None:
    bars = input_bars([])
    assert (bars.rows, bars.description) == ((), "Nothing is needed.")


def test_only_kinds_that_are_needed_have_a_row() -> None:
    bars = input_bars(some_weeks(3, manure=40))
    assert [row.name for row in bars.rows] == ["Manure, kg", "Labour, days"]


def test_an_empty_week_has_its_place_but_no_bar() -> None:
    bars = input_bars(some_weeks(4, 0, 2))
    (row,) = bars.rows
    assert [week for _, week in bars.weeks] == ["50", "51", "52"]
    assert [bar.label for bar in row.bars] == ["4", "2"]
    assert row.bars[0].height == pytest.approx(2 * row.bars[1].height)


def test_a_bar_says_its_week_and_amount() -> None:
    (row,) = input_bars(some_weeks(4)).rows
    assert row.bars[0].title == "Labour, 2026-W50: 4 days"


def test_the_drawing_is_told_in_words_too() -> None:
    said = input_bars(some_weeks(4, 9)).description
    assert said == "Labour, days: 13 in all, most in week 2026-W51."


@given(st.lists(st.floats(0, 5000), min_size=1, max_size=60))
def test_bars_lie_inside_and_apart(labour: list[float]) -> None:
    bars = input_bars(some_weeks(*labour))
    for row in bars.rows:
        ends = [0.0]
        for bar in row.bars:
            assert ends[-1] <= bar.x and bar.x + bar.width <= bars.width
            assert bar.height >= 1 and row.head < bar.y and bar.y + bar.height <= row.base + 0.1
            ends.append(bar.x + bar.width)


@pytest.mark.parametrize(
    ("amount", "said"),
    [(0.2, "1"), (999, "999"), (1000, "1.0k"), (5550, "5.6k"), (99_950, "100.0k"), (1e6, "1000k")],
)
def test_amounts_are_short_and_never_too_small(amount: float, said: str) -> None:
    assert short_amount(amount) == said
