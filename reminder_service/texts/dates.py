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

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from dateutil.relativedelta import FR, MO, SA, SU, TH, TU, WE, relativedelta

from reminder_service.kinds import Kind
from reminder_service.texts.terms import Term
from reminder_service.texts.words import Meaning, Role

WEEKDAYS = (MO, TU, WE, TH, FR, SA, SU)

YEARS = range(2000, 2100)
"""Years that a text may name (setting)."""

HALF_YEAR = relativedelta(months=6)
"""How far a day without a year may be from the day of sending (setting)."""

NEAR_FUTURE = timedelta(days=7)
"""A bare ``12th`` is not read if the next 12th is this close (setting)."""

MOST_DAYS_BACK = 366
"""Most days that ``N days ago`` may go back (setting)."""

END = Term("", Meaning(Role.UNKNOWN))


@dataclass(frozen=True, slots=True)
class Day:
    """A day as a text names it.

    Attributes
    ----------
    on : local day; None if what is written is no day, or could be several
    written : as it stands in the text
    weekday_only : named by its weekday alone
    short_year : its year is a bare number of two digits, which could also be something else
    maybe_mm : the amount of rain that it could be instead, in mm
    numbers : the numbers of ``12/11``, where it is written so
    """

    on: date | None
    written: str
    weekday_only: bool = False
    short_year: bool = False
    maybe_mm: float | None = None
    numbers: tuple[int, ...] = ()


Found = tuple[Day, int]
"""A day and the number of terms that it takes."""


def with_days(terms: Sequence[Term], on: date) -> list[Term | Day]:
    """Terms of a text with every day put together.

    Parameters
    ----------
    terms : the terms, in order
    on : local day of sending, 2000 to 2099

    Returns
    -------
    the days, and the terms that belong to none
    """
    found: list[Term | Day] = []
    at = 0
    while at < len(terms):
        day = next(filter(None, (read(terms, at, on) for read in READERS)), None)
        found.append(terms[at] if day is None else day[0])
        at += 1 if day is None else day[1]
    return _weekdays_checked(found)


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


def _at(terms: Sequence[Term], at: int) -> Term:
    return terms[at] if 0 <= at < len(terms) else END


def _written(terms: Sequence[Term], at: int, length: int) -> str:
    return " ".join(term.written for term in terms[at : at + length])


def _chain(terms: Sequence[Term], at: int, on: date) -> Found | None:
    """Read ``12/11``, ``12-11-2026``, ``12.11.26`` and ``2026-11-12``."""
    term, following = terms[at], _at(terms, at + 1).role
    if term.role is not Role.CHAIN or following is Role.MM:
        return None
    if following is Role.MONTH:
        return Day(None, _written(terms, at, 2)), 2
    numbers = tuple(int(part) for part in re.findall(r"\d{1,9}", term.written))
    decimal = re.fullmatch(r"\d{1,4}\.\d{1,2}", term.written)
    after_plot = _at(terms, at - 1).role in (Role.PLOT, Role.PLOTS)
    day = None if after_plot else _chain_day(term.written, on)
    mm = float(term.written) if decimal else None
    return Day(day, term.written, maybe_mm=mm, numbers=numbers), 1


def _chain_day(written: str, on: date) -> date | None:
    if iso := re.fullmatch(r"(\d{4})([-/])(\d{1,2})\2(\d{1,2})", written):
        return _named_day(iso[4], iso[3], iso[1])
    if full := re.fullmatch(r"(\d{1,2})([-/.])(\d{1,2})\2(\d{4}|\d{2})", written):
        return _named_day(full[1], full[3], full[4])
    if short := re.fullmatch(r"(\d{1,2})[-/.](\d{1,2})", written):
        return nearest_day(int(short[1]), int(short[2]), on)
    return None


def _named_day(day: str, month: str, year: str) -> date | None:
    number = int(year) + (YEARS.start if len(year) == 2 else 0)
    return calendar_day(number, int(month), int(day)) if number in YEARS else None


def _day_and_month(terms: Sequence[Term], at: int, on: date) -> Found | None:
    """Read ``12 Nov``, ``12th of November``, ``12 Nov 2026``."""
    if terms[at].role is not Role.NUMBER:
        return None
    month_at = at + 1
    for between in (Role.ORDINAL, Role.LINK):
        month_at += _at(terms, month_at).role is between
    month = _at(terms, month_at)
    if month.role is not Role.MONTH:
        return None
    return _with_year(terms, at, month_at + 1, (terms[at].meaning.value, month.meaning.value), on)


def _month_and_day(terms: Sequence[Term], at: int, on: date) -> Found | None:
    """Read ``Nov 12``, ``November the 12th``, ``Nov 12 2026``; a month alone is no day."""
    if terms[at].role is not Role.MONTH:
        return None
    day_at = at + 1 + (_at(terms, at + 1).role is Role.LINK)
    day = _at(terms, day_at)
    if day.role is not Role.NUMBER or _starts_other(terms, day_at):
        return Day(None, terms[at].written), 1
    end = day_at + 1 + (_at(terms, day_at + 1).role is Role.ORDINAL)
    return _with_year(terms, at, end, (day.meaning.value, terms[at].meaning.value), on)


