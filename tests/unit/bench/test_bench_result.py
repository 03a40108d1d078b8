"""Figures, ratios and turns of a bench, without measuring anything."""

from contextlib import contextmanager
from datetime import UTC, datetime

import pytest

from gateways.protocol import Outgoing
from reminder_service.bench.result import Figure, Spread, ratio_of
from reminder_service.bench.turns import Side, Work, figures_by_turns


def figure(side, *runs):
    return Figure("HTTP", side, "texts/s", Spread(runs))


def texts(count):
    at = datetime(2026, 12, 12, 16, tzinfo=UTC)
    return [Outgoing("+447700900001", "Thin", f"text-{number}", at) for number in range(count)]


def test_a_ratio_is_taken_round_by_round_so_that_drift_does_not_count():
    figures = [figure("gateway", 100.0, 50.0, 10.0), figure("bare", 100.0, 100.0, 20.0)]
    assert ratio_of(figures, "gateway", "bare", None).spread.runs == (1.0, 0.5, 0.5)


@pytest.mark.parametrize(
    ("at_least", "reached"),
    [
        pytest.param(0.5, True, id="the median reaches it"),
        pytest.param(0.51, False, id="the median falls short"),
        pytest.param(None, None, id="nothing asked"),
    ],
)
def test_the_median_counts(at_least, reached):
    figures = [figure("gateway", 9.0, 5.0, 1.0), figure("bare", 10.0, 10.0, 10.0)]
    assert ratio_of(figures, "gateway", "bare", at_least).reached is reached


def test_sides_take_turns_in_the_other_order_each_round_and_warm_up_first():
    seen = []

    def side(name):
        @contextmanager
        def opened():
            seen.append(name)
            yield lambda given: seen.append(len(given)) or [each.reference for each in given]

        return Side(name, opened)

    measured = texts(3)
    work = Work("HTTP", texts(1), measured, [each.reference for each in measured])
    figures = figures_by_turns(work, [side("one"), side("two")], rounds=3)

    assert [each for each in seen if isinstance(each, str)] == [
        "one", "two", "two", "one", "one", "two",
    ]  # fmt: skip
    assert seen[:3] == ["one", 1, 3]
    assert [(each.side, len(each.spread.runs)) for each in figures] == [("one", 3), ("two", 3)]
