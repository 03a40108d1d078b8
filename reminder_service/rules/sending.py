"""When a text may leave on a given day: sending hours of a ward as instants."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from reminder_service.rules.plan import SendingHours
from reminder_service.rules.quiet_days import open_day_from

MINUTE = timedelta(minutes=1)
DAY_MINUTES = 1440

LOOK_AHEAD_DAYS = 3
"""A day without any sending hours, where a zone skips one, is stepped over up to this far."""

GOLDEN_STEP = 0x9E3779B97F4A7C15
"""The golden section of 2**64: its multiples fall evenly among each other, however many."""

STEPS = 2**64


@dataclass(frozen=True, slots=True)
class Slot:
    """One time to send at.

    Attributes
    ----------
    on : local day
    at : aware UTC instant
    """

    on: date
    at: datetime


@lru_cache(maxsize=8192)
def sending_span(hours: SendingHours, on: date) -> tuple[datetime, datetime]:
    """Instants from which and up to which texts may go out on one local day.

    Where the clocks change at one of the ends, the hours are cut short rather than stretched: a
    local time that comes twice, or not at all, counts as its later instant at the start and as
    its earlier one at the end.

    Parameters
    ----------
    hours : of the ward
    on : local day

    Returns
    -------
    aware UTC instants; the end is not after the start if the day has no sending hours

    References
    ----------
    PEP 495 (the two readings of a local time).

    Examples
    --------
    >>> span = sending_span(SendingHours("Africa/Lusaka", 480, 1080), date(2026, 12, 5))
    >>> [at.isoformat() for at in span]
    ['2026-12-05T06:00:00+00:00', '2026-12-05T16:00:00+00:00']
    """
    return (
        max(_readings(hours.zone, on, hours.opens_minute)),
        min(_readings(hours.zone, on, hours.closes_minute)),
    )


def local_day(at: datetime, hours: SendingHours) -> date:
    """Local day of an instant in the ward.

    Parameters
    ----------
    at : aware instant
    hours : of the ward

    Returns
    -------
    the local day
    """
    return at.astimezone(_zone(hours.zone)).date()


def phone_spread(place: int, hours: SendingHours) -> int:
    """Which minute of the hours is a phone's own, for `slot`.

    Phones that were entered one after the other, as those of a ward mostly are, lie evenly over
    the hours, without the heaps that chance makes.

    Parameters
    ----------
    place : number of the phone's row, 0 or more
    hours : of the ward

    Returns
    -------
    minutes after the opening

    References
    ----------
    Arithmetic: the three-distance theorem on multiples of the golden section.

    Examples
    --------
    >>> hours = SendingHours("Africa/Lusaka", 480, 1080)
    >>> [phone_spread(place, hours) for place in range(5)]
    [0, 370, 141, 512, 283]
    """
    width = hours.closes_minute - hours.opens_minute
    return place * GOLDEN_STEP % STEPS * width // STEPS


def slot(hours: SendingHours, spread: int, on: date, now: datetime, last: date) -> Slot | None:
    """First time to send, from a day on.

    Each phone has its own minute of the hours, so that a ward's texts do not leave at once. If
    that minute is past but the hours are not, the text leaves now, or as much later as the phone
    stands among those of a ward that the routes must carry first; after the hours, the next day.
    Quiet days are stepped over.

    Parameters
    ----------
    hours : of the ward
    spread : number of the phone, 0 or more; the same number has the same minute
    on : first local day; a day before today means today
    now : aware UTC instant
    last : last local day that will do

    Returns
    -------
    a time within the hours, not before ``now``; None if there is none until ``last``

    References
    ----------
    Arithmetic.
    """
    day = max(on, local_day(now, hours))
    for _ in range(LOOK_AHEAD_DAYS):
        allowed = open_day_from(hours.quiet, day, last)
        if allowed is None:
            return None
        at = _time_on(hours, spread, allowed, now)
        if at is not None:
            return Slot(allowed, at)
        day = allowed + timedelta(days=1)
    return None


def _time_on(hours: SendingHours, spread: int, on: date, now: datetime) -> datetime | None:
    start, end = sending_span(hours, on)
    if start >= end:
        return None
    minute = hours.opens_minute + spread % (hours.closes_minute - hours.opens_minute)
    at = min(max(_minute_of(hours.zone, on, minute), start), end - MINUTE)
    if at < now:
        at = _late(_minute_up(now), at - start, (start, end), hours.late_minutes)
    return at if start <= at < end else None


def _late(
    at: datetime, into: timedelta, span: tuple[datetime, datetime], late_minutes: int
) -> datetime:
    """Minute for a phone whose own one is past: the earlier that was, the sooner it goes now."""
    start, end = span
    wait = min(timedelta(minutes=late_minutes), end - at)
    if wait <= timedelta(0):
        return at
    return at + wait * (into / (at - start)) // MINUTE * MINUTE


@lru_cache(maxsize=65536)
def _minute_of(zone: str, on: date, minute: int) -> datetime:
    return _readings(zone, on, minute)[0]


def _minute_up(at: datetime) -> datetime:
    floor = at.replace(second=0, microsecond=0)
    return floor if floor == at else floor + MINUTE


def _readings(zone: str, on: date, minute: int) -> tuple[datetime, datetime]:
    """Both instants that a local time may stand for; the same one twice on most days."""
    day = on + timedelta(days=minute // DAY_MINUTES)
    minute %= DAY_MINUTES
    local = datetime.combine(day, time(minute // 60, minute % 60), _zone(zone))
    return local.astimezone(UTC), local.replace(fold=1).astimezone(UTC)


@lru_cache(maxsize=256)
def _zone(name: str) -> ZoneInfo:
    return ZoneInfo(name)
