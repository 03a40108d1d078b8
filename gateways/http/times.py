"""Times as carriers write them: ISO 8601, seconds or milliseconds since 1970, or a pattern."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_STEPS = {"epoch-s": timedelta(seconds=1), "epoch-ms": timedelta(milliseconds=1)}
_LEFT = {"seconds-left": timedelta(seconds=1), "minutes-left": timedelta(minutes=1)}

READ_FORMS = ("iso", *_STEPS)
"""Forms that have a name; any other is a pattern with per cent signs."""

WRITTEN_FORMS = (*READ_FORMS, *_LEFT)
"""Forms of an expiry; the last two count from now."""


def read_time(written: str, form: str, zone: ZoneInfo) -> datetime:
    """Read the instant that a carrier wrote.

    Parameters
    ----------
    written : as the carrier wrote it
    form : one of `READ_FORMS`, or a pattern of `datetime.strptime`
    zone : of a time that names none

    Returns
    -------
    aware UTC instant

    Raises
    ------
    ValueError
        It is no time of that form, or beyond the years 1 to 9999.

    Examples
    --------
    >>> read_time("1795000000", "epoch-s", ZoneInfo("UTC")).isoformat()
    '2026-11-18T11:06:40+00:00'
    """
    try:
        if form in _STEPS:
            return _EPOCH + float(written) * _STEPS[form]
        read = (
            datetime.fromisoformat(written) if form == "iso" else datetime.strptime(written, form)  # noqa: DTZ007 - the zone comes next
        )
        return (read if read.tzinfo else read.replace(tzinfo=zone)).astimezone(UTC)
    except OverflowError as error:
        raise ValueError(f"{written!r} is beyond the years 1 to 9999") from error


def written_time(at: datetime, form: str, now: datetime) -> str | int:
    """Write an instant as a carrier wants it; a count is a number, not less than 1.

    Parameters
    ----------
    at, now : aware UTC instants
    form : one of `WRITTEN_FORMS`, or a pattern of `datetime.strftime`, in UTC

    Examples
    --------
    >>> noon = datetime(2026, 12, 12, 12, tzinfo=UTC)
    >>> written_time(noon, "iso", noon), written_time(noon, "epoch-s", noon)
    ('2026-12-12T12:00:00Z', 1797076800)
    """
    if form in _LEFT:
        return max(1, (at - now) // _LEFT[form])
    if form in _STEPS:
        return (at - _EPOCH) // _STEPS[form]
    return at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ" if form == "iso" else form)
