"""Sending hours: when the next text may go out in a ward. Pure."""

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

from reminder_service.rules.plan import SendingHours


def next_allowed(at: datetime, hours: SendingHours) -> datetime:
    """Earliest instant, not before ``at``, inside the ward's sending hours.

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
    if hours.opens_minute <= minute < hours.closes_minute:
        return at
    day = local.date() if minute < hours.opens_minute else local.date() + timedelta(days=1)
    opening = time(hours.opens_minute // 60, hours.opens_minute % 60)
    return datetime.combine(day, opening, zone).astimezone(UTC)
