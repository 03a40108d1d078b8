"""Every form in which a text may name a day, and a text with its days put together."""

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date, timedelta

from reminder_service.texts.dates import (
    AFTER,
    BEFORE,
    YEARS,
    Day,
    agreed,
    calendar_day,
    nearest_day,
    past_day_of_month,
)
from reminder_service.texts.month_days import MONTHS, Month, day_and_month, month_and_day, with_year
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
from reminder_service.texts.spans import days_back, span_back, weekday
from reminder_service.texts.terms import Term
from reminder_service.texts.words import Meaning, Role

NEAR_FUTURE = timedelta(days=7)
"""A bare ``12th`` is not read if the next 12th is this close (setting)."""

Reader = Callable[[Sequence[Term], int, date], Found | None]
"""Reads a day at a place in a text, if one stands there."""


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
    terms = _without_hours(terms)
    found: list[Term | Day] = []
    at = 0
    while at < len(terms):
        day = next(filter(None, (read(terms, at, on) for read in READERS)), None)
        found.append(terms[at] if day is None else day[0])
        at += 1 if day is None else day[1]
    return _weekdays_checked(found)


def _without_hours(terms: Sequence[Term]) -> list[Term]:
    """Put ``saa 2`` together: an hour, whose number is nothing else."""
    found: list[Term] = []
    for term in terms:
        if found and found[-1].role is Role.HOUR_WORD and term.role is Role.NUMBER:
            found[-1] = Term(f"{found[-1].written} {term.written}", Meaning(Role.CLOCK))
        else:
            found.append(term)
    return found


def _chain(terms: Sequence[Term], at: int, on: date) -> Found | None:
    """Read ``12/11``, ``12-11-2026``, ``12.11.26`` and ``2026-11-12``."""
    term, following = terms[at], role_at(terms, at + 1)
    if term.role is not Role.CHAIN or following is Role.MM:
        return None
    if following is Role.MONTH:
        return no_day(terms, at, at + 2)
    numbers = tuple(int(part) for part in re.findall(r"\d{1,9}", term.written))
    decimal = re.fullmatch(r"\d{1,4}\.\d{1,2}", term.written)
    after_plot = role_at(terms, at - 1) in (Role.PLOT, Role.PLOTS)
    day = None if after_plot else _chain_day(term.written, on)
    mm = float(term.written) if decimal else None
    # With two decimals it is taken for a day, unless the word beside it could be a unit, mistyped.
    sides = (BEFORE, AFTER) if decimal and term.written[-3] == "." else ()
    return Day(day, term.written, open_sides=sides, maybe_mm=mm, numbers=numbers), 1


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


def _after_day_word(terms: Sequence[Term], at: int, on: date) -> Found | None:
    """Read ``dia 12``, ``tarehe 12 Novemba``, ``dia 12 de 11``, ``pa 12/11``."""
    if terms[at].role is not Role.DAY_WORD:
        return None
    day_at = past_links(terms, at + 1, Role.DAY_WORD)
    if day_at >= len(terms):
        return None
    full = next(filter(None, (read(terms, day_at, on) for read in NAMED)), None)
    if full is not None:
        day, length = full
        return replace(day, maybe_mm=None), day_at + length - at
    number = terms[day_at]
    if number.role is not Role.NUMBER or starts_other(terms, day_at) or is_part(terms, day_at):
        return None
    end = day_at + 1 + (role_at(terms, day_at + 1) is Role.ORDINAL)
    month_place = past_links(terms, end)
    month = at_place(terms, month_place)
    if month.role in (Role.NUMBER, Role.PAIR) and not starts_other(terms, month_place):
        return _numbered_month(terms, at, (number, month_place), on, linked=month_place > end)
    day = Day(_recent(number.meaning.value, on), "", open_sides=(AFTER,))
    return day_of(terms, at, end, day)


def _numbered_month(
    terms: Sequence[Term], at: int, day_month: tuple[Term, int], on: date, *, linked: bool
) -> Found:
    """Read ``dia 12 de 11``; two numbers without a word between them are no day."""
    day, month_place = day_month
    month = terms[month_place]
    if not (linked and month.role is Role.NUMBER and month.meaning.value in MONTHS):
        return no_day(terms, at, month_place + 1)
    named = Month(month.meaning.value, month_place + 1)
    return with_year(terms, at, month_place + 1, (day.meaning.value, named), on)


def _day_of_month(terms: Sequence[Term], at: int, on: date) -> Found | None:
    """Read ``12th`` without a month, where nothing else could be meant."""
    if terms[at].role is not Role.NUMBER or role_at(terms, at + 1) is not Role.ORDINAL:
        return None
    counted = role_at(terms, at + 2) in (Role.KIND, Role.TASK)
    past = None if counted else _recent(terms[at].meaning.value, on)
    written = "".join(term.written for term in terms[at : at + 2])
    return Day(past, written, open_sides=(AFTER,)), 2


def _recent(day: int, on: date) -> date | None:
    """Most recent such day of a month; none if the next one is near."""
    soon = any((on + timedelta(days=n)).day == day for n in range(1, NEAR_FUTURE.days + 1))
    return None if soon else past_day_of_month(day, on)


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
    return isinstance(item, Term) and item.role in (Role.FILLER, Role.LINK, Role.THIS)


NAMED: tuple[Reader, ...] = (
    _chain,
    day_and_month,
    month_and_day,
    days_back,
    span_back,
    weekday,
)
"""Ways of writing a day that need no word before them, the first that fits counts."""

READERS: tuple[Reader, ...] = (_after_day_word, *NAMED[:3], _day_of_month, *NAMED[3:])
"""All ways of writing a day, the first that fits counts."""
