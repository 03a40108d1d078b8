"""Words that are a number or something else: what stands beside them decides."""

from collections.abc import Sequence
from dataclasses import replace

from reminder_service.kinds import Kind
from reminder_service.texts.terms import Term
from reminder_service.texts.words import Meaning, Role

NUMBERED = frozenset(
    {
        Role.NUMBER,
        Role.PAIR,
        Role.PLOT,
        Role.PLOTS,
        Role.FOR,
        Role.DAY_WORD,
        Role.MONTH_WORD,
        Role.ROUND,
        Role.TASK,
        Role.AND,
    }
)
"""Roles before a word such as ``um`` that make it the number one instead of *a*."""


def settled(terms: Sequence[Term]) -> list[Term]:
    """Terms of a text, each word that may be a number taken as one thing.

    ``dez`` after a number is December, else ten. ``segunda`` right before a report's word is
    *second*; beside *last*, or in a text that speaks of no task, it is Monday; else it stays open,
    and is no day. ``um`` beside a number or a plot's word is one, else *a*.

    Parameters
    ----------
    terms : the terms, in order

    Returns
    -------
    the terms; one that stays open keeps its number in its meaning

    References
    ----------
    Own choice: never a guess where both make sense.
    """
    if all(term.meaning.number is None for term in terms):
        return list(terms)
    found: list[Term] = []
    for at, term in enumerate(terms):
        before = [*reversed(found[-2:])]
        if term.meaning.number is not None:
            term = SETTLERS[term.role](term, before, terms[at + 1 :], terms)
        found.append(term)
    return found


def _number(term: Term) -> Term:
    return replace(term, meaning=Meaning(Role.NUMBER, term.meaning.number or 0))


def _named(term: Term) -> Term:
    return replace(term, meaning=replace(term.meaning, number=None))


def _is_done(term: Term) -> bool:
    return term.meaning.name == Kind.DONE


def _month(
    term: Term, before: Sequence[Term], after: Sequence[Term], terms: Sequence[Term]
) -> Term:
    near = [each for each in before if each.role is not Role.LINK][:1]
    if near and near[0].role in (Role.NUMBER, Role.ORDINAL):
        return _named(term)
    return term if near and near[0].role is Role.MONTH_WORD else _number(term)


def _weekday(
    term: Term, before: Sequence[Term], after: Sequence[Term], terms: Sequence[Term]
) -> Term:
    roles = {each.role for each in (*before[:1], *after[:1])}
    if Role.LAST in roles:
        return _named(term)
    if after and after[0].role in (Role.KIND, Role.TASK) and not _is_done(after[0]):
        return _number(term)
    if any(
        each.tasks or each.role is Role.TASK or each.meaning.name == Kind.DONE for each in terms
    ):
        return term
    return _named(term)


def _one_of(
    term: Term, before: Sequence[Term], after: Sequence[Term], terms: Sequence[Term]
) -> Term:
    dated = [each.role for each in after if each.role is not Role.LINK][:1]
    following = after[0].role if after else None
    alone = len(terms) == 1
    beside = (before and before[0].role in NUMBERED) or following in (Role.NUMBER, Role.MM)
    return _number(term) if alone or beside or dated == [Role.MONTH] else _named(term)


SETTLERS = {Role.MONTH: _month, Role.WEEKDAY: _weekday, Role.ONE_OF: _one_of}
"""How each role that may be a number is settled."""
