"""Days in a text: strict, day before month, never another day than the one written.

Which day is meant:

- a year that is not named is the one that brings the day nearest to the day of sending, at most
  half a year away, be it past or future (so ``25/12`` sent in November is this December, and the
  caller can say that it is still to come);
- ``Friday`` is the most recent Friday, the day of sending included; ``last Friday`` lies strictly
  before the day of sending; a weekday beside a date only checks it;
- ``12th`` without a month is the most recent 12th, unless the next one is a week or less away;
- what looks like a day but is none, or could be two, is a day without a date: never a guess.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from dateutil.relativedelta import relativedelta

YEARS = range(2000, 2100)
"""Years that a text may name (setting)."""

HALF_YEAR = relativedelta(months=6)
"""How far a day without a year may be from the day of sending (setting)."""


BEFORE, AFTER = -1, 1
"""Sides of a day in a text."""


@dataclass(frozen=True, slots=True)
class Day:
    """A day as a text names it.

    Attributes
    ----------
    on : local day; None if what is written is no day, or could be several
    written : as it stands in the text
    weekday_only : named by its weekday alone
    short_year : its year is a bare number of two digits, which could also be something else
    open_sides : where a word beside it could make it another day: -1 before it, 1 after it
    maybe_mm : the amount of rain that it could be instead, in mm
    numbers : the numbers of ``12/11``, where it is written so
    """

    on: date | None
    written: str
    weekday_only: bool = False
    short_year: bool = False
    open_sides: tuple[int, ...] = ()
    maybe_mm: float | None = None
    numbers: tuple[int, ...] = ()


def agreed(days: Sequence[Day]) -> Day | None:
    """Find the one day that all of these name; a day without a date if they differ.

    Parameters
    ----------
    days : days of one report

    Returns
    -------
    the day, or None if there are none
    """
    if len(days) < 2:
        return days[0] if days else None
    written = " ".join(day.written for day in days)
    exact = [day for day in days if not day.weekday_only] or [days[0]]
    on = exact[0].on
    fits = on is not None and all(
        day.on is not None
        and (day.on.weekday() == on.weekday() if day.weekday_only else day.on == on)
        for day in days
    )
    same = fits and (not exact[0].weekday_only or all(day.on == on for day in days))
    return replace(exact[0], on=on if same else None, written=written)


def nearest_day(day: int, month: int, on: date) -> date | None:
    """Day of a month in the year that brings it nearest to the day of sending.

    Parameters
    ----------
    day, month : as written
    on : local day of sending, 2000 to 2099

    Returns
    -------
    the local day, the past one of two equally near; None if there is none within half a year

    References
    ----------
    Own choice, as the module says.

    Examples
    --------
    >>> nearest_day(25, 12, on=date(2026, 11, 25))
    datetime.date(2026, 12, 25)
    """
    tries = (calendar_day(year, month, day) for year in (on.year - 1, on.year, on.year + 1))
    near = [d for d in tries if d is not None and on - HALF_YEAR <= d <= on + HALF_YEAR]
    return min(near, key=lambda d: (abs(d - on), d), default=None)


def past_day_of_month(day: int, on: date) -> date | None:
    """Most recent such day of a month, the day of sending included.

    Parameters
    ----------
    day : day of the month, as written
    on : local day of sending, 2000 to 2099

    Returns
    -------
    the local day; None if no month has it

    References
    ----------
    Arithmetic.

    Examples
    --------
    >>> past_day_of_month(31, on=date(2026, 11, 25))
    datetime.date(2026, 10, 31)
    """
    months = (on - relativedelta(months=back) for back in range(3))
    tries = (calendar_day(month.year, month.month, day) for month in months)
    return next((d for d in tries if d is not None and d <= on), None)


def calendar_day(year: int, month: int, day: int) -> date | None:
    """Day of the calendar, or None where there is none.

    Parameters
    ----------
    year, month, day : whole numbers

    Returns
    -------
    the local day
    """
    try:
        return date(year, month, day)
    except ValueError:
        return None
