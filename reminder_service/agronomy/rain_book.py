"""One amount of rain a day for a ward and a plot, from all that was observed there.

The rule: of one observer's amounts for one place and day the last counts, and the same one said
again counts once. An amount that cannot be is left out: a negative one and one above 2,000 mm
always, one above 400 mm until another observer of the ward has seen at least half as much on that
day. A ward's rain is the median of its gauge keepers; where none has read, of its farmers; else of
files; else of sources. An observer with several plots counts with the median of those. A plot's
rain is the median of what was observed on it, by the same precedence; where nothing was, it is the
ward's. A day on which nobody observed anything is unknown, never rainless.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from math import isfinite
from statistics import median
from typing import Final

from reminder_service.agronomy.rain_days import DAY_MM_RANGE

MOST_UNSECONDED_MM: Final = 400.0  # setting: a day's rain above it needs a second observer
SECONDING_SHARE: Final = 0.5  # setting: of the amount that is to be believed
TRACE_MM: Final = 0.1  # from memory: gauges are read to a tenth of a millimetre, less is a trace
APART_MM: Final = 10.0  # setting: amounts less apart do not disagree, rain falls in patches
APART_SHARE: Final = 0.5  # setting: of the larger amount


class Observer(StrEnum):
    """Who observed, in the order in which they are believed for a ward."""

    KEEPER = "keeper"
    FARMER = "farmer"
    FILE = "file"
    SOURCE = "source"


class Flag(StrEnum):
    """What is odd about an observation or a day."""

    DUPLICATE = "duplicate"
    REPLACED = "replaced"
    IMPOSSIBLE = "impossible"
    DISAGREES = "disagrees"
    TRACE = "trace"


@dataclass(frozen=True, slots=True)
class Observation:
    """One amount of rain as it came.

    Attributes
    ----------
    ref : number of the observation, unique and growing with time
    plot : id of the plot; None for the ward's own gauge
    on : local day
    mm : as observed, in mm; perhaps impossible
    trace : too little to measure was seen
    observer : what kind of observer
    by : who of that kind
    kept_at : aware UTC instant at which it came
    """

    ref: int
    plot: int | None
    on: date
    mm: float
    observer: Observer
    by: str
    kept_at: datetime
    trace: bool = False


@dataclass(frozen=True, slots=True)
class DayRain:
    """Rain of one day at one place.

    Attributes
    ----------
    mm : the amount that counts, 0 or more
    observer : whose amount it is
    counted : refs of the observations that it is the median of
    flags : ``TRACE`` for rain too little to measure, ``DISAGREES`` for observers far apart
    """

    mm: float
    observer: Observer
    counted: tuple[int, ...]
    flags: frozenset[Flag]


@dataclass(frozen=True, slots=True)
class Gap:
    """Days in a row of which nothing is known; both ends belong to it."""

    first: date
    last: date

    @property
    def days(self) -> int:
        """How many days."""
        return (self.last - self.first).days + 1


def observation_flags(observations: Iterable[Observation]) -> dict[int, frozenset[Flag]]:
    """What is odd about each observation of one ward.

    Parameters
    ----------
    observations : all of the ward, in any order

    Returns
    -------
    by ref, for those with any flag: a duplicate, one that the same observer replaced, an amount
    that cannot be, a trace

    References
    ----------
    [setting] 400 mm a day, seconded by at least half as much; [memory] a trace is under 0.1 mm.

    Examples
    --------
    >>> from datetime import UTC
    >>> at = datetime(2026, 11, 12, 6, tzinfo=UTC)
    >>> seen = Observation(7, None, date(2026, 11, 12), -3.0, Observer.KEEPER, "phone 1", at)
    >>> [flag.value for flag in observation_flags([seen])[7]]
    ['impossible']
    """
    kept = list(observations)
    found: dict[int, set[Flag]] = {}
    for series in _series(kept).values():
        last = series[-1]
        for each in series[:-1]:
            same = (each.mm, each.trace) == (last.mm, last.trace)
            found.setdefault(each.ref, set()).add(Flag.DUPLICATE if same else Flag.REPLACED)
    standing = _standing(kept)
    for each in kept:
        if not _is_possible(each, standing):
            found.setdefault(each.ref, set()).add(Flag.IMPOSSIBLE)
        elif _is_trace(each):
            found.setdefault(each.ref, set()).add(Flag.TRACE)
    return {ref: frozenset(flags) for ref, flags in found.items()}


def ward_rain(observations: Iterable[Observation]) -> dict[date, DayRain]:
    """Rain of a ward by day; days that nobody observed are left out.

    Parameters
    ----------
    observations : all of the ward and its plots, in any order

    Returns
    -------
    by local day, in order

    References
    ----------
    [setting] The precedence of observers, and the median within one kind.

    Examples
    --------
    >>> from datetime import UTC
    >>> at = datetime(2026, 11, 12, 6, tzinfo=UTC)
    >>> day = date(2026, 11, 12)
    >>> seen = [Observation(n, n, day, mm, Observer.FARMER, f"phone {n}", at)
    ...         for n, mm in enumerate((18.0, 23.0, 24.0))]
    >>> ward_rain(seen)[day].mm
    23.0
    """
    return _resolved(_possible(observations))


def plot_rain(observations: Iterable[Observation], plot: int) -> dict[date, DayRain]:
    """Rain of one plot by day: its own, and the ward's where nothing was observed on it.

    Parameters
    ----------
    observations : all of the ward and its plots, in any order
    plot : id of the plot

    Returns
    -------
    by local day, in order; days that nobody observed are left out

    References
    ----------
    [setting] A plot's own rain goes before the ward's.

    Examples
    --------
    >>> from datetime import UTC
    >>> at, day = datetime(2026, 11, 12, 6, tzinfo=UTC), date(2026, 11, 12)
    >>> seen = [Observation(1, None, day, 30.0, Observer.KEEPER, "phone 1", at),
    ...         Observation(2, 5, day, 12.0, Observer.FARMER, "phone 2", at)]
    >>> plot_rain(seen, 5)[day].mm, plot_rain(seen, 6)[day].mm
    (12.0, 30.0)
    """
    possible = _possible(observations)
    own = _resolved([each for each in possible if each.plot == plot])
    return dict(sorted((_resolved(possible) | own).items()))


def amounts(rain: Mapping[date, DayRain]) -> dict[date, float]:
    """A daily series as the onset rules take it: mm by local day, unknown days left out.

    References
    ----------
    Arithmetic.

    Examples
    --------
    >>> amounts({date(2026, 11, 12): DayRain(3.0, Observer.FILE, (1,), frozenset())})
    {datetime.date(2026, 11, 12): 3.0}
    """
    return {on: day.mm for on, day in rain.items()}


def gaps(known: Collection[date], first: date, last: date) -> list[Gap]:
    """Runs of days of which nothing is known.

    Parameters
    ----------
    known : local days with an amount
    first, last : local days to look at, both included

    Returns
    -------
    in order; empty if every day is known

    References
    ----------
    Arithmetic.

    Examples
    --------
    >>> found = gaps({date(2026, 11, 2)}, date(2026, 11, 1), date(2026, 11, 4))
    >>> [gap.days for gap in found]
    [1, 2]
    """
    found: list[Gap] = []
    day = first
    while day <= last:
        if day not in known:
            before = found.pop() if found and found[-1].last + timedelta(days=1) == day else None
            found.append(Gap(before.first if before else day, day))
        day += timedelta(days=1)
    return found


def borne_out(rain: Mapping[date, float], on: date, wet_mm: float, within_days: int) -> bool | None:
    """Whether the rain book knows rain enough for a first rain reported for a day.

    A farmer may name any day of the spell, so every run of ``within_days`` days that holds the day
    is looked at.

    Parameters
    ----------
    rain : mm by local day; unknown days left out
    on : reported local day
    wet_mm : rain that makes a first rain, mm, above 0
    within_days : days within which it falls, 1 or more

    Returns
    -------
    None if too little is known of those days to deny it

    References
    ----------
    Arithmetic. The amounts come from the criterion of onset that the caller uses.

    Examples
    --------
    >>> dry = {date(2026, 11, day): 0.0 for day in range(8, 16)}
    >>> borne_out(dry, date(2026, 11, 12), 20, 3)
    False
    >>> borne_out(dry | {date(2026, 11, 13): 24.0}, date(2026, 11, 12), 20, 3)
    True
    """
    around = [on + timedelta(days=step) for step in range(1 - within_days, within_days)]
    for start in range(within_days):
        run = around[start : start + within_days]
        if sum(rain.get(day, 0.0) for day in run) >= wet_mm:
            return True
    return False if all(day in rain for day in around) else None


_Place = tuple[Observer, str, int | None, date]


def _series(observations: Iterable[Observation]) -> dict[_Place, list[Observation]]:
    """What each observer said of one place and day, oldest first."""
    found: dict[_Place, list[Observation]] = {}
    for each in sorted(observations, key=lambda each: (each.kept_at, each.ref)):
        found.setdefault((each.observer, each.by, each.plot, each.on), []).append(each)
    return found


def _standing(observations: Iterable[Observation]) -> dict[date, list[Observation]]:
    """The last word of each observer on each place, by day."""
    found: dict[date, list[Observation]] = {}
    for series in _series(observations).values():
        found.setdefault(series[-1].on, []).append(series[-1])
    return found


def _possible(observations: Iterable[Observation]) -> list[Observation]:
    standing = _standing(observations)
    return [each for day in standing.values() for each in day if _is_possible(each, standing)]


def _is_possible(seen: Observation, standing: Mapping[date, list[Observation]]) -> bool:
    if not (isfinite(seen.mm) and DAY_MM_RANGE[0] <= seen.mm <= DAY_MM_RANGE[1]):
        return False
    if seen.mm <= MOST_UNSECONDED_MM:
        return True
    others = (
        o for o in standing.get(seen.on, ()) if (o.observer, o.by) != (seen.observer, seen.by)
    )
    return any(isfinite(o.mm) and o.mm >= SECONDING_SHARE * seen.mm for o in others)


def _is_trace(seen: Observation) -> bool:
    return seen.trace or 0 < seen.mm < TRACE_MM


def _measured(seen: Observation) -> float:
    return 0.0 if _is_trace(seen) else seen.mm


def _resolved(possible: Iterable[Observation]) -> dict[date, DayRain]:
    by_day: dict[date, list[Observation]] = {}
    for each in possible:
        by_day.setdefault(each.on, []).append(each)
    return {on: _day(seen) for on, seen in sorted(by_day.items())}


def _day(seen: list[Observation]) -> DayRain:
    observer = next(kind for kind in Observer if any(each.observer is kind for each in seen))
    counted = [each for each in seen if each.observer is observer]
    mm = median(_each_observer(counted))
    everyone = [value for kind in Observer for value in _each_observer(_of(seen, kind))]
    flags = {Flag.DISAGREES} if _are_apart(everyone) else set()
    if mm == 0 and any(_is_trace(each) for each in counted):
        flags.add(Flag.TRACE)
    return DayRain(mm, observer, tuple(sorted(each.ref for each in counted)), frozenset(flags))


def _of(seen: Iterable[Observation], observer: Observer) -> list[Observation]:
    return [each for each in seen if each.observer is observer]


def _each_observer(seen: Iterable[Observation]) -> list[float]:
    """One amount an observer of one kind: the median of their places."""
    values: dict[str, list[float]] = {}
    for each in seen:
        values.setdefault(each.by, []).append(_measured(each))
    return [median(own) for own in values.values()]


def _are_apart(values: Collection[float]) -> bool:
    low, high = min(values), max(values)
    return high - low > APART_MM and high - low > APART_SHARE * high
