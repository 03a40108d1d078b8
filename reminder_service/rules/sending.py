"""When a text may leave on a given day: sending hours of a ward as instants."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from reminder_service.rules.plan import SendingHours

MINUTE = timedelta(minutes=1)
DAY_MINUTES = 1440

LOOK_AHEAD_DAYS = 3
"""A day without any sending hours, where a zone skips one, is stepped over up to this far."""


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


def slot(hours: SendingHours, spread: int, on: date, now: datetime, last: date) -> Slot | None:
    """First time to send, from a day on.

    Each phone has its own minute of the hours, so that a ward's texts do not leave at once. If
    that minute is past but the hours are not, the text leaves now; after the hours, the next day.

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
        if day > last:
            return None
        at = _time_on(hours, spread, day, now)
        if at is not None:
            return Slot(day, at)
        day += timedelta(days=1)
    return None


def _time_on(hours: SendingHours, spread: int, on: date, now: datetime) -> datetime | None:
    start, end = sending_span(hours, on)
    if start >= end:
        return None
    minute = hours.opens_minute + spread % (hours.closes_minute - hours.opens_minute)
    at = min(max(_minute_of(hours.zone, on, minute), start), end - MINUTE)
    if at < now:
        at = _minute_up(now)
    return at if start <= at < end else None


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
