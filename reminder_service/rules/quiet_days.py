"""Days on which a programme sends no notice: weekdays, days of every year, single days."""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, timedelta

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
"""Names of the weekdays, Monday first as in `datetime.date.weekday`."""

MOST_QUIET = 60
"""Quiet days in a row that are looked past for an open one (setting)."""

LEAP_YEAR = 2000
"""A year that has every day a year may have."""

ONE_DAY = timedelta(days=1)


class BadQuietDay(ValueError):
    """A word that names no day.

    Attributes
    ----------
    got : the word
    """

    def __init__(self, got: str) -> None:
        super().__init__(got)
        self.got = got

    def __str__(self) -> str:
        return (
            f"quiet day is {self.got!r}, expected a weekday, a day as YYYY-MM-DD or a day of every "
            f"year as MM-DD: correct it"
        )


@dataclass(frozen=True, slots=True)
class QuietDays:
    """Local days on which no notice goes out; replies do.

    Attributes
    ----------
    weekdays : 0 is Monday; never all seven
    each_year : month and day
    on : single days
    """

    weekdays: frozenset[int] = field(default_factory=frozenset)
    each_year: frozenset[tuple[int, int]] = field(default_factory=frozenset)
    on: frozenset[date] = field(default_factory=frozenset)

    def __contains__(self, day: date) -> bool:
        """Whether nothing goes out on a local day."""
        return (
            day.weekday() in self.weekdays
            or day in self.on
            or (day.month, day.day) in self.each_year
        )


NONE_QUIET = QuietDays()
"""A programme that sends on every day."""


def quiet_days(words: Iterable[str]) -> QuietDays:
    """Quiet days from their names.

    Parameters
    ----------
    words : weekdays, days as ``2026-12-25``, days of every year as ``12-25``

    Returns
    -------
    the days

    Raises
    ------
    BadQuietDay
        A word names no day, or all seven weekdays are quiet.

    Examples
    --------
    >>> date(2026, 12, 6) in quiet_days(["Sunday", "12-25"])
    True
    """
    weekdays, each_year, single = set(), set(), set()
    for word in words:
        name = word.strip().lower()
        if name in WEEKDAYS:
            weekdays.add(WEEKDAYS.index(name))
        elif re.fullmatch(r"\d{2}-\d{2}", name):
            day = _day(f"{LEAP_YEAR}-{name}", word)
            each_year.add((day.month, day.day))
        else:
            single.add(_day(name, word))
    if len(weekdays) == len(WEEKDAYS):
        raise BadQuietDay("every weekday")
    return QuietDays(frozenset(weekdays), frozenset(each_year), frozenset(single))


def _day(text: str, word: str) -> date:
    if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", text):
        raise BadQuietDay(word)
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise BadQuietDay(word) from error


def open_day_from(quiet: QuietDays, on: date, last: date) -> date | None:
    """First day that is not quiet, from a local day on.

    Parameters
    ----------
    quiet : the programme's
    on, last : first and last local day that will do

    Returns
    -------
    the day; None if there is none until ``last``, or if too many in a row are quiet

    References
    ----------
    Arithmetic.
    """
    for _ in range(MOST_QUIET + 1):
        if on > last:
            return None
        if on not in quiet:
            return on
        on += ONE_DAY
    return None


def open_day_until(quiet: QuietDays, on: date, first: date) -> date | None:
    """Last day that is not quiet, up to a local day.

    Parameters
    ----------
    quiet : the programme's
    on, first : last and first local day that will do

    Returns
    -------
    the day; None if there is none since ``first``, or if too many in a row are quiet

    References
    ----------
    Arithmetic.
    """
    for _ in range(MOST_QUIET + 1):
        if on < first:
            return None
        if on not in quiet:
            return on
        on -= ONE_DAY
    return None
