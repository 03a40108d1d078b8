"""A text taken apart into terms: words with their meaning, numbers, and numbers in a chain."""

import re
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from reminder_service.texts.words import WORD, Meaning, Phrase, Role, WordList

PIECE = re.compile(
    r"(?P<clock>\d{1,2}:\d{2}(?!\d))"
    r"|(?P<chain>\d+(?:(?: ?/ ?|[.\-])\d+)+)"
    r"|(?P<pair>(?<![\d,])\d+,\d+(?![\d,]))"
    r"|(?P<percent>\d+ ?%)"
    r"|(?P<number>\d+)"
    r"|(?P<word>[^\W\d_]+)"
)
"""The pieces of a text: ``6:30``, ``12/11/2026``, ``23,5``, ``12``, ``rain``."""

APOSTROPHES = re.compile("['`\N{RIGHT SINGLE QUOTATION MARK}\N{MODIFIER LETTER APOSTROPHE}]")

FUZZY_LETTERS = 5
"""A typing error is allowed for in words of this many letters or more (setting)."""

LONGEST_WORD = 24
"""Longer runs of letters are not looked up with a typing error (setting)."""

LONGEST_NUMBER = 6
"""Digits of the longest number that may mean something here (setting)."""


@dataclass(frozen=True, slots=True)
class Named:
    """Tasks that a phrase stands for.

    Attributes
    ----------
    tasks : their names
    past : the phrase is one of their words with an ending of the past (``thinned``)
    """

    tasks: tuple[str, ...]
    past: bool


@dataclass(frozen=True, slots=True)
class Term:
    """One word, phrase or number of a text.

    Attributes
    ----------
    written : as it stands in the text, in small letters
    meaning : what it means; a number carries its value, -1 if it is too long
    tasks : the tasks that the caller's rulebook calls by it
    past : for a task's word: it says that the task was done
    """

    written: str
    meaning: Meaning
    tasks: tuple[str, ...] = ()
    past: bool = False

    @property
    def role(self) -> Role:
        """The part it plays."""
        return self.meaning.role


def terms(body: str, words: WordList, tasks: Mapping[str, Sequence[str]]) -> list[Term]:
    """Terms of a text, in order.

    The longest phrase wins; a task's words win over a word that says nothing. Signs between
    words are dropped. A word of five letters or more may be one typing error away from a listed
    one with the same first letter, if there is only one such meaning.

    Parameters
    ----------
    body : the text
    words : the language's words
    tasks : the words by which a farmer names each task

    Returns
    -------
    the terms

    References
    ----------
    Own choices, as the settings above say.
    """
    pieces = [(str(match.lastgroup), match.group()) for match in PIECE.finditer(plain(body))]
    named = _task_phrases(tasks, words)
    longest = max([words.longest, *map(len, named)])
    found: list[Term] = []
    at = 0
    while at < len(pieces):
        group, written = pieces[at]
        if group != "word":
            found.append(_number_term(group, written))
            at += 1
            continue
        run = tuple(_word_run(pieces, at, longest))
        term, length = _phrase_term(run, words, named)
        found.append(term)
        at += length
    return found


def plain(body: str) -> str:
    """Text in one form: compatibility forms, small letters, ASCII digits, no apostrophes.

    Parameters
    ----------
    body : any text

    Returns
    -------
    the text, with every white space as one blank

    References
    ----------
    Unicode Standard Annex 15 (form KC).

    Examples
    --------
    >>> plain("It's  12 NOV")
    'its 12 nov'
    """
    folded = APOSTROPHES.sub("", unicodedata.normalize("NFKC", body).casefold())
    digits = (str(unicodedata.decimal(c)) if c.isdecimal() else c for c in folded)
    return " ".join("".join(digits).split())


def _word_run(pieces: Sequence[tuple[str, str]], at: int, longest: int) -> Iterator[str]:
    for group, written in pieces[at : at + longest]:
        if group != "word":
            return
        yield written


def _number_term(group: str, written: str) -> Term:
    if group == "clock":
        return Term(written, Meaning(Role.CLOCK))
    if group == "percent":
        return Term(written, Meaning(Role.UNKNOWN))
    if group == "chain":
        return Term(written.replace(" ", ""), Meaning(Role.CHAIN))
    if group == "pair":
        return Term(written, Meaning(Role.PAIR))
    value = int(written) if len(written) <= LONGEST_NUMBER else -1
    return Term(written, Meaning(Role.NUMBER, value))


def _task_phrases(tasks: Mapping[str, Sequence[str]], words: WordList) -> dict[Phrase, Named]:
    phrases: dict[Phrase, Named] = {}
    for name, spoken in tasks.items():
        own = {tuple(WORD.findall(plain(written))) for written in (name, *spoken)}
        for phrase in own:
            past = phrase[-1].endswith(words.past) and any(
                other != phrase and phrase[-1].startswith(other[-1]) for other in own
            )
            before = phrases[phrase].tasks if phrase in phrases else ()
            phrases[phrase] = Named((*before, name), past)
    return phrases


def _phrase_term(run: Phrase, words: WordList, named: Mapping[Phrase, Named]) -> tuple[Term, int]:
    """Find the term that a run of words begins with, and how many words it takes."""
    for length in range(len(run), 0, -1):
        phrase = run[:length]
        if phrase in words.phrases or phrase in named:
            return _listed_term(phrase, words, named), length
    guess = _mended(run[0], words, named)
    if guess is not None:
        listed = _listed_term((guess,), words, named)
        return replace(listed, written=run[0]), 1
    return Term(run[0], Meaning(Role.UNKNOWN)), 1


def _listed_term(phrase: Phrase, words: WordList, named: Mapping[Phrase, Named]) -> Term:
    meaning, task = words.phrases.get(phrase), named.get(phrase)
    if meaning is None or (task is not None and meaning.role is not Role.KIND):
        meaning = Meaning(Role.TASK)
    written = " ".join(phrase)
    return Term(written, meaning) if task is None else Term(written, meaning, task.tasks, task.past)


def _mended(written: str, words: WordList, named: Mapping[Phrase, Named]) -> str | None:
    """Find the listed word that this is a typing error of; None if none or several could be."""
    if not FUZZY_LETTERS <= len(written) <= LONGEST_WORD:
        return None
    listed = (*words.near.get(written[0], ()), *(p[0] for p in named if len(p) == 1))
    close = [w for w in listed if len(w) >= FUZZY_LETTERS and one_error_apart(written, w)]
    meanings = {(words.phrases.get((word,)), named.get((word,))) for word in close}
    return close[0] if len(meanings) == 1 else None


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
