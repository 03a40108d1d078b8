"""Texts that are one command or question: stop, start, no, yes, a choice, join, why, plot."""

from collections.abc import Sequence

from reminder_service.kinds import Kind
from reminder_service.texts.clauses import ROUNDS
from reminder_service.texts.marks import Item, Plots
from reminder_service.texts.reading_types import Said
from reminder_service.texts.terms import Term
from reminder_service.texts.words import Role

POLITE = frozenset({Role.FILLER, Role.LINK, Role.AND, Role.ONE_OF, Role.FOR, Role.THIS})
"""Roles that say nothing beside a command."""

LONE = frozenset({Kind.NO, Kind.YES, Kind.START})
"""Kinds that count only where they stand alone."""


def command(terms: Sequence[Term], items: Sequence[Item]) -> Said | None:
    """Command that a text is, if it is one.

    A stop word at the very start is obeyed whatever follows it; after a greeting it is obeyed
    where nothing else is said. *No*, *yes*, *start* and a choice count only alone.

    Parameters
    ----------
    terms : the terms of the text, in order
    items : the same text with its days, amounts and plots put together

    Returns
    -------
    the command, or None
    """
    loud = [term for term in terms if term.role not in POLITE]
    if not loud:
        return None
    if _stops(terms, loud):
        return Said(Kind.STOP)
    kinds = [_kind(term) for term in loud]
    if kinds[0] in LONE and set(kinds) == {kinds[0]}:
        return Said(Kind(kinds[0]))
    if len(loud) == 1 and loud[0].role is Role.NUMBER and loud[0].meaning.value in ROUNDS:
        return Said(Kind.CHOICE, number=loud[0].meaning.value)
    if kinds[0] == Kind.JOIN:
        return Said(Kind.JOIN)
    if kinds[0] == Kind.LANGUAGE:
        return Said(Kind.LANGUAGE, language=_language(loud[1:]))
    if Kind.WHY in kinds:
        return _why(loud, items)
    return _plot(loud, items)


def _kind(term: Term) -> str:
    return term.meaning.name if term.role is Role.KIND else ""


def _stops(terms: Sequence[Term], loud: Sequence[Term]) -> bool:
    rest_unknown = all(term.role is Role.UNKNOWN for term in loud[1:])
    return _kind(terms[0]) == Kind.STOP or (_kind(loud[0]) == Kind.STOP and rest_unknown)


def _language(rest: Sequence[Term]) -> str | None:
    """Read the language asked for: by a listed name, or any code of two letters."""
    named = next((term.meaning.name for term in rest if term.role is Role.LANGUAGE), None)
    code = rest[0].written if rest and len(rest[0].written) == 2 else None
    return named or code


def _why(loud: Sequence[Term], items: Sequence[Item]) -> Said | None:
    """Read ``WHY THIN``; a fact told beside it leaves the text to be read as a report."""
    loud = [term for term in loud if term.role is not Role.ROUND]
    told = {_kind(term) for term in loud if not term.tasks} - {"", Kind.WHY, Kind.DONE}
    if told:
        return None
    at = next((n for n, term in enumerate(loud) if term.tasks), None)
    if at is None:
        return Said(Kind.WHY, plots=_plots(items))
    after = loud[at + 1] if at + 1 < len(loud) else None
    counted = after is not None and after.role is Role.NUMBER and after.meaning.value in ROUNDS
    number = after.meaning.value if counted and after is not None else None
    task = loud[at].tasks[0] if len(loud[at].tasks) == 1 else None
    return Said(Kind.WHY, task=task, number=number, plots=_plots(items))


def _plot(loud: Sequence[Term], items: Sequence[Item]) -> Said | None:
    """Read ``PLOT``, ``PLOT 3`` where nothing else is said."""
    if loud[0].role not in (Role.PLOT, Role.PLOTS):
        return None
    rest = [item for item in items if not isinstance(item, Term) or item.role not in POLITE]
    lone = len(loud) == 1 or (len(rest) == 1 and isinstance(rest[0], Plots))
    return Said(Kind.PLOT, plots=_plots(items)) if lone else None


def _plots(items: Sequence[Item]) -> tuple[str, ...]:
    return tuple(name for item in items if isinstance(item, Plots) for name in item.names)
