"""Which texts hold a wording that no speaker of the language has read yet."""

from collections.abc import Iterator
from functools import cache
from string import Formatter

from reminder_service.texts.catalogues import SOURCE_LANGUAGE, shipped_catalogue
from reminder_service.texts.words import letters_of

FEWEST_LETTERS = 4
"""Letters beside its placeholders by which a wording is known again (setting)."""


def holds_draft(body: str, language: str) -> bool:
    """Whether a text was made from a wording that its catalogue marks as a draft.

    A wording is known again by its own words in their order, whatever stands between them.

    Parameters
    ----------
    body : a text in the language, filled in, in costly letters or not
    language : ISO 639-1 code

    Returns
    -------
    True if any part of it is a draft

    Raises
    ------
    NoCatalogue
        None is shipped for the language.
    """
    if language == SOURCE_LANGUAGE:
        return False
    plain = _plain(body, language)
    return any(_stands_in(plain, words) for words in _draft_words(language))


@cache
def _draft_words(language: str) -> tuple[tuple[str, ...], ...]:
    """Each draft as the words between its placeholders."""
    drafts = [each for each in shipped_catalogue(language) if each.id and each.fuzzy]
    strings = (each.string or "" for each in drafts)
    forms = [form for each in strings for form in ((each,) if isinstance(each, str) else each)]
    found = (tuple(_words(_plain(form, language))) for form in forms)
    return tuple(words for words in found if _letters(words) >= FEWEST_LETTERS)


def _words(form: str) -> Iterator[str]:
    try:
        pieces = list(Formatter().parse(form))
    except ValueError:
        # Braces that do not pair are a fault that the check of texts tells.
        yield form
        return
    yield from (words for words, *_ in pieces if words)


def _letters(words: tuple[str, ...]) -> int:
    return sum(letter.isalpha() for piece in words for letter in piece)


def _stands_in(body: str, words: tuple[str, ...]) -> bool:
    place = 0
    for piece in words:
        found = body.find(piece, place)
        if found < 0:
            return False
        place = found + len(piece)
    return True


def _plain(text: str, language: str) -> str:
    rule = letters_of(language)
    return "".join(rule.get(letter, letter) for letter in text)
