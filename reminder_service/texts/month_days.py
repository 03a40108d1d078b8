"""Days named by a month: ``12 Nov``, ``tarehe 12 mwezi wa 11``, ``12th of last month``."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from dateutil.relativedelta import relativedelta

from reminder_service.texts.dates import YEARS, Day, calendar_day, nearest_day
from reminder_service.texts.places import (
    Found,
    at_place,
    day_of,
    is_part,
    no_day,
    past_links,
    role_at,
    starts_other,
)
from reminder_service.texts.terms import Term
from reminder_service.texts.words import Role

MONTHS = range(1, 13)

FEW = range(1, 10)
"""Numbers that, as a word right after a report's word, may count the report instead (setting)."""


@dataclass(frozen=True, slots=True)
class Month:
    """A month as a text names it.

    Attributes
    ----------
    number : 1 to 12; 0 if what is written could be several, or is none
    end : the place after its last term
    year : where it is named from the day of sending (*this month*, *last month*)
    by_name : named by its own name
    """

    number: int
    end: int
    year: int | None = None
    by_name: bool = False


def month_at(terms: Sequence[Term], at: int, on: date) -> Month | None:
    """Month named at a place: by its name, its number, or from the day of sending.

    Parameters
    ----------
    terms : terms of a text
    at : place in them
    on : local day of sending

    Returns
    -------
    the month, if one is named
    """
    term, following = at_place(terms, at), role_at(terms, at + 1)
    if term.role is Role.MONTH:
        return Month(term.meaning.value, at + 1, by_name=True)
    if term.role in (Role.LAST, Role.THIS) and following is Role.MONTH_WORD:
        return _relative(on, at + 2, last=term.role is Role.LAST)
    if term.role is not Role.MONTH_WORD:
        return None
    if following in (Role.LAST, Role.THIS):
        return _relative(on, at + 2, last=following is Role.LAST)
    number_at = past_links(terms, at + 1)
    number = at_place(terms, number_at)
    if number.role is Role.MONTH:
        sure = number.meaning.number is None
        return Month(number.meaning.value if sure else 0, number_at + 1)
    if number.role is not Role.NUMBER or starts_other(terms, number_at):
        return None
    sure = number.meaning.value in MONTHS and not is_part(terms, number_at)
    return Month(number.meaning.value if sure else 0, number_at + 1)


def _relative(on: date, end: int, *, last: bool) -> Month:
    meant = on - relativedelta(months=1) if last else on
    return Month(meant.month, end, meant.year)


def day_and_month(terms: Sequence[Term], at: int, on: date) -> Found | None:
    """Read ``12 Nov``, ``12th of November``, ``12 Nov 2026``, ``12 mwezi wa 11``.

    A month that is not named by its name may also count something else (``palizi 2 mwezi wa 11``:
    the second weeding), as may a number word (``mvua ya pili Novemba``: the second rain).

    Parameters
    ----------
    terms : terms of a text
    at : place in them
    on : local day of sending

    Returns
    -------
    the day and its length, if one stands there
    """
    day = terms[at]
    if day.role is not Role.NUMBER:
        return None
    month_place = at + 1 + (role_at(terms, at + 1) is Role.ORDINAL)
    month_place += role_at(terms, month_place) is Role.LINK
    month = month_at(terms, month_place, on)
    before = _before(terms, at)
    if month is None or (not month.by_name and _is_plot(before)):
        return None
    loose = month.year is not None and month_place == at + 1 and before.role is not Role.DAY_WORD
    if loose or is_part(terms, at) or _counts(day, before, month):
        return no_day(terms, at, month.end)
    return with_year(terms, at, month.end, (day.meaning.value, month), on)


def _before(terms: Sequence[Term], at: int) -> Term:
    place = at - 1
    while role_at(terms, place) is Role.LINK:
        place -= 1
    return at_place(terms, place)


def _is_plot(term: Term) -> bool:
    return term.role in (Role.PLOT, Role.PLOTS, Role.FOR)


def _counts(day: Term, before: Term, month: Month) -> bool:
    """Whether the number may count what stands before it instead of naming the day."""
    named = before.role in (Role.KIND, Role.TASK)
    word = not day.written[0].isdigit() and day.meaning.value in FEW
    numbered = not month.by_name and (before.role is Role.TASK or bool(before.tasks))
    return named and (word or numbered)


def month_and_day(terms: Sequence[Term], at: int, on: date) -> Found | None:
    """Read ``Nov 12``, ``November the 12th``, ``mwezi wa 11 tarehe 12``; a month alone is no day.

    Parameters
    ----------
    terms : terms of a text
    at : place in them
    on : local day of sending

    Returns
    -------
    the day and its length, if one stands there
    """
    month = month_at(terms, at, on)
    if month is None:
        return None
    day_at = past_links(terms, month.end, Role.DAY_WORD)
    day = at_place(terms, day_at)
    marked = any(role_at(terms, place) is Role.DAY_WORD for place in range(month.end, day_at))
    ordinal = role_at(terms, day_at + 1) is Role.ORDINAL
    sure = month.by_name or marked or ordinal
    if (
        day.role is not Role.NUMBER
        or starts_other(terms, day_at)
        or not sure
        or is_part(terms, day_at)
    ):
        return no_day(terms, at, month.end)
    return with_year(terms, at, day_at + 1 + ordinal, (day.meaning.value, month), on)


def with_year(
    terms: Sequence[Term], at: int, end: int, day_month: tuple[int, Month], on: date
) -> Found:
    """Day of a month with the year that follows, if one does.

    Parameters
    ----------
    terms : terms of a text
    at, end : first place of what is written so far, and the place after its last
    day_month : the day and the month
    on : local day of sending

    Returns
    -------
    the day and its length
    """
    day, month = day_month
    if month.year is not None:
        return day_of(terms, at, end, Day(calendar_day(month.year, month.number, day), ""))
    end = _year_place(terms, end)
    year = at_place(terms, end)
    if year.role is not Role.NUMBER or starts_other(terms, end):
        return day_of(terms, at, end, Day(nearest_day(day, month.number, on), ""))
    value = year.meaning.value
    short = len(year.written) == 2 and year.written.isdigit() and abs(value - on.year % 100) <= 1
    number = value + YEARS.start if short else value
    # Any other number there leaves open which of the two stands for the day.
    named = calendar_day(number, month.number, day) if number in YEARS else None
    return day_of(terms, at, end + 1, Day(named, "", short_year=short))


def _year_place(terms: Sequence[Term], end: int) -> int:
    """Place of the year: also after a linking word or *year*, if it has four digits."""
    place = end
    while place < end + 2 and (role_at(terms, place) is Role.LINK or _is_long_unit(terms, place)):
        place += 1
    return place if at_place(terms, place).meaning.value in YEARS else end


def _is_long_unit(terms: Sequence[Term], at: int) -> bool:
    term = at_place(terms, at)
    return term.role is Role.UNIT and term.meaning.value == 0
