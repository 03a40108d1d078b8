"""A plot that is replanted has a second stand: which of the two a report is about. Pure."""

from collections.abc import Sequence
from datetime import date, timedelta

from reminder_service.kinds import Kind

RAIN_BEFORE_DAYS = 4
"""A rain up to this long before a replanting is the one it was done on (setting, as the rulebook
takes planting to follow the first rain)."""

APART_DAYS = 7
"""A replanting reported for a day at most this long after another corrects it; later, the stand was
replanted once more (setting: by then the seed would have come up)."""

ON_THE_DAY = (Kind.PLANTED, Kind.REPLANTED)
"""What may be of the new stand on the day of replanting itself; all else is from the day after."""


def stand_of(kind: Kind, on: date, replanted: Sequence[date]) -> int:
    """Which stand of a plot something happened to.

    Parameters
    ----------
    kind : what happened
    on : its local day
    replanted : local days of replanting

    Returns
    -------
    0 for the first stand, 1 for the one after the first replanting, and so on

    References
    ----------
    Own choices, named above.

    Examples
    --------
    >>> replanted = [date(2026, 12, 2)]
    >>> [stand_of(Kind.GERMINATED, date(2026, 12, day), replanted) for day in (1, 2, 9)]
    [0, 0, 1]
    >>> stand_of(Kind.FIRST_RAIN, date(2026, 11, 29), replanted)
    1
    """
    if kind is Kind.FIRST_RAIN:
        return sum(day - timedelta(days=RAIN_BEFORE_DAYS) <= on for day in replanted)
    if kind in ON_THE_DAY:
        return sum(day <= on for day in replanted)
    return sum(day < on for day in replanted)


def is_same_replanting(earlier: date, on: date) -> bool:
    """Whether a replanting reported for a day is the one reported for another day before.

    Parameters
    ----------
    earlier : local day reported before
    on : local day reported now

    Returns
    -------
    False if the stand was replanted once more

    References
    ----------
    Own choice, named above.
    """
    return on <= earlier + timedelta(days=APART_DAYS)
