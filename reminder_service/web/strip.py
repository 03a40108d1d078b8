"""The season strip: one plot's reports, task windows and notices along one line of time. Pure.

Only geometry is worked out here; a template turns the shapes into SVG. Everything is told apart
by shape, dash and filling, so that it reads in black and white.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from reminder_service.kinds import Basis, Kind, NoticeState
from reminder_service.rules.plan import Task
from reminder_service.web.wording import day_words, kind_words, state_words


class Look(StrEnum):
    """How a task's window is drawn."""

    REPORTED = "reported"
    ESTIMATED = "estimated"
    DONE = "done"
    MISSED = "missed"


@dataclass(frozen=True, slots=True)
class Frame:
    """Measures of one strip, in units of the drawing.

    Attributes
    ----------
    width : of the whole drawing
    lane, bar : height of one lane, and of the bar in it
    head : height of the line with the months' names
    letter : width of one letter of a label; 0 draws no words at all
    """

    width: float
    lane: float
    bar: float
    head: float
    letter: float


WIDE = Frame(width=960, lane=26, bar=12, head=22, letter=6.4)
"""For a plot's own page."""

SMALL = Frame(width=320, lane=7, bar=5, head=3, letter=0)
"""For many strips under each other."""

REST_DAYS = 30
"""Days without a window after which a last, lone window may be left out (setting)."""

LARGEST_SHARE = 0.25
"""Share of the line of time above which such a window is left out (setting)."""

EDGE_DAYS = 4
"""Empty days kept at both ends, so that no mark is cut (setting)."""


@dataclass(frozen=True, slots=True)
class Label:
    """Words in the drawing; ``anchor`` is SVG's: start, middle or end."""

    x: float
    y: float
    anchor: str
    text: str


@dataclass(frozen=True, slots=True)
class Bar:
    """One task's window: its opening to its close, with the due day marked."""

    x: float
    y: float
    width: float
    height: float
    due_x: float
    look: Look
    title: str
    label: Label | None


@dataclass(frozen=True, slots=True)
class Mark:
    """One small shape: a report (``shape`` is its kind) or a notice (its state)."""

    x: float
    y: float
    shape: str
    title: str
    label: Label | None


@dataclass(frozen=True, slots=True)
class Strip:
    """All shapes of one season strip.

    Attributes
    ----------
    months : name of each month at the first of it
    today_x : None if today lies outside
    later : windows that open long after all others, in words, as they are not drawn
    description : the same in words, for those who cannot see the drawing
    """

    width: float
    height: float
    months: tuple[Label, ...]
    facts: tuple[Mark, ...]
    bars: tuple[Bar, ...]
    notices: tuple[Mark, ...]
    today_x: float | None
    later: tuple[str, ...]
    description: str


def packed_lanes(extents: Iterable[tuple[float, float]], gap: float) -> list[int]:
    """Lane of each extent so that none overlap within a lane: the first lane with room.

    Parameters
    ----------
    extents : left and right end of each, in the order they are to be laid
    gap : room kept between two in one lane

    Returns
    -------
    lane numbers from 0, in the order given

    Examples
    --------
    >>> packed_lanes([(0, 10), (5, 8), (12, 20)], gap=1)
    [0, 1, 0]
    """
    ends: list[float] = []
    lanes = []
    for left, right in extents:
        lane = next((i for i, end in enumerate(ends) if end + gap <= left), len(ends))
        if lane == len(ends):
            ends.append(right)
        else:
            ends[lane] = right
        lanes.append(lane)
    return lanes


def season_span(
    tasks: Iterable[Task], facts: Iterable[tuple[Kind, date]], today: date
) -> tuple[date, date]:
    """First and last local day that a strip must show; today alone if there is nothing.

    A lone last window long after the others (next season's rotation) would squeeze the season
    itself into a corner, so the strip then ends before it.

    Examples
    --------
    >>> season_span([], [(Kind.FIRST_RAIN, date(2026, 11, 12))], date(2026, 12, 1))
    (datetime.date(2026, 11, 8), datetime.date(2026, 11, 16))
    """
    days = [on for _, on in facts]
    ordered = sorted(tasks, key=lambda task: task.closes)
    days += [day for task in ordered[:-1] for day in (task.opens, task.closes)]
    for last in ordered[-1:]:
        if not days or not _stands_alone(last, min(days), max(days)):
            days += [last.opens, last.closes]
    edge = timedelta(days=EDGE_DAYS)
    return min(days, default=today) - edge, max(days, default=today) + edge


