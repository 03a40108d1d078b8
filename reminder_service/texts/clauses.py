"""A text split into clauses: what each says, with the day, plots and numbers that belong to it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TypeGuard

from reminder_service.kinds import Kind
from reminder_service.texts.dates import Day, agreed
from reminder_service.texts.marks import Amount, Item, Plots, term_at, written_numbers
from reminder_service.texts.terms import Term
from reminder_service.texts.words import Role

SILENT = frozenset(
    {
        Role.FILLER,
        Role.LINK,
        Role.AND,
        Role.CLOCK,
        Role.ONE_OF,
        Role.ROUND,
        Role.PLOT,
        Role.PLOTS,
        Role.FOR,
        Role.THIS,
        Role.HOUR_WORD,
    }
)
"""Parts that change nothing where they were not put together with others."""

SILENT_KINDS = frozenset({Kind.YES, Kind.START, Kind.DONE})
"""Kinds that change nothing beside a report: ``yes, rain 12 Nov``."""

ROUNDS = range(1, 10)
"""Rounds of a task that a text may name; a higher number could be a day (setting)."""


@dataclass(frozen=True, slots=True)
class Head:
    """What a clause says.

    Attributes
    ----------
    kind : kind of report or question
    written : as it stands in the text
    tasks : for ``done`` and ``why``: the tasks that the word stands for
    number : the task's round, where it stands right after the word
    """

    kind: Kind
    written: str
    tasks: tuple[str, ...] = ()
    number: int | None = None


Part = Item | Head
"""One part of a text, once it is known what each clause says."""


@dataclass(frozen=True, slots=True)
class Clause:
    """What one stretch of a text says: one kind, or several tasks done.

    Attributes
    ----------
    heads : what it says
    parts : all of it, in order
    """

    heads: tuple[Head, ...]
    parts: tuple[Part, ...]

    @property
    def days(self) -> list[Day]:
        """The days in it."""
        return [part for part in self.parts if isinstance(part, Day)]

    @property
    def day(self) -> Day | None:
        """The one day that it names; a day without a date if it names several."""
        return agreed(self.days)

    @property
    def amounts(self) -> list[float]:
        """The amounts of rain in it, in mm."""
        return [part.mm for part in self.parts if isinstance(part, Amount)]

    @property
    def plots(self) -> tuple[str, ...]:
        """The plots that it names."""
        names = (name for part in self.parts if isinstance(part, Plots) for name in part.names)
        return tuple(dict.fromkeys(names))

    @property
    def whole_ward(self) -> bool:
        """Whether it speaks of every plot that the sender speaks for."""
        return any(isinstance(part, Plots) and part.whole_ward for part in self.parts)

    @property
    def numbers(self) -> list[int]:
        """The numbers in it that belong to nothing else; -1 for one too long."""
        terms = (part for part in self.parts if isinstance(part, Term))
        numeric = (term for term in terms if term.role in (Role.NUMBER, Role.PAIR))
        return [number for term in numeric for number in written_numbers(term)]

    @property
    def leftover(self) -> str:
        """The first number or unread chain in it, as written; empty if there is none."""
        roles = (Role.NUMBER, Role.PAIR, Role.CHAIN)
        return next((t.written for t in self.parts if isinstance(t, Term) and t.role in roles), "")

    @property
    def unknown(self) -> str:
        """The first word in it that nothing is known of; empty if there is none."""
        numeric = (Role.NUMBER, Role.PAIR, Role.CHAIN)
        return next(
            (
                term.written
                for term in self.parts
                if isinstance(term, Term)
                and term.role not in SILENT
                and term.role not in numeric
                and not (term.role is Role.KIND and term.meaning.name in SILENT_KINDS)
            ),
            "",
        )


def with_heads(items: Sequence[Item]) -> list[Part] | None:
    """Parts of a text with each kind and each task done marked as a head.

    ``DONE THIN``, ``thinning done`` and a task's word in the past (``thinned``) say that a task
    is done. ``DONE`` beside a fact (``planting done``) adds nothing. A word that names both a
    task and a kind (``borer``) is the task right beside ``DONE`` only.

    Parameters
    ----------
    items : the items, in order

    Returns
    -------
    the parts; None if a task is named but not said to be done
    """
    spoken = [at for at, item in enumerate(items) if isinstance(item, Term) and _speaks(item)]
    marks = [at for at in spoken if _is_done(items[at])]
    mark_first = bool(marks) and spoken[0] == marks[0]
    pairs = [(b, a) for a, b in pairwise(spoken)] if mark_first else list(pairwise(spoken))
    neighbour = dict(pairs)
    parts: list[Part] = list(items)
    for at in spoken:
        term = term_at(items, at)
        beside = neighbour.get(at) in marks
        if term.role is Role.TASK or (term.tasks and beside):
            done = mark_first or any(mark > at for mark in marks)
            if not (done or term.past):
                return None
            parts[at] = Head(Kind.DONE, term.written, term.tasks)
        elif at not in marks:
            parts[at] = Head(Kind(term.meaning.name), term.written)
        elif len(spoken) == len(marks) and at == marks[0]:
            parts[at] = Head(Kind.DONE, term.written)
    return _with_rounds(parts)


def clauses(parts: Sequence[Part]) -> list[Clause] | None:
    """Clauses of a text.

    A clause reaches from its head to the next one (``rain 12/11 germ 21/11``). Where that gives
    one of them two days, each may begin with its day instead (``12/11 rain 21/11 germ``).

    Parameters
    ----------
    parts : the parts, in order, with one head or more

    Returns
    -------
    the clauses in order; None if days and heads cannot be matched
    """
    starts = [at for at in range(len(parts)) if _starts_clause(parts, at)]
    by_head = _split(parts, [0, *starts[1:]])
    if len(by_head) == 1 or all(len(clause.days) < 2 for clause in by_head):
        return by_head
    by_day = _split(parts, [0, *[n for n, p in enumerate(parts) if isinstance(p, Day)][1:]])
    first = next(part for part in parts if isinstance(part, Head | Day))
    matched = all(_says_one_thing(clause) for clause in by_day) and len(by_day) == len(by_head)
    return by_day if isinstance(first, Day) and matched else None


def shared_plots(parts: Sequence[Part], found: Sequence[Clause]) -> Plots:
    """Plots that hold for every clause: named once, before or after all of them.

    Parameters
    ----------
    parts : the parts of the text, in order
    found : its clauses

    Returns
    -------
    the plots; none where it names none for all
    """
    loud = [part for part in parts if not (isinstance(part, Term) and part.role in SILENT)]
    naming = [clause for clause in found if clause.plots or clause.whole_ward]
    outside = bool(loud) and (isinstance(loud[0], Plots) or isinstance(loud[-1], Plots))
    if len(naming) != 1 or not outside:
        return Plots()
    return Plots(naming[0].plots, naming[0].whole_ward)


def _speaks(term: Term) -> bool:
    silent = term.role is Role.KIND and term.meaning.name in SILENT_KINDS - {Kind.DONE}
    return term.role in (Role.KIND, Role.TASK) and not silent


def _is_done(item: Item) -> bool:
    return isinstance(item, Term) and item.meaning.name == Kind.DONE


def _with_rounds(parts: list[Part]) -> list[Part]:
    """Take the number right beside a task's word as its round: ``weed 2``, ``second weeding``."""
    found: list[Part] = []
    for part in parts:
        before = found[-1] if found else None
        if isinstance(part, Head) and part.tasks and _is_round(before):
            found[-1] = replace(part, number=before.meaning.value)
        elif isinstance(before, Head) and before.tasks and before.number is None:
            if _is_round(part):
                found[-1] = replace(before, number=part.meaning.value)
            elif not (isinstance(part, Term) and part.role is Role.ROUND):
                found.append(part)
        else:
            found.append(part)
    return found


