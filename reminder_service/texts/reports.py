"""One clause of a text read as a report, with its day, amount, plots and numbers."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date

from reminder_service.kinds import Kind
from reminder_service.texts.clauses import Clause, Part
from reminder_service.texts.dates import Day, past_day_of_month
from reminder_service.texts.marks import written_numbers
from reminder_service.texts.reading_types import BadDate, Reading, Said
from reminder_service.texts.terms import Term
from reminder_service.texts.words import Role

MOST_RAIN_MM = 500.0
"""Most rain that a text may report at once (setting)."""

MOST_SEEDLINGS = 9
"""Most seedlings at one station that a text may report (setting)."""

LOOKED_AT = 100
"""Plants that are looked at for funnel damage (common practice, no source)."""

UNREAD = Reading(unread=True)


@dataclass(frozen=True, slots=True)
class Setting:
    """What a text is read by, beside its words.

    Attributes
    ----------
    on : local day of sending
    gauge_keeper : whether the sender keeps a rain gauge, so that a bare number is an amount
    alone : whether the text has one clause only, so that it can be asked back
    """

    on: date
    gauge_keeper: bool
    alone: bool


def clause_reading(clause: Clause, setting: Setting) -> Reading:
    """What one clause reports.

    Parameters
    ----------
    clause : the clause
    setting : what else it is read by

    Returns
    -------
    what it says, or why it says nothing
    """
    kinds = {head.kind for head in clause.heads}
    if clause.plots and clause.whole_ward:
        return UNREAD
    if kinds == {Kind.COUNT}:
        return _count(clause, setting)
    if kinds == {Kind.BORER_COUNT}:
        return _borer_count(clause, setting)
    if kinds <= {Kind.RAIN, Kind.FIRST_RAIN}:
        return _rain(clause, setting)
    if len(kinds) != 1 or clause.amounts:
        return UNREAD
    if clause.heads[0].kind is Kind.DONE:
        return _done(clause, setting)
    bad = _bad_date(clause)
    return bad or _read(_said(clause, setting, clause.heads[0].kind))


def _read(*said: Said) -> Reading:
    return Reading(said=said)


def _bad(written: str) -> Reading:
    return Reading(bad_date=BadDate(written))


def _said(clause: Clause, setting: Setting, kind: Kind, mm: float | None = None) -> Said:
    day = clause.day
    on = day.on if day is not None else setting.on
    return _scoped(Said(kind, on, on_given=day is not None, mm=mm), clause)


def _scoped(said: Said, clause: Clause) -> Said:
    """Say of which plots it is said."""
    return replace(said, plots=clause.plots, whole_ward=clause.whole_ward)


def _bad_date(clause: Clause, *, numbers: bool = False) -> Reading | None:
    """Why the clause's day cannot be told: no day, a number left over, or unknown words.

    Unknown words are let pass only beside a day, since they may be what names the day.
    """
    day = clause.day
    if day is not None and day.on is None:
        return _bad(day.written)
    if clause.leftover and not numbers:
        return _bad(clause.leftover)
    return _bad(clause.unknown) if day is None and clause.unknown else None


def _rain(clause: Clause, setting: Setting) -> Reading:
    """Read rain with an amount, with a day, or with a number that could be either."""
    first = any(head.kind is Kind.FIRST_RAIN for head in clause.heads)
    if clause.amounts:
        return _rain_amount(clause, setting, first=first)
    numbers, day = clause.numbers, clause.day
    if len(numbers) == 1 and not clause.days:
        return _bare_number(clause, setting, numbers[0], first=first)
    if len(numbers) == 1 and setting.gauge_keeper and not first:
        return _bad_date(clause, numbers=True) or _amount(clause, setting, float(numbers[0]))
    if day is not None and day.maybe_mm is not None and not numbers:
        return _day_or_decimal(clause, setting, day, day.maybe_mm, first=first)
    if day is not None and day.short_year and setting.gauge_keeper:
        return _bad(day.written)
    return _bad_date(clause) or _read(_said(clause, setting, Kind.FIRST_RAIN))


def _rain_amount(clause: Clause, setting: Setting, *, first: bool) -> Reading:
    bad = _bad_date(clause)
    if bad is not None or len(clause.amounts) > 1:
        return bad or UNREAD
    return _amount(clause, setting, clause.amounts[0], Kind.FIRST_RAIN if first else Kind.RAIN)


def _amount(clause: Clause, setting: Setting, mm: float, kind: Kind = Kind.RAIN) -> Reading:
    in_bounds = 0 <= mm <= MOST_RAIN_MM
    return _read(_said(clause, setting, kind, mm)) if in_bounds else UNREAD


def _bare_number(clause: Clause, setting: Setting, number: int, *, first: bool) -> Reading:
    """Read ``RAIN 12``: a gauge keeper's amount; else a day or an amount, so it is asked back."""
    if clause.unknown or not setting.alone:
        return _bad(clause.leftover)
    if setting.gauge_keeper and not first:
        return _amount(clause, setting, float(number))
    day = past_day_of_month(number, setting.on)
    if day is None:
        return _bad(clause.leftover) if first else _amount(clause, setting, float(number))
    return _asked(clause, setting, day, float(number))


