"""Looking at the terms around a place in a text."""

from collections.abc import Sequence
from dataclasses import replace

from reminder_service.texts.dates import YEARS, Day
from reminder_service.texts.terms import Term
from reminder_service.texts.words import Meaning, Role

END = Term("", Meaning(Role.UNKNOWN))
"""What stands before the first and after the last term."""

Found = tuple[Day, int]
"""A day and the number of terms that it takes."""


def at_place(terms: Sequence[Term], at: int) -> Term:
    """Term at a place; one that means nothing where there is none.

    Parameters
    ----------
    terms : terms of a text
    at : place in them, also outside

    Returns
    -------
    the term
    """
    return terms[at] if 0 <= at < len(terms) else END


def role_at(terms: Sequence[Term], at: int) -> Role:
    """Role of the term at a place.

    Parameters
    ----------
    terms : terms of a text
    at : place in them, also outside

    Returns
    -------
    the role; unknown outside
    """
    return at_place(terms, at).role


def written_from(terms: Sequence[Term], at: int, length: int) -> str:
    """Stretch of a text as written.

    Parameters
    ----------
    terms : terms of a text
    at : place of the first
    length : number of terms

    Returns
    -------
    their words and numbers, with blanks between
    """
    return " ".join(term.written for term in terms[at : at + length])


def day_of(terms: Sequence[Term], at: int, end: int, day: Day) -> Found:
    """Day that stands between two places.

    Parameters
    ----------
    terms : terms of a text
    at, end : its first place, and the place after its last
    day : the day, whatever is noted as its wording

    Returns
    -------
    the day as written there, and its length
    """
    return replace(day, written=written_from(terms, at, end - at)), end - at


def no_day(terms: Sequence[Term], at: int, end: int) -> Found:
    """Stretch that looks like a day but is none, or could be several.

    Parameters
    ----------
    terms : terms of a text
    at, end : its first place, and the place after its last

    Returns
    -------
    a day without a date, and its length
    """
    return Day(None, written_from(terms, at, end - at)), end - at


def starts_other(terms: Sequence[Term], at: int) -> bool:
    """Whether the number here belongs to what follows it: an amount, a span, an hour, another day.

    Parameters
    ----------
    terms : terms of a text
    at : place of a number

    Returns
    -------
    True if so
    """
    following = at_place(terms, at + 1)
    if following.role is Role.ORDINAL and terms[at].role is Role.NUMBER:
        return role_at(terms, at + 2) is Role.MONTH
    if following.role is Role.UNIT and at_place(terms, at + 2).meaning.value in YEARS:
        return False  # the unit is the word for a year
    unit_too = following.role is Role.DAY_WORD and following.meaning.value > 0
    after = role_at(terms, at + 2)
    counted = unit_too and after not in (Role.NUMBER, Role.CHAIN, Role.LINK)
    return counted or following.role in (Role.MM, Role.UNIT, Role.MONTH, Role.CLOCK)


def past_links(terms: Sequence[Term], at: int, *also: Role) -> int:
    """Place after the linking words here.

    Parameters
    ----------
    terms : terms of a text
    at : place to look from
    also : roles that may stand there too

    Returns
    -------
    the place of the first other term, at most three on
    """
    end = at
    while end < at + 3 and role_at(terms, end) in (Role.LINK, *also):
        end += 1
    return end


def is_part(terms: Sequence[Term], at: int) -> bool:
    """Whether the number word here is part of a longer one that is not listed: ``vinte e cinco``.

    Parameters
    ----------
    terms : terms of a text
    at : place of a number

    Returns
    -------
    True if another number word, or one that is not known, stands beside it, with or without *and*
    between (``vinet e um``)
    """
    if not _is_number_word(at_place(terms, at)):
        return False
    before = at - 1 - (role_at(terms, at - 1) is Role.AND)
    after = at + 1 + (role_at(terms, at + 1) is Role.AND)
    beside = [at_place(terms, place) for place in (before, after)]
    return any(_is_number_word(term) or is_strange(term) for term in beside)


def is_strange(term: Term) -> bool:
    """Whether a term is a word that nothing is known of.

    Parameters
    ----------
    term : any term, also the one that stands for none

    Returns
    -------
    True if so
    """
    return term.role is Role.UNKNOWN and bool(term.written)


def _is_number_word(term: Term) -> bool:
    return term.role is Role.NUMBER and not term.written[0].isdigit()
