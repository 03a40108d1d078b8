"""The picture of a ward's rain: one bar a day, with the onset and its false starts. Pure geometry.

Everything is told apart by shape and filling, so that it reads in black and white.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from reminder_service.agronomy.onset import Onset
from reminder_service.agronomy.rain_book import DayRain, Flag, Gap
from reminder_service.web.strip import Label, packed_lanes
from reminder_service.web.wording import counted, day_words

WIDTH, ROOM, FOOT, LANE, LEFT = 960.0, 150.0, 22.0, 18.0, 30.0
"""Measures in units of the drawing; ``ROOM`` is the height of the tallest bar (setting)."""

LEAST_DAYS = 60
"""Days that share the width at least, so that a young season has no walls for bars (setting)."""

LEAST_TOP_MM = 30
"""Top of the scale at least, so that a drizzle is no tower (setting)."""

STEPS_MM = (10, 20, 50, 100, 200, 500)
"""Distances that the lines of the scale may have (setting)."""

MOST_LINES = 5
"""Lines of the scale at most (setting)."""

LETTER = 6.4
"""Width of one letter of a label (setting)."""


@dataclass(frozen=True, slots=True)
class RainBar:
    """One day's rain; ``look`` is rain, trace, apart (observers disagree) or unknown."""

    x: float
    y: float
    width: float
    height: float
    look: str
    title: str


@dataclass(frozen=True, slots=True)
class RainMark:
    """One upright mark: ``shape`` is onset, provisional, false-start, declared or disbelieved."""

    x: float
    y: float
    shape: str
    title: str
    label: Label | None


@dataclass(frozen=True, slots=True)
class RainBars:
    """All shapes of one ward's rain.

    Attributes
    ----------
    base : where the bars stand
    scale : the lines of the scale with their amounts
    months : name of each month at the first of it
    today_x : None if today lies outside
    description : the same in words
    """

    width: float
    height: float
    base: float
    scale: tuple[Label, ...]
    months: tuple[Label, ...]
    bars: tuple[RainBar, ...]
    marks: tuple[RainMark, ...]
    today_x: float | None
    description: str


def rain_bars(
    first: date,
    last: date,
    rain: Mapping[date, DayRain],
    unknown: Sequence[Gap],
    found: Onset,
    today: date,
    declared_on: date | None = None,
    disbelieved: Iterable[date] = (),
) -> RainBars:
    """Lay out the rain of some days.

    Parameters
    ----------
    first, last : local days of the season that are over
    rain : by local day
    unknown : runs of days of which nothing is known
    found : the onset and its false starts
    today : local day
    declared_on : first rain declared for the ward
    disbelieved : days on which only something impossible was observed

    Returns
    -------
    the shapes
    """
    days = max((max(last, today) - first).days + 1, LEAST_DAYS)
    slot = (WIDTH - LEFT) / days
    events = _events(found, declared_on, disbelieved)
    marks, lanes = _marks(events, first, slot)
    base = lanes * LANE + ROOM + 12
    top_mm = max([LEAST_TOP_MM, *(day.mm for day in rain.values())])
    bars = [_unknown(gap, first, slot, base) for gap in unknown]
    bars += [
        _bar(on, day, first, slot, base, top_mm)
        for on, day in rain.items()
        if day.mm > 0 or day.flags
    ]
    inside = first <= today <= first + timedelta(days=days - 1)
    return RainBars(
        WIDTH,
        base + FOOT,
        base,
        _scale(top_mm, base),
        _months(first, days, slot, base),
        tuple(bars),
        marks,
        _x(today, first, slot) if inside else None,
        _description(first, last, rain, unknown, events),
    )


def onset_words(found: Onset) -> str:
    """The onset and how sure it is, in a few words; empty if there is none.

    Parameters
    ----------
    found : the onset
    """
    return f"onset {day_words(found.on)}, {found.status.value}" if found.on else ""


@dataclass(frozen=True, slots=True)
class _Event:
    on: date
    shape: str
    words: str


