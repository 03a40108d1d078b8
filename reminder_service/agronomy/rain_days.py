"""Daily rain as the onset, cessation and dry spells read it.

A record gives the rain of a local day in mm. A day that it does not name, or names with None, is
unknown: it may have been wet or dry, and is never taken for a day without rain.
"""

from collections.abc import Mapping, Sequence
from datetime import date
from enum import StrEnum
from typing import Final

from reminder_service.agronomy.errors import OutOfRange, check_within

RainRecord = Mapping[date, float | None]
"""Rain in mm by local day; None, as well as a day left out, is unknown."""


class Status(StrEnum):
    """How sure an onset or a cessation is."""

    NONE = "none"
    PROVISIONAL = "provisional"
    CONFIRMED = "confirmed"


DAY_MM_RANGE: Final = (0, 2_000)  # memory: the most seen in one day is about 1,825 mm
THOUSANDTHS: Final = 1_000  # arithmetic: whole thousandths of a mm add up exactly
YEARS: Final = (1800, 2200)  # setting: outside it, a year was mistyped


def thousandths(mm: float) -> int:
    """An amount of rain in whole thousandths of a millimetre, so that sums are exact.

    Parameters
    ----------
    mm : rain, mm

    Returns
    -------
    thousandths of a mm

    References
    ----------
    Arithmetic.

    Examples
    --------
    >>> thousandths(6.6) + thousandths(6.7) + thousandths(6.7) == thousandths(20)
    True
    """
    return round(mm * THOUSANDTHS)


def daily_thousandths(rain: RainRecord, first: int, last: int) -> list[int | None]:
    """Rain of every day of a span, in whole thousandths of a millimetre.

    Parameters
    ----------
    rain : mm by local day, 0 to 2,000; a day left out, or None, is unknown
    first, last : ordinals of the first and last local day of the span

    Returns
    -------
    one amount a day; None where it is unknown

    Raises
    ------
    OutOfRange
        An amount of the span is no possible day's rain.

    References
    ----------
    The most rain of one day: [memory].

    Examples
    --------
    >>> daily_thousandths({date(2026, 11, 10): 6.6}, date(2026, 11, 9).toordinal(),
    ...                   date(2026, 11, 10).toordinal())
    [None, 6600]
    """
    amounts: list[int | None] = []
    for ordinal in range(first, last + 1):
        on = date.fromordinal(ordinal)
        mm = rain.get(on)
        if mm is not None:
            check_within(f"rain on {on}", mm, *DAY_MM_RANGE, "mm")
        amounts.append(None if mm is None else thousandths(mm))
    return amounts


def check_day(field: str, got: date) -> None:
    """Refuse a day whose year was surely mistyped.

    Parameters
    ----------
    field : name of the argument, for the message
    got : local day

    Raises
    ------
    OutOfRange
        The year is before 1800 or after 2200.

    References
    ----------
    The years are a [setting].

    Examples
    --------
    >>> check_day("search_from", date(2026, 11, 1))
    """
    if not YEARS[0] <= got.year <= YEARS[1]:
        raise OutOfRange(field, got, f"a day in the years {YEARS[0]} to {YEARS[1]}")


def next_runs(inside: Sequence[bool], days: int) -> list[int]:
    """Where the next run of enough days begins, from each place on.

    Parameters
    ----------
    inside : day by day, whether it can belong to a run
    days : days in a row that make a run, 1 or more

    Returns
    -------
    for each place, and one past the last, the first place at or after it where ``days`` in a row
    begin; ``len(inside)`` where none does

    References
    ----------
    Arithmetic.

    Examples
    --------
    >>> next_runs([True, False, True, True, True], 2)
    [2, 2, 2, 3, 5, 5]
    """
    following = [len(inside)] * (len(inside) + 1)
    length = 0
    for place in range(len(inside) - 1, -1, -1):
        length = length + 1 if inside[place] else 0
        following[place] = place if length >= days else following[place + 1]
    return following