def _is_round(part: Part | None) -> TypeGuard[Term]:
    return isinstance(part, Term) and part.role is Role.NUMBER and part.meaning.value in ROUNDS


def _starts_clause(parts: Sequence[Part], at: int) -> bool:
    """Whether a head begins a clause: it does not repeat or go on with the head before it."""
    head = parts[at]
    if not isinstance(head, Head):
        return False
    between = at - 1
    while between >= 0 and _is_silent(parts[between]):
        between -= 1
    other = parts[between] if between >= 0 else None
    return not (isinstance(other, Head) and _goes_on(other, head))


def _goes_on(one: Head, other: Head) -> bool:
    rain = {Kind.RAIN, Kind.FIRST_RAIN}
    return one.kind == other.kind or {one.kind, other.kind} == rain


def _is_silent(part: Part) -> bool:
    return isinstance(part, Term) and (part.role in SILENT or part.meaning.name in SILENT_KINDS)


def _split(parts: Sequence[Part], starts: Sequence[int]) -> list[Clause]:
    stretches = [tuple(parts[a:b]) for a, b in pairwise([*starts, len(parts)])]
    return [
        Clause(tuple(part for part in stretch if isinstance(part, Head)), stretch)
        for stretch in stretches
    ]


def _says_one_thing(clause: Clause) -> bool:
    return bool(clause.heads) and all(_goes_on(clause.heads[0], head) for head in clause.heads)
