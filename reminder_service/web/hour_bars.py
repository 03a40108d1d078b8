"""The picture of a day's texts by hour against what the routes carry. Pure geometry."""

from collections.abc import Sequence
from dataclasses import dataclass

from reminder_service.records.today_views import HourLoad
from reminder_service.web.wording import counted

LEFT, SLOT, BAR, ROOM, HEAD, FOOT = 8.0, 40.0, 28.0, 90.0, 20.0, 22.0
"""Measures in units of the drawing (setting)."""

FARTHEST = 3
"""What the routes carry is drawn as a line up to so many times the fullest hour (setting)."""


@dataclass(frozen=True, slots=True)
class HourBar:
    """One hour: its gone part stands below, what is still to go above it."""

    x: float
    gone_y: float
    gone_height: float
    to_go_y: float
    to_go_height: float
    label: str
    title: str


@dataclass(frozen=True, slots=True)
class HourBars:
    """The whole drawing.

    Attributes
    ----------
    base : the line that the bars stand on
    hours : names of the hours, each with its place
    limit_y : height of the line of what the routes carry; None if it lies too high, or they carry
        without limit
    description : the same in words, for those who cannot see the drawing
    """

    width: float
    height: float
    base: float
    bars: tuple[HourBar, ...]
    hours: tuple[tuple[float, str], ...]
    limit_y: float | None
    description: str


def hour_bars(loads: Sequence[HourLoad], first_hour: int, carried: float | None) -> HourBars | None:
    """Lay the hours of a day beside each other.

    Parameters
    ----------
    loads : hour after hour
    first_hour : local hour of the first one
    carried : texts an hour that all routes carry together; None for no limit

    Returns
    -------
    the shapes; None if there is no text in any hour

    Examples
    --------
    >>> hour_bars([HourLoad(0, 0)], 8, None) is None
    True
    >>> hour_bars([HourLoad(30, 10), HourLoad(5, 0)], 8, 60).limit_y
    20.0
    """
    fullest = max((load.to_go + load.gone for load in loads), default=0)
    if not fullest:
        return None
    drawn = carried if carried is not None and carried <= FARTHEST * fullest else None
    scale = ROOM / max(fullest, drawn or 0)
    base = HEAD + ROOM
    bars = tuple(
        _bar(place, first_hour + place, load, scale, base)
        for place, load in enumerate(loads)
        if load.to_go + load.gone
    )
    return HourBars(
        width=2 * LEFT + SLOT * len(loads),
        height=base + FOOT,
        base=base,
        bars=bars,
        hours=tuple(
            (LEFT + SLOT * (place + 0.5), f"{first_hour + place:02}") for place in range(len(loads))
        ),
        limit_y=None if drawn is None else round(base - drawn * scale, 1),
        description=_description(loads, first_hour, carried),
    )


def _bar(place: int, hour: int, load: HourLoad, scale: float, base: float) -> HourBar:
    gone, to_go = round(load.gone * scale, 1), round(load.to_go * scale, 1)
    return HourBar(
        x=LEFT + SLOT * place + (SLOT - BAR) / 2,
        gone_y=base - gone,
        gone_height=gone,
        to_go_y=base - gone - to_go,
        to_go_height=to_go,
        label=str(load.gone + load.to_go),
        title=f"{hour:02}:00 to {hour + 1:02}:00: {load.gone} gone, {load.to_go} to go",
    )


def _description(loads: Sequence[HourLoad], first_hour: int, carried: float | None) -> str:
    said = [
        f"From {first_hour + place:02}:00: {counted(load.gone + load.to_go, 'text', 'texts')}"
        for place, load in enumerate(loads)
        if load.gone + load.to_go
    ]
    limit = "no limit" if carried is None else f"{carried:.0f} texts"
    return f"{'. '.join(said)}. The routes carry {limit} an hour."