def _stands_alone(task: Task, first: date, end: date) -> bool:
    """Whether a window comes after a rest and would take too much of the line by itself."""
    share = (task.closes - end) / (task.closes - first) if task.closes > first else 0.0
    return (task.opens - end).days > REST_DAYS and share > LARGEST_SHARE


def task_look(task: Task, today: date) -> Look:
    """How a task's window is drawn on a local day."""
    if task.done_on is not None:
        return Look.DONE
    if task.closes < today and not task.waits:
        return Look.MISSED
    return Look.ESTIMATED if task.basis is Basis.ESTIMATED else Look.REPORTED


def season_strip(
    tasks: Sequence[Task],
    facts: Sequence[tuple[Kind, date]],
    notices: Sequence[tuple[NoticeState, date]],
    today: date,
    words: Callable[[str, int], str],
    frame: Frame = WIDE,
    span: tuple[date, date] | None = None,
) -> Strip:
    """Lay one season out along one line of time.

    Parameters
    ----------
    tasks : the season's tasks
    facts : what was reported, with its local day
    notices : state and local day of each notice
    today : local day
    words : what a task's name and number are called on the page
    frame : measures
    span : first and last local day to show; what the season needs if None

    Returns
    -------
    the shapes, months on top, then reports, windows and notices
    """
    first, last = span or season_span(tasks, facts, today)
    axis = _Axis(first, last, frame.width)
    fact_marks, y = _fact_marks(facts, axis, frame)
    drawn = [task for task in tasks if task.opens <= last]
    bars, y = _bars(drawn, axis, frame, today, words, y)
    notice_marks, y = _notice_marks(notices, axis, frame, y)
    return Strip(
        frame.width,
        y + 2,
        _months(axis, frame),
        fact_marks,
        bars,
        notice_marks,
        axis.x(today) if first <= today <= last else None,
        tuple(
            f"{words(task.name, task.number)} {_window_words(task, today)}"
            for task in tasks
            if task.opens > last
        ),
        _description(tasks, facts, today, words),
    )


@dataclass(frozen=True, slots=True)
class _Axis:
    first: date
    last: date
    width: float

    def x(self, day: date) -> float:
        """Place of a day's beginning, kept inside the drawing."""
        days = (self.last - self.first).days or 1
        place = self.width * (day - self.first).days / days
        return round(min(max(place, 0.0), self.width), 1)


def _months(axis: _Axis, frame: Frame) -> tuple[Label, ...]:
    labels = []
    day = axis.first.replace(day=1)
    while day <= axis.last:
        if day >= axis.first:
            text = f"{day:%b %Y}" if day.month == 1 else f"{day:%b}"
            labels.append(Label(axis.x(day), frame.head - 8, "start", text))
        day = (day + timedelta(days=32)).replace(day=1)
    return tuple(labels)


def _fact_marks(
    facts: Sequence[tuple[Kind, date]], axis: _Axis, frame: Frame
) -> tuple[tuple[Mark, ...], float]:
    ordered = sorted(facts, key=lambda fact: fact[1])
    texts = [f"{kind_words(kind)} {on.day} {on:%b}" for kind, on in ordered]
    places = [
        _beside(axis.x(on) - frame.bar / 2, axis.x(on) + frame.bar / 2, text, frame)
        for (_, on), text in zip(ordered, texts, strict=True)
    ]
    lanes = packed_lanes([(left, right) for left, right, _, _ in places], gap=8)
    marks = []
    for (kind, on), text, place, lane in zip(ordered, texts, places, lanes, strict=True):
        y = frame.head + (lane + 0.5) * frame.lane
        label = Label(place[2], y + 4, place[3], text) if frame.letter else None
        title = f"{kind_words(kind)} reported for {day_words(on)}"
        marks.append(Mark(axis.x(on), y, kind.value, title, label))
    return tuple(marks), frame.head + (max(lanes, default=-1) + 1) * frame.lane


