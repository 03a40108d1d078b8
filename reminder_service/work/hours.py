"""Sending hours: when the next text may go out in a ward. Pure."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from reminder_service.rules.plan import SendingHours
from reminder_service.rules.quiet_days import MOST_QUIET, open_day_from


def next_allowed(at: datetime, hours: SendingHours) -> datetime:
    """Earliest instant, not before ``at``, inside the ward's sending hours on a day not quiet.

    Parameters
    ----------
    at : aware UTC instant
    hours : the ward's sending hours

    Returns
    -------
    ``at`` itself if it lies inside, else the next opening; aware UTC

    Examples
    --------
    >>> hours = SendingHours("Africa/Lusaka", 8 * 60, 18 * 60)
    >>> next_allowed(datetime(2026, 11, 25, 17, 0, tzinfo=UTC), hours).isoformat()
    '2026-11-26T06:00:00+00:00'
    """
    zone = ZoneInfo(hours.zone)
    local = at.astimezone(zone)
    minute = local.hour * 60 + local.minute
    day = local.date() if minute < hours.closes_minute else local.date() + timedelta(days=1)
    allowed = open_day_from(hours.quiet, day, date.max) or day + timedelta(days=MOST_QUIET)
    if allowed == local.date() and minute >= hours.opens_minute:
        return at
    opening = time(hours.opens_minute // 60, hours.opens_minute % 60)
    return datetime.combine(allowed, opening, zone).astimezone(UTC)
