"""Amounts of rain and plots named in a text."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from reminder_service.texts.dates import Day
from reminder_service.texts.places import END, is_strange
from reminder_service.texts.terms import NAMING, Term
from reminder_service.texts.words import Role

NUMBERS = (Role.NUMBER, Role.PAIR)
"""What may stand in a list of plots: ``3``, ``3,5``."""

JOINING = (Role.LINK, Role.THIS)
"""Roles of words between a day and one that could change it: ``antes de ontem``."""

MOST_NAME_WORDS = 3
"""Words of the longest name by which a plot is told (setting)."""


@dataclass(frozen=True, slots=True)
class Amount:
    """An amount of rain, in millimetres, as written with its unit."""

    mm: float


@dataclass(frozen=True, slots=True)
class Plots:
    """Plots that a text names, upper case; or all that its sender speaks for."""

    names: tuple[str, ...] = ()
    whole_ward: bool = False


Item = Term | Day | Amount | Plots
"""One part of a text that means something by itself."""


def with_marks(items: Sequence[Term | Day]) -> list[Item]:
    """Items of a text with amounts and plots put together.

    ``PLOT 3``, ``P3`` and ``PLOT 3 AND 5`` name plots, as do ``PLOTS 3 5`` and ``FOR 3, 5, 8``.
    Words that nothing else is known of name one too, where they follow ``PLOT`` or ``FOR``
    (``FOR AMINA``, ``FOR AMINA DIRO AND 3``), as does a letter (``PLOT A``, ``PLOT 3B``). A day
    that is told by words is none beside a word that nothing is known of: it could be *last* or
    *before*, mistyped.

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
        read = _amount(items, at) or _hour(items, at) or _ward(items, at) or _plots(items, at)
        item, length = read or (items[at], 1)
        found.append(item)
        at += length
    return [_sure(found, at) for at in range(len(found))]


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


def _sure(items: Sequence[Item], at: int) -> Item:
    """Take the date from a day beside a word that could change it."""
    item = items[at]
    if not isinstance(item, Day):
        return item
    beside = [(side, _neighbour(items, at, side)) for side in item.open_sides]
    strange = [(side, term.written) for side, term in beside if is_strange(term)]
    if not strange:
        return item
    written = " ".join(text for _, text in sorted([*strange, (0, item.written)]))
    return replace(item, on=None, written=written)


def _neighbour(items: Sequence[Item], at: int, side: int) -> Term:
    place = at + side
    while term_at(items, place).role in JOINING:
        place += side
    return term_at(items, place)


def _amount(items: Sequence[Term | Day], at: int) -> tuple[Amount | Day, int] | None:
    term = term_at(items, at)
    if term_at(items, at + 1).role is not Role.MM:
        return _unit_first(items, at)
    if term.role is Role.NUMBER and term.meaning.value >= 0:
        return Amount(float(term.meaning.value)), 2
    decimal = term.written.replace(",", ".")
    if term.role in (Role.CHAIN, Role.PAIR) and decimal.count(".") == 1 and _decimal(decimal):
        return Amount(float(decimal)), 2
    return None


def _unit_first(items: Sequence[Term | Day], at: int) -> tuple[Amount | Day, int] | None:
    """Read ``milimita 23``; after a word that is not known, which may be the number, it is none."""
    if term_at(items, at).role is not Role.MM or at + 1 >= len(items):
        return None
    item = items[at + 1]
    unsure = _may_be_number(items, at - 1)
    if isinstance(item, Day) and item.maybe_mm is not None:
        return (replace(item, on=None) if unsure else Amount(item.maybe_mm)), 2
    if isinstance(item, Day) or unsure:
        return None
    if item.role is Role.NUMBER and item.meaning.value >= 0:
        return Amount(float(item.meaning.value)), 2
    decimal = item.written.replace(",", ".")
    return (Amount(float(decimal)), 2) if item.role is Role.PAIR and _decimal(decimal) else None


def _may_be_number(items: Sequence[Term | Day], at: int) -> bool:
    item = items[at] if at >= 0 else None
    return isinstance(item, Term) and item.role in (Role.UNKNOWN, *NUMBERS)


def _hour(items: Sequence[Term | Day], at: int) -> tuple[Term, int] | None:
    """Read ``6 am``: an hour says nothing here."""
    clock = term_at(items, at + 1)
    hour = term_at(items, at).role is Role.NUMBER and clock.role is Role.CLOCK
    return (clock, 2) if hour else None


def _decimal(written: str) -> bool:
    return len(written) <= 8 and written.replace(".", "").isdigit()


def _ward(items: Sequence[Term | Day], at: int) -> tuple[Plots, int] | None:
    """Read ``FOR ALL``."""
    whole = term_at(items, at).role is Role.WHOLE_WARD
    return (Plots(whole_ward=True), 1) if whole else None


def _plots(items: Sequence[Term | Day], at: int) -> tuple[Plots, int] | None:
    sign = term_at(items, at).role
    if sign not in NAMING:
        return None
    names: list[str] = []
    end = at + 1
    joined = True
    while joined or sign is not Role.PLOT:
        named, length = _listed(items, end, sign) if joined else _numbered(items, end)
        if not named:
            break
        names += named
        end += length
        joined = term_at(items, end).role is Role.AND and bool(_listed(items, end + 1, sign)[0])
        end += joined
    return (Plots(tuple(dict.fromkeys(names))), end - at) if names else None


def _listed(items: Sequence[Term | Day], at: int, sign: Role) -> tuple[list[str], int]:
    """Read plots right after their sign or after *and*: numbers, a letter, or words for a name."""
    numbered = _numbered(items, at)
    if numbered[0]:
        return numbered
    end = at
    while end < at + MOST_NAME_WORDS and _is_name(term_at(items, end)):
        end += 1
    if end > at:
        return [" ".join(term_at(items, n).written for n in range(at, end)).upper()], end - at
    letter = term_at(items, at)
    single = sign is not Role.FOR and letter.role is Role.ONE_OF and len(letter.written) == 1
    return ([letter.written.upper()], 1) if single else ([], 0)


def _numbered(items: Sequence[Term | Day], at: int) -> tuple[list[str], int]:
    """Read ``3``, ``3,5`` and ``3a``; a number that is an amount names no plot."""
    term, following = term_at(items, at), term_at(items, at + 1)
    if term.role not in NUMBERS or -1 in written_numbers(term) or following.role is Role.MM:
        return [], 0
    names = [str(number) for number in written_numbers(term)]
    if following.glued and len(following.written) == 1:
        return [*names[:-1], f"{names[-1]}{following.written.upper()}"], 2
    return names, 1


def _is_name(term: Term) -> bool:
    return term.role is Role.UNKNOWN and bool(term.written) and term.written[0].isalpha()