def _events(found: Onset, declared_on: date | None, disbelieved: Iterable[date]) -> list[_Event]:
    events = [
        _Event(
            start.on,
            "false-start",
            f"false start {day_words(start.on)}, "
            f"then {counted(start.dry_days, 'dry day', 'dry days')}",
        )
        for start in found.false_starts
    ]
    if found.on is not None:
        shape = "onset" if found.status.value == "confirmed" else "provisional"
        events.append(_Event(found.on, shape, onset_words(found)))
    if declared_on is not None:
        events.append(_Event(declared_on, "declared", f"declared {day_words(declared_on)}"))
    events += [
        _Event(on, "disbelieved", f"amount not believed {day_words(on)}") for on in disbelieved
    ]
    return sorted(events, key=lambda event: (event.on, event.shape))


def _marks(events: Sequence[_Event], first: date, slot: float) -> tuple[tuple[RainMark, ...], int]:
    """Marks with their words in lanes above the bars, and how many lanes that takes."""
    places = []
    for event in events:
        x = _x(event.on, first, slot) + slot / 2
        room = len(event.words) * LETTER
        fits = x + 14 + room <= WIDTH
        places.append((x - 6, x + 14 + room) if fits else (max(x - 10 - room, 0.0), x + 6))
    lanes = packed_lanes(places, gap=8)
    marks = []
    for event, (left, right), lane in zip(events, places, lanes, strict=True):
        x = round(_x(event.on, first, slot) + slot / 2, 1)
        y = lane * LANE + LANE / 2 + 2
        to_right = right > x + 7
        label = Label(x + 14 if to_right else x - 10, y + 4, "start" if to_right else "end", "")
        words = Label(label.x, label.y, label.anchor, event.words)
        marks.append(RainMark(x, y, event.shape, event.words, words if left >= 0 else None))
    return tuple(marks), max(lanes, default=-1) + 1


def _bar(on: date, day: DayRain, first: date, slot: float, base: float, top_mm: float) -> RainBar:
    height = max(round(ROOM * day.mm / top_mm, 1), 2.0)
    look = "apart" if Flag.DISAGREES in day.flags else "rain" if day.mm > 0 else "trace"
    odd = {"apart": "; observers far apart", "trace": " measured, a trace seen"}.get(look, "")
    x = round(_x(on, first, slot) + slot * 0.1, 1)
    title = f"{day_words(on)}: {day.mm:g} mm{odd}"
    return RainBar(x, round(base - height, 1), round(slot * 0.8, 1), height, look, title)


def _unknown(gap: Gap, first: date, slot: float, base: float) -> RainBar:
    days = day_words(gap.first)
    if gap.days > 1:
        days = f"{days} to {day_words(gap.last)}"
    x = round(_x(gap.first, first, slot), 1)
    title = f"{days}: unknown"
    return RainBar(x, base - ROOM / 3, round(slot * gap.days, 1), ROOM / 3, "unknown", title)


def _scale(top_mm: float, base: float) -> tuple[Label, ...]:
    step = next((s for s in STEPS_MM if top_mm / s <= MOST_LINES), STEPS_MM[-1])
    marks = range(step, int(top_mm) + 1, step)
    return tuple(
        Label(LEFT - 4, round(base - ROOM * mm / top_mm, 1), "end", str(mm)) for mm in marks
    )


def _months(first: date, days: int, slot: float, base: float) -> tuple[Label, ...]:
    labels: list[Label] = []
    day = first.replace(day=1)
    while day <= first + timedelta(days=days - 1):
        if day >= first:
            text = f"{day:%b %Y}" if day.month == 1 or not labels else f"{day:%b}"
            labels.append(Label(round(_x(day, first, slot), 1), base + 15, "start", text))
        day = (day + timedelta(days=32)).replace(day=1)
    return tuple(labels)


def _x(day: date, first: date, slot: float) -> float:
    return round(LEFT + slot * (day - first).days, 1)


def _description(
    first: date,
    last: date,
    rain: Mapping[date, DayRain],
    unknown: Sequence[Gap],
    events: Sequence[_Event],
) -> str:
    wet = [day for day in rain.values() if day.mm > 0]
    total = sum(day.mm for day in wet)
    lacking = sum(gap.days for gap in unknown)
    said = [
        f"{day_words(first)} to {day_words(last)}: {total:.1f} mm on "
        f"{counted(len(wet), 'day', 'days')}",
        f"{counted(lacking, 'day is', 'days are')} unknown" if lacking else "no day is unknown",
        *(event.words for event in events),
    ]
    return f"{'. '.join(said)}."
