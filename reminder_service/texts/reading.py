"""What a text from a farmer's phone says or asks."""

import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date

from reminder_service.kinds import DATED_FACTS, OF_THE_STAND, REPORTS, Kind
from reminder_service.texts.clauses import (
    Clause,
    Head,
    Part,
    clauses,
    shared_plots,
    with_heads,
)
from reminder_service.texts.commands import command
from reminder_service.texts.day_forms import with_days
from reminder_service.texts.doubles import settled
from reminder_service.texts.marks import Amount, Item, Plots, with_marks
from reminder_service.texts.reading_types import BadDate, Reading, Said
from reminder_service.texts.reports import UNREAD, Setting, clause_reading
from reminder_service.texts.terms import Term, plain, terms
from reminder_service.texts.words import Role, WordList

LONGEST_BODY = 1000
"""Longer texts are not read (setting)."""

DATED = frozenset({*DATED_FACTS, Kind.RAIN, Kind.DONE, *OF_THE_STAND})
"""Reports of which, in one text, all name their day or none does."""

QUESTIONS = frozenset({Kind.NEXT, Kind.HELP})
"""Questions that may stand in a text together with reports."""


def read(
    body: str,
    on: date,
    words: WordList,
    tasks: Mapping[str, Sequence[str]],
    gauge_keeper: bool = False,
) -> Reading:
    """What a text says or asks.

    Nothing is guessed: what could be two things is asked back, and a report whose day cannot be
    told for sure is answered as a bad date. A report that names no day happened on ``on``. Words
    such as *not*, *yet* or *planned* make a report unread. In a text of several reports all name
    their day or none does, and if one of them cannot be read, none is.

    Parameters
    ----------
    body : any text
    on : local day of sending, 2000 to 2099
    words : the language's words
    tasks : for each task of the rulebook the words by which a farmer names it
    gauge_keeper : the sender keeps a rain gauge, so ``RAIN 12`` is an amount

    Returns
    -------
    what it was read as

    Examples
    --------
    >>> from reminder_service.texts.words import word_list
    >>> read("RAIN 12 NOV", date(2026, 11, 25), word_list("en"), {}).said[0].on
    datetime.date(2026, 11, 12)
    """
    if not is_readable(body):
        return UNREAD
    found = settled(terms(body, words, tasks))
    items = with_marks(with_days(found, on))
    said = command(found, items)
    if said is not None:
        return Reading(said=(said,))
    reading = _reports(items, words, on, gauge_keeper=gauge_keeper)
    return UNREAD if "?" in body and _is_mere_question(reading) else reading


def decode(body: bytes) -> str | None:
    """Text of an inbound body, if it is text.

    Parameters
    ----------
    body : as the gateway took it

    Returns
    -------
    the text; None for what is not UTF-8 or holds control characters

    Examples
    --------
    >>> decode(b"RAIN 12 NOV")
    'RAIN 12 NOV'
    """
    try:
        text = body.decode("utf-8")
    except UnicodeDecodeError:
        return None
    return text if _is_text(text) else None


def is_readable(body: str) -> bool:
    """Whether a body is text of a length that is read at all, also once its signs are taken apart.

    Parameters
    ----------
    body : any string

    Returns
    -------
    False for long ones, control characters other than tabs and line ends, and lone surrogates
    """
    return len(body) <= LONGEST_BODY >= len(plain(body)) and _is_text(body)


def _is_text(body: str) -> bool:
    if body.isprintable():
        return True
    return all(char in "\t\n\r" or unicodedata.category(char) not in ("Cc", "Cs") for char in body)