def _asked(clause: Clause, setting: Setting, on: date, mm: float) -> Reading:
    day = Said(Kind.FIRST_RAIN, on, on_given=True)
    amount = Said(Kind.RAIN, setting.on, mm=mm)
    return Reading(ask=(_scoped(day, clause), _scoped(amount, clause)))


def _day_or_decimal(
    clause: Clause, setting: Setting, day: Day, mm: float, *, first: bool
) -> Reading:
    """Read ``RAIN 12.5`` and ``RAIN 12.11``: one decimal looks like an amount, two like a day."""
    tenths = len(day.written.rpartition(".")[2]) == 1
    if first or not (tenths or (setting.gauge_keeper and day.on is not None)):
        return _bad_date(clause) or _read(_said(clause, setting, Kind.FIRST_RAIN))
    if not setting.alone:
        return _bad(day.written)
    if day.on is None or (tenths and setting.gauge_keeper):
        amount = _scoped(Said(Kind.RAIN, setting.on, mm=mm), clause)
        return _read(amount) if mm <= MOST_RAIN_MM else UNREAD
    return _asked(clause, setting, day.on, mm)


def _done(clause: Clause, setting: Setting) -> Reading:
    """Read tasks done; a word that names several tasks is asked back."""
    bad = _bad_date(clause)
    if bad is not None and any(head.tasks for head in clause.heads):
        return bad
    said = [
        tuple(_task_done(clause, setting, task, head.number) for task in head.tasks)
        for head in clause.heads
    ]
    if not any(said):
        return _read(_scoped(Said(Kind.DONE, setting.on), clause))
    if all(len(tasks) == 1 for tasks in said):
        return _read(*dict.fromkeys(tasks[0] for tasks in said))
    return Reading(ask=said[0]) if len(said) == 1 and setting.alone else UNREAD


def _task_done(clause: Clause, setting: Setting, task: str, number: int | None) -> Said:
    return replace(_said(clause, setting, Kind.DONE), task=task, number=number)


def _count(clause: Clause, setting: Setting) -> Reading:
    """Read seedlings station by station; ``2.1.0`` and ``2-1-0-3`` are numbers here, not days."""
    plain = bool(clause.numbers)
    days = [day for day in clause.days if not _is_count_list(day, plain=plain)]
    parts = tuple(part for part in clause.parts if not isinstance(part, Day) or part in days)
    counts = tuple(_counted(clause.parts, plain=plain))
    head_at = clause.parts.index(clause.heads[0])
    # A number before the word may count the counts (second count), unless all stand there.
    before = len(tuple(_counted(clause.parts[:head_at], plain=plain)))
    rest = Clause(clause.heads, parts)
    bad = _bad_date(rest, numbers=True)
    if (
        before not in (0, len(counts))
        or not counts
        or clause.amounts
        or not all(0 <= n <= MOST_SEEDLINGS for n in counts)
    ):
        return bad if bad is not None and rest.days else UNREAD
    return bad or _read(replace(_said(rest, setting, Kind.COUNT), counts=counts))


def _is_count_list(day: Day, *, plain: bool) -> bool:
    return len(day.numbers) > 3 or (bool(day.numbers) and not plain and "/" not in day.written)


def _counted(parts: Sequence[Part], *, plain: bool) -> Iterator[int]:
    for part in parts:
        if isinstance(part, Day) and _is_count_list(part, plain=plain):
            yield from part.numbers
        elif isinstance(part, Term) and part.role in (Role.NUMBER, Role.PAIR):
            yield from written_numbers(part)


def _borer_count(clause: Clause, setting: Setting) -> Reading:
    """Read damaged plants: ``12``, ``12 of 100``, ``12/100``."""
    shares = [day for day in clause.days if day.numbers[1:] == (LOOKED_AT,)]
    parts = tuple(
        part
        for part in clause.parts
        if part not in shares and not (isinstance(part, Term) and part.role is Role.OF_ALL)
    )
    rest = Clause(clause.heads, parts)
    numbers = [*(share.numbers[0] for share in shares), *rest.numbers]
    if clause.amounts or numbers[1:] not in ([], [LOOKED_AT]) or not numbers:
        return UNREAD
    if not 0 <= numbers[0] <= LOOKED_AT:
        return UNREAD
    bad = _bad_date(rest, numbers=True)
    return bad or _read(replace(_said(rest, setting, Kind.BORER_COUNT), damaged=numbers[0]))
