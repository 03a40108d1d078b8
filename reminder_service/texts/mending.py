"""Typing errors: the one listed word that a word which is not listed can be."""

from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache
from types import MappingProxyType

from reminder_service.texts.words import Role, WordList

FUZZY_LETTERS = 5
"""A typing error is allowed for in words of this many letters or more (setting)."""

FUZZY_DAY_LETTERS = 6
"""The same for words that name a day, where an error is dearer (setting)."""

LONGEST_WORD = 24
"""Longer runs of letters are not looked up with a typing error (setting)."""

SHORT = range(3, FUZZY_LETTERS)
"""Letters of a short word that may be mended where the rest of its text is a day (setting)."""

DAY_ROLES = frozenset({Role.MONTH, Role.WEEKDAY, Role.DAYS_BACK})
"""Roles of words that name a day."""

NEVER_MENDED = frozenset({Role.NUMBER, Role.DOUBT})
"""Roles of words that stand as written or not at all: *eighty* is no *eight*."""

Forms = Mapping[str, tuple[tuple[int, str], ...]]
"""Words by each of their forms: as listed, and without one letter; each with its place."""


def mended(written: str, words: WordList, task_words: frozenset[str]) -> str | None:
    """Listed word that a word is a typing error of, if there is only one meaning it could have.

    The first letter must be right. A word that differs at its start alone speaks against it, and
    so does a short word for a day that is as near.

    Parameters
    ----------
    written : a word that is not listed, in small letters without marks
    words : the language's words
    task_words : single words by which the caller's tasks are named

    Returns
    -------
    the listed word; None if none or several could be meant

    References
    ----------
    Own choices, as the settings above say.
    """
    if not FUZZY_LETTERS <= len(written) <= LONGEST_WORD:
        return None
    listed = [*_alike(written, _listed_forms(words)), *_alike(written, _task_forms(task_words))]
    near = [word for word in listed if one_error_apart(written, word)]
    close = [word for word in near if len(word) >= FUZZY_LETTERS]
    if not close:
        return None
    days = [word for word in near if word not in close and _names_day(word, words)]
    others = (*close, *days, *_with_another_start(written, words))
    meanings = {(words.phrases.get((word,)), word in task_words and word) for word in others}
    meaning = words.phrases.get((close[0],))
    if len(meanings) > 1 or (meaning is not None and meaning.role in NEVER_MENDED):
        return None
    too_short = _names_day(close[0], words) and len(close[0]) < FUZZY_DAY_LETTERS
    return None if too_short else close[0]


def short_mended(written: str, words: WordList) -> str | None:
    """Word of four letters for a report that a short word is a typing error of.

    One letter is missing, too many, or swapped with its neighbour; another letter in its place is
    not mended. It must be the only listed word so close, save for words that say nothing and have
    another letter in its place (``gem`` is *germ*, though *get* is near).

    Parameters
    ----------
    written : a word that is not listed, in small letters without marks
    words : the language's words

    Returns
    -------
    the listed word; None if none or several could be meant

    References
    ----------
    Own choices, as the settings above say.
    """
    if len(written) not in (*SHORT, FUZZY_LETTERS):
        return None
    close = [
        word
        for word in words.near.get(written[0], ())
        if len(word) in SHORT and one_error_apart(written, word)
    ]
    changed = [word for word in close if _changed(written, word)]
    kept = [word for word in close if word not in changed]
    rivals = [word for word in changed if words.phrases[word,].role is not Role.FILLER]
    meanings = {words.phrases[word,] for word in (*kept, *rivals)}
    sure = len(meanings) == 1 and next(iter(meanings)).role is Role.KIND
    return kept[0] if sure and kept and len(kept[0]) == max(SHORT) else None


def one_error_apart(one: str, other: str) -> bool:
    """Whether one letter more, less, changed or swapped with its neighbour turns one into other.

    Parameters
    ----------
    one, other : words

    Returns
    -------
    True if so, and only if they share their first letter

    References
    ----------
    Damerau's four kinds of typing error (F. J. Damerau, 1964; from memory).

    Examples
    --------
    >>> one_error_apart("gremination", "germination")
    True
    """
    if one == other or one[0] != other[0] or abs(len(one) - len(other)) > 1:
        return False
    same = next((i for i, (a, b) in enumerate(zip(one, other, strict=False)) if a != b), None)
    at = min(len(one), len(other)) if same is None else same
    left, right = one[at:], other[at:]
    swapped = left[1:2] + left[:1] + left[2:]
    return left[1:] in (right, right[1:]) or left == right[1:] or swapped == right


def _alike(written: str, index: Forms) -> list[str]:
    """Listed words that are the same as this one without a letter of either, in their order."""
    found = {each for form in _forms(written) for each in index.get(form, ())}
    return [word for _, word in sorted(found)]


@lru_cache(maxsize=32)
def _listed_forms(words: WordList) -> Forms:
    return _indexed(word for group in words.near.values() for word in group)


@lru_cache(maxsize=32)
def _task_forms(task_words: frozenset[str]) -> Forms:
    return _indexed(sorted(task_words))


def _indexed(listed: Iterable[str]) -> Forms:
    """Words of three letters or more, each under all its forms."""
    index: dict[str, tuple[tuple[int, str], ...]] = {}
    for at, word in enumerate(listed):
        for form in _forms(word) if len(word) >= SHORT.start else ():
            index[form] = (*index.get(form, ()), (at, word))
    return MappingProxyType(index)


def _forms(word: str) -> set[str]:
    """Give the word, and the word without each of its letters."""
    return {word, *(word[:at] + word[at + 1 :] for at in range(len(word)))}


def _names_day(word: str, words: WordList) -> bool:
    meaning = words.phrases.get((word,))
    return meaning is not None and meaning.role in DAY_ROLES


def _changed(one: str, other: str) -> bool:
    """Whether another letter stands in one place, rather than one more, less or swapped."""
    return len(one) == len(other) and sorted(one) != sorted(other)


def _with_another_start(written: str, words: WordList) -> Iterator[str]:
    """Listed words that it is but for its first letter: changed, one too many, missing, swapped."""
    rest = written[1:]
    swapped = rest[:1] + written[0] + rest[1:]
    yield from (word for word in (rest, swapped) if (word,) in words.phrases)
    index = _listed_forms(words)
    for form in (rest, written):
        for _, word in index.get(form, ()):
            if word[1:] == form and word[0] != written[0]:
                yield word
