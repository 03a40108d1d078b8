"""Amounts of rain and plots named in a text."""

from collections.abc import Sequence
from dataclasses import dataclass

from reminder_service.texts.dates import END, Day
from reminder_service.texts.terms import Term
from reminder_service.texts.words import Role

NUMBERS = (Role.NUMBER, Role.PAIR)
"""What may stand in a list of plots: ``3``, ``3,5``."""


@dataclass(frozen=True, slots=True)
class Amount:
    """An amount of rain, in millimetres, as written with its unit."""

    mm: float


@dataclass(frozen=True, slots=True)
class Plots:
    """Plots that a text names, upper case."""

    names: tuple[str, ...]


Item = Term | Day | Amount | Plots
"""One part of a text that means something by itself."""


def with_marks(items: Sequence[Term | Day]) -> list[Item]:
    """Items of a text with amounts and plots put together.

    ``PLOT 3``, ``P3`` and ``PLOT 3 AND 5`` name plots, as do ``PLOTS 3 5`` and ``FOR 3, 5, 8``.
    A word that nothing else is known of names one too, where it follows ``PLOT`` or ``FOR``.

    Parameters
    ----------
    items : terms and days, in order

    Returns
    -------
    the items
    """
    found: list[Item] = []
    at = 0
    while at < len(items):
        item, length = _amount(items, at) or _hour(items, at) or _plots(items, at) or (items[at], 1)
        found.append(item)
        at += length
    return found


def term_at(items: Sequence[Item], at: int) -> Term:
    """Term at a place; one that means nothing where there is none.

    Parameters
    ----------
    items : parts of a text
    at : place in them, also outside

    Returns
    -------
    the term
    """
    item = items[at] if 0 <= at < len(items) else END
    return item if isinstance(item, Term) else END


def written_numbers(term: Term) -> tuple[int, ...]:
    """Numbers that a term stands for: one, or the two of ``3,5``.

    Parameters
    ----------
    term : a number or a pair

    Returns
    -------
    whole numbers; -1 for one too long to mean anything
    """
    if term.role is Role.PAIR:
        return tuple(int(part) if len(part) <= 4 else -1 for part in term.written.split(","))
    return (term.meaning.value,)


def _amount(items: Sequence[Term | Day], at: int) -> tuple[Amount, int] | None:
    term = term_at(items, at)
    if term_at(items, at + 1).role is not Role.MM:
        return None
    if term.role is Role.NUMBER and term.meaning.value >= 0:
        return Amount(float(term.meaning.value)), 2
    decimal = term.written.replace(",", ".")
    if term.role in (Role.CHAIN, Role.PAIR) and decimal.count(".") == 1 and _decimal(decimal):
        return Amount(float(decimal)), 2
    return None


def _hour(items: Sequence[Term | Day], at: int) -> tuple[Term, int] | None:
    """Read ``6 am``: an hour says nothing here."""
    clock = term_at(items, at + 1)
    hour = term_at(items, at).role is Role.NUMBER and clock.role is Role.CLOCK
    return (clock, 2) if hour else None


def _decimal(written: str) -> bool:
    return len(written) <= 8 and written.replace(".", "").isdigit()


def _plots(items: Sequence[Term | Day], at: int) -> tuple[Plots, int] | None:
    sign = term_at(items, at).role
    if sign not in (Role.PLOT, Role.PLOTS, Role.FOR):
        return None
    if term_at(items, at + 1).role is Role.UNKNOWN and term_at(items, at + 1).written:
        return Plots((term_at(items, at + 1).written.upper(),)), 2
    names: list[str] = []
    end = at + 1
    while _lists_plot(items, end) and (
        not names or sign is not Role.PLOT or term_at(items, end - 1).role is Role.AND
    ):
        names += map(str, written_numbers(term_at(items, end)))
        end += 1
        end += term_at(items, end).role is Role.AND and _lists_plot(items, end + 1)
    return (Plots(tuple(dict.fromkeys(names))), end - at) if names else None


def _lists_plot(items: Sequence[Term | Day], at: int) -> bool:
    term = term_at(items, at)
    amount = term_at(items, at + 1).role is Role.MM
    return term.role in NUMBERS and -1 not in written_numbers(term) and not amount
