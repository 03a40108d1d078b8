"""The picture of tasks done in time: one bar a task or ward. Pure geometry."""

from collections.abc import Sequence
from dataclasses import dataclass

from reminder_service.records.season_figures import Timeliness

NAMES, WIDTH, LANE, BAR = 215.0, 360.0, 26.0, 15.0
"""Room for name and rate, for the whole bar, for a row, and the bar's height."""


@dataclass(frozen=True, slots=True)
class Piece:
    """One part of a bar, and how it is filled."""

    x: float
    width: float
    look: str


@dataclass(frozen=True, slots=True)
class OnTimeBar:
    """One row.

    Attributes
    ----------
    y, middle : upper edge of the bar, and the line that words stand on
    before_x : where the rate of the season before stands; None if it is not known
    said : the rate in words
    title : everything in words
    """

    name: str
    y: float
    middle: float
    pieces: tuple[Piece, ...]
    before_x: float | None
    said: str
    title: str


@dataclass(frozen=True, slots=True)
class OnTimeBars:
    """The whole drawing; ``start`` is where every bar begins; the rate stands before it."""

    width: float
    height: float
    start: float
    bars: tuple[OnTimeBar, ...]
    description: str


def on_time_bars(
    rows: Sequence[tuple[str, Timeliness, Timeliness | None]],
) -> OnTimeBars | None:
    """Lay some rows under each other: in time, late, missed, each by its share.

    Parameters
    ----------
    rows : name, counts of the season, counts of the season before; rows of which nothing is over
        are left out

    Returns
    -------
    the shapes; None if nothing is over in any row
    """
    over = [row for row in rows if row[1].over]
    if not over:
        return None
    bars = tuple(_bar(place, *row) for place, row in enumerate(over))
    return OnTimeBars(
        NAMES + WIDTH + 8,
        LANE * len(bars) + 4,
        NAMES,
        bars,
        ". ".join(bar.title for bar in bars) + ".",
    )


def percent(rate: float | None) -> str:
    """Share as a whole percentage; a dash if it is not known. Never 100 % or 0 % by rounding.

    Examples
    --------
    >>> percent(0.666), percent(0.999), percent(0.001), percent(1.0)
    ('67 %', '99 %', '1 %', '100 %')
    """
    if rate is None:
        return "\N{EN DASH}"
    if 0 < rate < 1:
        return f"{min(max(round(100 * rate), 1), 99)} %"
    return f"{round(100 * rate)} %"


def _bar(place: int, name: str, counts: Timeliness, before: Timeliness | None) -> OnTimeBar:
    y = LANE * place + (LANE - BAR) / 2
    parts = ((counts.in_time, "reported"), (counts.late, "done"), (counts.missed, "missed"))
    pieces, x = [], NAMES
    for count, look in parts:
        width = WIDTH * count / counts.over
        if count:
            pieces.append(Piece(round(x, 1), round(width, 1), look))
        x += width
    rate = before.rate if before is not None else None
    compared = "" if rate is None else f", the season before {percent(rate)}"
    return OnTimeBar(
        name=name,
        y=y,
        middle=y + BAR - 3,
        pieces=tuple(pieces),
        before_x=None if rate is None else round(NAMES + WIDTH * rate, 1),
        said=percent(counts.rate),
        title=(
            f"{name}: {percent(counts.rate)} in time ({counts.in_time} of {counts.over}), "
            f"{counts.late} done late, {counts.missed} missed{compared}"
        ),
    )
