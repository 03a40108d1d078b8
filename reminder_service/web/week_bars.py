"""The week bars: one bar a day, parted by what became of a route's texts. Pure.

Only geometry is worked out here; a template turns the shapes into SVG. The parts are told apart by
filling, so that they read in black and white.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from reminder_service.records.route_views import Fate, Tries
from reminder_service.web.wording import counted, day_words

WIDTH, LANE, BAR = 340.0, 19.0, 13.0
"""Width of the drawing, height of one day's lane, and of the bar in it."""

DAYS_ROOM, COUNT_ROOM = 80.0, 56.0
"""Room for the names of the days, and for the counts (six digits)."""

NARROWEST = 2.0
"""Width of the smallest part, so that one failure among thousands is seen (setting)."""


class Look(StrEnum):
    """How a part of a bar is filled, in the order of the parts."""

    ARRIVED = "arrived"
    OPEN = "open"
    AGAIN = "again"
    DOUBT = "doubt"
    LOST = "lost"


LOOKS = {
    Look.ARRIVED: (Fate.DELIVERED,),
    Look.OPEN: (Fate.NO_WORD, Fate.UNDER_WAY),
    Look.AGAIN: (Fate.TRIED_AGAIN,),
    Look.DOUBT: (Fate.IN_DOUBT,),
    Look.LOST: (Fate.UNDELIVERED, Fate.REFUSED),
}
"""What is drawn alike."""

LOOK_WORDS = {
    Look.ARRIVED: "delivered",
    Look.OPEN: "no word yet",
    Look.AGAIN: "put off and tried again",
    Look.DOUBT: "in doubt",
    Look.LOST: "undelivered or refused",
}
"""What the legend says."""


@dataclass(frozen=True, slots=True)
class Part:
    """One part of a bar."""

    x: float
    width: float
    look: Look
    title: str


@dataclass(frozen=True, slots=True)
class DayBar:
    """One day's bar.

    Attributes
    ----------
    y, middle : its upper edge, and the line that its words stand on
    end : where the last part ends
    label : the day
    tried : how many texts it stands for
    """

    y: float
    middle: float
    end: float
    label: str
    tried: int
    parts: tuple[Part, ...]


@dataclass(frozen=True, slots=True)
class WeekBars:
    """All bars of one route.

    Attributes
    ----------
    width, height : of the drawing
    start : where every bar begins
    looks : those that occur, with their words, for the legend
    description : the same in words, for those who cannot see the drawing
    """

    width: float
    height: float
    start: float
    days: tuple[DayBar, ...]
    looks: tuple[tuple[Look, str], ...]
    description: str


def week_bars(days: Sequence[tuple[date, Tries]]) -> WeekBars | None:
    """Lay a route's days under each other, the longest bar across the drawing.

    Parameters
    ----------
    days : UTC days with their tries, the oldest first

    Returns
    -------
    the shapes; None if nothing was tried on any day
    """
    most = max((tries.tried for _, tries in days), default=0)
    if not most:
        return None
    room = WIDTH - DAYS_ROOM - COUNT_ROOM - NARROWEST * len(Look)
    bars = tuple(
        _day_bar(place, day, tries, room / most) for place, (day, tries) in enumerate(days)
    )
    found = {part.look for bar in bars for part in bar.parts}
    return WeekBars(
        WIDTH,
        LANE * len(bars) + 2,
        DAYS_ROOM,
        bars,
        tuple((look, LOOK_WORDS[look]) for look in Look if look in found),
        _description(days),
    )


def _day_bar(place: int, day: date, tries: Tries, scale: float) -> DayBar:
    y = LANE * place + (LANE - BAR) / 2
    parts = []
    end = DAYS_ROOM
    for look, count in looks_of(tries):
        width = round(max(count * scale, NARROWEST), 1)
        title = f"{day_words(day)}: {counted(count, 'text', 'texts')} {LOOK_WORDS[look]}"
        parts.append(Part(round(end, 1), width, look, title))
        end += width
    return DayBar(y, y + BAR - 2, round(end, 1), day_words(day), tries.tried, tuple(parts))


def looks_of(tries: Tries) -> Iterable[tuple[Look, int]]:
    """Parts that some tries are drawn with, and how many tries each stands for; no empty ones.

    Examples
    --------
    >>> from collections import Counter
    >>> [*looks_of(Tries(fates=Counter({Fate.REFUSED: 1, Fate.UNDELIVERED: 2})))]
    [(<Look.LOST: 'lost'>, 3)]
    """
    for look, fates in LOOKS.items():
        count = sum(tries.fates[fate] for fate in fates)
        if count:
            yield look, count


def _description(days: Sequence[tuple[date, Tries]]) -> str:
    said = []
    for day, tries in days:
        parts = ", ".join(f"{count} {LOOK_WORDS[look]}" for look, count in looks_of(tries))
        said.append(f"{day_words(day)}: {f'{tries.tried} tried, {parts}' if parts else 'none'}.")
    return " ".join(said)