def _reports(items: Sequence[Item], words: WordList, on: date, *, gauge_keeper: bool) -> Reading:
    """Read a text that is no command: reports, questions, or both."""
    parts = with_heads(items)
    if parts is None:
        return UNREAD
    heads = [part for part in parts if isinstance(part, Head)]
    if not heads and any(isinstance(part, Amount) for part in parts):
        parts = [Head(Kind.RAIN, words.language), *parts]
        heads = [part for part in parts if isinstance(part, Head)]
    kinds = {head.kind for head in heads}
    if not kinds:
        return UNREAD
    if kinds <= QUESTIONS:
        plots = _asked_plots(parts)
        return Reading(said=tuple(Said(kind, plots=plots) for kind in _in_order(heads)))
    if not kinds <= {*REPORTS, *QUESTIONS} or any(_is_doubt(part) for part in parts):
        return UNREAD
    return _joined_readings(parts, on, gauge_keeper=gauge_keeper)


def _is_mere_question(reading: Reading) -> bool:
    """Whether a text with a question mark names no day: ``has it rained?`` reports nothing."""
    asks = any(said.kind in QUESTIONS for said in reading.said)
    return not asks and any(said.kind in DATED and not said.on_given for said in reading.said)


def _joined_readings(parts: Sequence[Part], on: date, *, gauge_keeper: bool) -> Reading:
    """Read every clause; the first fault answers for all of them."""
    found = clauses(parts)
    if found is None:
        written = " ".join(day.written for clause in _whole(parts) for day in clause.days)
        return Reading(bad_date=BadDate(written))
    reports = [clause for clause in found if not {h.kind for h in clause.heads} <= QUESTIONS]
    questions = [clause for clause in found if clause not in reports]
    setting = Setting(on, gauge_keeper, alone=len(found) == 1)
    readings = [clause_reading(clause, setting) for clause in reports]
    fault = next((reading for reading in readings if not reading.said), None)
    if fault is not None:
        return fault
    if any(clause.days or clause.leftover for clause in questions):
        return UNREAD
    plots = shared_plots(parts, found)
    said = [_shared(one, plots) for reading in readings for one in reading.said]
    fault = _undated(readings, reports) or _contradiction(said)
    asked = [Said(clause.heads[0].kind) for clause in questions]
    return fault or Reading(said=tuple(dict.fromkeys([*said, *asked])))


def _shared(said: Said, plots: Plots) -> Said:
    """Say it of the plots that the whole text names, unless it names its own."""
    if said.plots or said.whole_ward:
        return said
    return replace(said, plots=plots.names, whole_ward=plots.whole_ward)


def _whole(parts: Sequence[Part]) -> list[Clause]:
    return [Clause((), tuple(parts))]


def _undated(readings: Sequence[Reading], reports: Sequence[Clause]) -> Reading | None:
    """Refuse a text where some reports name their day and others do not."""
    given = [
        (one.on_given, clause.heads[0].written)
        for reading, clause in zip(readings, reports, strict=True)
        for one in reading.said
        if one.kind in DATED
    ]
    undated = [written for on_given, written in given if not on_given]
    mixed = 0 < len(undated) < len(given)
    return Reading(bad_date=BadDate(undated[0])) if mixed else None


def _contradiction(said: Sequence[Said]) -> Reading | None:
    """Refuse a text that gives one fact two days."""
    days: dict[tuple[object, ...], Said] = {}
    for one in said:
        subject = (one.kind, one.task, one.number, one.plots, one.whole_ward)
        other = days.setdefault(subject, one)
        if other.on != one.on and one.kind is not Kind.RAIN:
            return Reading(bad_date=BadDate(f"{other.on:%d/%m} {one.on:%d/%m}"))
        if other != one and other.on == one.on:
            return UNREAD
    return None


def _in_order(heads: Sequence[Head]) -> list[Kind]:
    return list(dict.fromkeys(head.kind for head in heads))


def _is_doubt(part: Part) -> bool:
    return isinstance(part, Term) and part.role in (Role.DOUBT, Role.LAST)


def _asked_plots(parts: Sequence[Part]) -> tuple[str, ...]:
    """Plots that a question is about: a bare number is one too (``NEXT 3``)."""
    clause = Clause((), tuple(parts))
    bare = tuple(str(number) for number in clause.numbers if number >= 0)
    return clause.plots or bare
