"""Days reckoned from the day of sending: ``3 days ago``, ``há 3 dias``, ``last Friday``."""

from collections.abc import Sequence
from datetime import date, timedelta

from dateutil.relativedelta import FR, MO, SA, SU, TH, TU, WE, relativedelta

from reminder_service.kinds import Kind
from reminder_service.texts.dates import AFTER, BEFORE, Day
from reminder_service.texts.places import (
    Found,
    at_place,
    is_part,
    is_strange,
    no_day,
    past_links,
    role_at,
    starts_other,
    written_from,
)
from reminder_service.texts.terms import Term
from reminder_service.texts.words import Role

WEEKDAYS = (MO, TU, WE, TH, FR, SA, SU)

MOST_DAYS_BACK = 366
"""Most days that ``N days ago`` may go back (setting)."""

COUNTS = (Role.NUMBER, Role.ONE_OF)


def days_back(terms: Sequence[Term], at: int, on: date) -> Found | None:
    """Read ``today``, ``yesterday``, ``tomorrow``.

    Parameters
    ----------
    terms : terms of a text
    at : place in them
    on : local day of sending

    Returns
    -------
    the day and its length, if one stands there
    """
    if terms[at].role is not Role.DAYS_BACK:
        return None
    day = on - timedelta(days=terms[at].meaning.value)
    return Day(day, terms[at].written, open_sides=(BEFORE,)), 1


def span_back(terms: Sequence[Term], at: int, on: date) -> Found | None:
    """Read ``3 days ago``, ``siku 3 zilizopita``, ``há 3 dias``; a span without *ago* is no day.

    Parameters
    ----------
    terms : terms of a text
    at : place in them
    on : local day of sending

    Returns
    -------
    the day and its length, if one stands there
    """
    before = terms[at].role is Role.AGO_BEFORE
    start = at + before
    if role_at(terms, start) in COUNTS and _unit_days(terms, start + 1) is not None:
        count_at, unit_at, unit_first = start, start + 1, False
    elif _unit_days(terms, start) is not None and role_at(terms, start + 1) in COUNTS:
        count_at, unit_at, unit_first = start + 1, start, True
    else:
        return _uncounted(terms, at, start)
    if unit_first and _number_elsewhere(terms, count_at):
        return None
    end = start + 2
    ago = role_at(terms, end) is Role.AGO or (unit_first and _is_last(terms, end))
    if not (ago or before) and _is_day_word(terms, unit_at) and _begins_day(terms, end):
        return None
    back = _count(at_place(terms, count_at)) * (_unit_days(terms, unit_at) or 0)
    sure = (ago or before) and 0 < back <= MOST_DAYS_BACK and not is_part(terms, count_at)
    written = written_from(terms, at, end + ago - at)
    day = on - timedelta(days=back) if sure else None
    return Day(day, written, open_sides=(BEFORE,)), end + ago - at


def _uncounted(terms: Sequence[Term], at: int, start: int) -> Found | None:
    """Read ``days ago`` and ``há semanas``: no day."""
    if _unit_days(terms, start) is None:
        return None
    ago = role_at(terms, start + 1) is Role.AGO
    return no_day(terms, at, start + 1 + ago) if ago or start > at else None


def _unit_days(terms: Sequence[Term], at: int) -> int | None:
    """Days in the unit of time here; 0 for one of no whole number of days, None for no unit."""
    term = at_place(terms, at)
    if term.role is Role.MONTH_WORD:
        return 0
    if term.role is Role.DAY_WORD:
        return term.meaning.value or None
    return term.meaning.value if term.role is Role.UNIT else None


def _count(term: Term) -> int:
    return 1 if term.role is Role.ONE_OF else term.meaning.value


def _is_day_word(terms: Sequence[Term], at: int) -> bool:
    return role_at(terms, at) is Role.DAY_WORD


def _number_elsewhere(terms: Sequence[Term], at: int) -> bool:
    """Whether the number after a unit belongs to what follows, or makes it a day of the month."""
    return starts_other(terms, at) or _is_day_word(terms, at - 1)


def _begins_day(terms: Sequence[Term], at: int) -> bool:
    return role_at(terms, at) in (Role.NUMBER, Role.CHAIN, Role.LINK, Role.WEEKDAY, Role.DAY_WORD)


def _is_last(terms: Sequence[Term], at: int) -> bool:
    """Whether *last* here belongs to what stands before it (``wiki moja iliyopita``)."""
    following = role_at(terms, at + 1)
    after = following in (Role.UNIT, Role.WEEKDAY, Role.MONTH, Role.MONTH_WORD)
    return role_at(terms, at) is Role.LAST and not after


def weekday(terms: Sequence[Term], at: int, on: date) -> Found | None:
    """Read ``Friday``, ``last Friday``, ``Ijumaa iliyopita``; beside a week it is no day.

    A week, month or year beside a word that is not known is no day either (``lsat year``).

    Parameters
    ----------
    terms : terms of a text
    at : place in them
    on : local day of sending

    Returns
    -------
    the day and its length, if one stands there
    """
    end = at
    while _belongs(terms, end) or (end > at and _joins(terms, end) and _belongs(terms, end + 1)):
        end += 1
    run = terms[at:end]
    days = [term for term in run if term.role is Role.WEEKDAY]
    units = [term for term in run if term.role in (Role.UNIT, Role.MONTH_WORD)]
    beside = (at_place(terms, at - 1), at_place(terms, past_links(terms, end)))
    doubtful = bool(units) and (len(run) > 1 or any(map(is_strange, beside)))
    if not days and not doubtful:
        return None
    last = len(run) == 2 and any(term.role is Role.LAST for term in run)
    sure = len(days) == 1 and (len(run) == 1 or last) and days[0].meaning.number is None
    if not sure:
        return no_day(terms, at, end)
    start = on - timedelta(days=1) if last else on
    day = start + relativedelta(weekday=WEEKDAYS[days[0].meaning.value](-1))
    written = written_from(terms, at, len(run))
    return Day(day, written, weekday_only=True, open_sides=(BEFORE, AFTER)), len(run)


def _belongs(terms: Sequence[Term], at: int) -> bool:
    """Whether the term here goes with a weekday: another one, a unit of time, last or next."""
    term = at_place(terms, at)
    named_next = term.role is Role.KIND and term.meaning.name == Kind.NEXT
    return (named_next and " " not in term.written) or term.role in (
        Role.LAST,
        Role.UNIT,
        Role.MONTH_WORD,
        Role.WEEKDAY,
    )


def _joins(terms: Sequence[Term], at: int) -> bool:
    return role_at(terms, at) in (Role.LINK, Role.THIS)
