"""The picture of inputs by week: one row of bars for each kind of input. Pure geometry."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from reminder_service.rules.inputs import WeekInputs

WIDTH, ROW, HEAD, LEFT = 640.0, 74.0, 22.0, 4.0
"""Measures in units of the drawing (setting)."""

MOST_SLOTS = 12
"""Weeks that share the width at least, so that a lone week is no wall (setting)."""

SPARE_X = 0.25
"""Share of a week's room left free beside its bar (setting)."""


@dataclass(frozen=True, slots=True)
class WeekBar:
    """One bar; ``label`` is its amount, in words it is ``title``."""

    x: float
    y: float
    width: float
    height: float
    label: str
    title: str


@dataclass(frozen=True, slots=True)
class BarRow:
    """One kind of input: its name with the unit, its base line and its bars."""

    name: str
    base: float
    head: float
    bars: tuple[WeekBar, ...]


@dataclass(frozen=True, slots=True)
class InputBars:
    """The whole drawing; ``weeks`` are the labels under it with their place."""

    width: float
    height: float
    rows: tuple[BarRow, ...]
    weeks: tuple[tuple[float, str], ...]
    description: str


def input_bars(weeks: Sequence[WeekInputs]) -> InputBars:
    """Lay out the bars of some weeks; a kind that no week needs is left out.

    Parameters
    ----------
    weeks : one after the other, without gaps

    Returns
    -------
    the shapes; without any row if nothing is needed
    """
    slot = (WIDTH - 2 * LEFT) / max(len(weeks), MOST_SLOTS)
    kinds = {
        "Fertiliser, kg": [sum(week.fertiliser_kg.values()) for week in weeks],
        "Manure, kg": [float(week.manure_kg) for week in weeks],
        "Manure tea, litres": [week.tea_l for week in weeks],
        "Labour, days": [week.labour_days for week in weeks],
    }
    needed = {name: amounts for name, amounts in kinds.items() if any(amounts)}
    rows = tuple(
        _row(name, amounts, weeks, index, slot)
        for index, (name, amounts) in enumerate(needed.items())
    )
    marks = tuple(
        (round(LEFT + (index + 0.5) * slot, 1), str(week.monday.isocalendar().week))
        for index, week in enumerate(weeks)
    )
    height = len(rows) * ROW + HEAD
    return InputBars(WIDTH, height, rows, marks, _description(needed, weeks))


def _row(
    name: str, amounts: Sequence[float], weeks: Sequence[WeekInputs], index: int, slot: float
) -> BarRow:
    base = (index + 1) * ROW
    room = ROW - 2 * HEAD
    tallest = max(amounts)
    bars = []
    for place, (amount, week) in enumerate(zip(amounts, weeks, strict=True)):
        if not amount:
            continue
        height = max(round(room * amount / tallest, 1), 1.0)
        x = round(LEFT + (place + SPARE_X / 2) * slot, 1)
        said = short_amount(amount)
        title = f"{name.partition(',')[0]}, {week.label}: {said}{name.partition(',')[2]}"
        bars.append(WeekBar(x, base - height, round(slot * (1 - SPARE_X), 1), height, said, title))
    return BarRow(name, base, base - room - HEAD + 4, tuple(bars))


def short_amount(amount: float) -> str:
    """Amount rounded up to a whole number; from a thousand on in thousands, also rounded up.

    Examples
    --------
    >>> short_amount(25.2), short_amount(5550), short_amount(123_400)
    ('26', '5.6k', '124k')
    """
    whole = ceil(round(amount, 6))
    if whole < 1000:
        return str(whole)
    return f"{ceil(whole / 100) / 10:.1f}k" if whole < 100_000 else f"{ceil(whole / 1000)}k"


def _description(needed: dict[str, list[float]], weeks: Sequence[WeekInputs]) -> str:
    said = []
    for name, amounts in needed.items():
        most = max(range(len(weeks)), key=amounts.__getitem__)
        total = short_amount(sum(amounts))
        said.append(f"{name}: {total} in all, most in week {weeks[most].label}")
    return f"{'. '.join(said)}." if said else "Nothing is needed."