def _bars(
    tasks: Sequence[Task],
    axis: _Axis,
    frame: Frame,
    today: date,
    words: Callable[[str, int], str],
    top: float,
) -> tuple[tuple[Bar, ...], float]:
    ordered = sorted(tasks, key=lambda task: (task.opens, task.closes, task.name, task.number))
    # A window ends with its last day, so the bar reaches to the day after.
    ends = [(axis.x(t.opens), axis.x(t.closes + timedelta(days=1))) for t in ordered]
    texts = [words(task.name, task.number) for task in ordered]
    places = [_beside(*end, text, frame) for end, text in zip(ends, texts, strict=True)]
    lanes = packed_lanes([(left, right) for left, right, _, _ in places], gap=8)
    bars = []
    for task, (x, end), text, place, lane in zip(ordered, ends, texts, places, lanes, strict=True):
        middle = top + (lane + 0.5) * frame.lane
        bars.append(
            Bar(
                x,
                middle - frame.bar / 2,
                round(max(end - x, 2.0), 1),
                frame.bar,
                axis.x(task.due),
                task_look(task, today),
                f"{text}: {_window_words(task, today)}",
                Label(place[2], middle + 4, place[3], text) if frame.letter else None,
            )
        )
    return tuple(bars), top + (max(lanes, default=-1) + 1) * frame.lane


def _beside(x: float, end: float, text: str, frame: Frame) -> tuple[float, float, float, str]:
    """Extent of a shape with its words, where the words stand, and their anchor."""
    room = len(text) * frame.letter
    if end + 5 + room <= frame.width or not frame.letter:
        return x, end + room + (5 if frame.letter else 0), end + 5, "start"
    stands = max(x - 5, room)  # no room on either side: the words begin at the edge
    return min(x, stands) - room, end, stands, "end"


def _notice_marks(
    notices: Sequence[tuple[NoticeState, date]], axis: _Axis, frame: Frame, top: float
) -> tuple[tuple[Mark, ...], float]:
    ordered = sorted(notices, key=lambda notice: (notice[1], notice[0].value))
    size = frame.bar
    lanes = packed_lanes([(axis.x(on), axis.x(on) + size) for _, on in ordered], gap=0)
    marks = tuple(
        Mark(
            axis.x(on),
            top + (lane + 0.5) * (size + 2) + 4,
            state.value.replace(" ", "-"),
            f"text {state_words(state)}, {day_words(on)}",
            None,
        )
        for (state, on), lane in zip(ordered, lanes, strict=True)
    )
    used = (max(lanes, default=-1) + 1) * (size + 2)
    return marks, top + (used + 6 if used else 0)


def _window_words(task: Task, today: date) -> str:
    days = (
        f"opens {day_words(task.opens)}, due {day_words(task.due)}, closes {day_words(task.closes)}"
    )
    if task.done_on is not None:
        return f"{days}; done {day_words(task.done_on)}"
    if task.waits:
        return f"{days}; waits for replanting"
    if task.closes < today:
        return f"{days}; not reported done"
    return f"{days}; estimated" if task.basis is Basis.ESTIMATED else days


def _description(
    tasks: Sequence[Task],
    facts: Sequence[tuple[Kind, date]],
    today: date,
    words: Callable[[str, int], str],
) -> str:
    said = [f"{kind_words(kind)} {day_words(on)}" for kind, on in sorted(facts, key=lambda f: f[1])]
    windows = [
        f"{words(task.name, task.number)} {_window_words(task, today)}"
        for task in sorted(tasks, key=lambda task: (task.opens, task.name, task.number))
    ]
    reported = f"Reported: {', '.join(said)}." if said else "Nothing reported yet."
    planned = f" Tasks: {'. '.join(windows)}." if windows else " No task has a date yet."
    return f"{reported}{planned}"