def _with_year(
    terms: Sequence[Term], at: int, end: int, day_month: tuple[int, int], on: date
) -> Found:
    """Add the year that follows a day and month, if one does."""
    day, month = day_month
    year = _at(terms, end)
    if year.role is not Role.NUMBER or _starts_other(terms, end):
        return Day(nearest_day(day, month, on), _written(terms, at, end - at)), end - at
    length = end + 1 - at
    value = year.meaning.value
    short = len(year.written) == 2 and abs(value - on.year % 100) <= 1
    number = value + YEARS.start if short else value
    # Any other number there leaves open which of the two stands for the day.
    named = calendar_day(number, month, day) if number in YEARS else None
    return Day(named, _written(terms, at, length), short_year=short), length


def _starts_other(terms: Sequence[Term], at: int) -> bool:
    """Whether the number here belongs to what follows it: an amount, a span, another day."""
    following = _at(terms, at + 1).role
    if following is Role.ORDINAL and terms[at].role is Role.NUMBER:
        return _at(terms, at + 2).role is Role.MONTH
    return following in (Role.MM, Role.UNIT, Role.MONTH)


def _day_of_month(terms: Sequence[Term], at: int, on: date) -> Found | None:
    """Read ``12th`` without a month, where nothing else could be meant."""
    if terms[at].role is not Role.NUMBER or _at(terms, at + 1).role is not Role.ORDINAL:
        return None
    day, counted = terms[at].meaning.value, _at(terms, at + 2).role in (Role.KIND, Role.TASK)
    soon = any((on + timedelta(days=n)).day == day for n in range(1, NEAR_FUTURE.days + 1))
    past = None if soon or counted else past_day_of_month(day, on)
    return Day(past, "".join(term.written for term in terms[at : at + 2])), 2


def _days_back(terms: Sequence[Term], at: int, on: date) -> Found | None:
    """Read ``today``, ``yesterday``, ``tomorrow``."""
    if terms[at].role is not Role.DAYS_BACK:
        return None
    return Day(on - timedelta(days=terms[at].meaning.value), terms[at].written), 1


def _span_back(terms: Sequence[Term], at: int, on: date) -> Found | None:
    """Read ``3 days ago``, ``a week ago``; a span of time without ``ago`` is no day."""
    counted = terms[at].role in (Role.NUMBER, Role.ONE_OF)
    unit_at = at + counted
    if _at(terms, unit_at).role is not Role.UNIT:
        return None
    ago = _at(terms, unit_at + 1).role is Role.AGO
    if not (counted or ago):
        return None
    number = 1 if terms[at].role is Role.ONE_OF else terms[at].meaning.value
    back = number * terms[unit_at].meaning.value
    sure = counted and ago and 0 < back <= MOST_DAYS_BACK
    length = unit_at + 1 + ago - at
    return Day(on - timedelta(days=back) if sure else None, _written(terms, at, length)), length


def _weekday(terms: Sequence[Term], at: int, on: date) -> Found | None:
    """Read ``Friday`` and ``last Friday``; a week beside the weekday makes it no day."""
    end = at
    while _qualifies(_at(terms, end)) or _at(terms, end).role in (Role.UNIT, Role.WEEKDAY):
        end += 1
    run = terms[at:end]
    days = [term for term in run if term.role is Role.WEEKDAY]
    if not days and not (len(run) > 1 and run[-1].role is Role.UNIT):
        return None
    last = len(run) == 2 and run[0].role is Role.LAST
    if len(days) != 1 or not (len(run) == 1 or (last and run[1] is days[0])):
        return Day(None, _written(terms, at, len(run))), len(run)
    start = on - timedelta(days=1) if last else on
    day = start + relativedelta(weekday=WEEKDAYS[days[0].meaning.value](-1))
    return Day(day, _written(terms, at, len(run)), weekday_only=True), len(run)


def _qualifies(term: Term) -> bool:
    return term.role is Role.LAST or (
        term.role is Role.KIND and term.meaning.name == Kind.NEXT and " " not in term.written
    )


def _weekdays_checked(items: Sequence[Term | Day]) -> list[Term | Day]:
    """Put a weekday and the date beside it together."""
    checked: list[Term | Day] = []
    for item in items:
        before = next((n for n in range(len(checked) - 1, -1, -1) if not _silent(checked[n])), None)
        other = None if before is None else checked[before]
        if (
            isinstance(item, Day)
            and isinstance(other, Day)
            and item.weekday_only != other.weekday_only
            and before is not None
        ):
            checked[before:] = filter(None, [agreed([other, item])])
        else:
            checked.append(item)
    return checked


def _silent(item: Term | Day) -> bool:
    return isinstance(item, Term) and item.role in (Role.FILLER, Role.LINK)


READERS: tuple[Callable[[Sequence[Term], int, date], Found | None], ...] = (
    _chain,
    _day_and_month,
    _month_and_day,
    _day_of_month,
    _days_back,
    _span_back,
    _weekday,
)
"""Ways of writing a day, the first that fits counts."""
