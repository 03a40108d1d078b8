"""A text taken apart into terms: words with their meaning, numbers, and numbers in a chain."""

import re
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from types import MappingProxyType

from reminder_service.texts.mending import mended
from reminder_service.texts.words import WORD, Meaning, Phrase, Role, WordList, folded

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

LONGEST_NUMBER = 6
"""Digits of the longest number that may mean something here (setting)."""


NAMING = frozenset({Role.PLOT, Role.PLOTS, Role.FOR})
"""Roles of words that a plot's name may follow."""


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece of a text, before it is known what it means.

    Attributes
    ----------
    group : name of the group of `PIECE` that it fits
    written : as it stands in the text
    folded : the same without marks
    glued : nothing stands between it and the piece before it
    """

    group: str
    written: str
    folded: str
    glued: bool


@dataclass(frozen=True, slots=True)
class Named:
    """Tasks that a phrase stands for.

    Attributes
    ----------
    tasks : their names
    past : the phrase says by itself that the task was done (``thinned``)
    """

    tasks: tuple[str, ...]
    past: bool


@dataclass(frozen=True, slots=True, eq=False)
class TaskWords:
    """Phrases by which tasks are named.

    Attributes
    ----------
    phrases : the tasks that each stands for
    single : those of one word, for typing errors
    longest : words in the longest one; 0 if there are none
    """

    phrases: Mapping[Phrase, Named]
    single: frozenset[str]
    longest: int


@dataclass(frozen=True, slots=True)
class Term:
    """One word, phrase or number of a text.

    Attributes
    ----------
    written : as it stands in the text, in small letters, marks kept
    meaning : what it means; a number carries its value, -1 if it is too long
    tasks : the tasks that the caller's rulebook calls by it
    past : for a task's word: it says that the task was done
    glued : nothing stands between it and what is before it (``3a``)
    """

    written: str
    meaning: Meaning
    tasks: tuple[str, ...] = ()
    past: bool = False
    glued: bool = False

    @property
    def role(self) -> Role:
        """The part it plays."""
        return self.meaning.role


def terms(body: str, words: WordList, tasks: Mapping[str, Sequence[str]]) -> list[Term]:
    """Terms of a text, in order.

    The longest phrase wins; a task's words win over a word that says nothing. Signs between
    words are dropped, and words are looked up without their marks. A word that is not listed may
    be a typing error of one that is, or begin so that it speaks of doubt.

    Parameters
    ----------
    body : the text
    words : the language's words
    tasks : the words by which a farmer names each task

    Returns
    -------
    the terms
    """
    return list(_terms(body, words, task_words(tasks, words)))


@lru_cache(maxsize=32)
def _terms(body: str, words: WordList, named: TaskWords) -> tuple[Term, ...]:
    """The same, kept: one text is looked at more than once before it is read."""
    pieces = _pieces(body)
    longest = max(words.longest, named.longest)
    found: list[Term] = []
    at = 0
    while at < len(pieces):
        run = list(_run(pieces, at, longest))
        term, length = _phrase_term(run, words, named)
        if term is None:
            after_plot = bool(found) and found[-1].role in NAMING
            term = _single_term(pieces[at], words, named, after_plot=after_plot)
        found.append(replace(term, glued=True) if pieces[at].glued else term)
        at += length
    return tuple(found)


def task_words(tasks: Mapping[str, Sequence[str]], words: WordList) -> TaskWords:
    """Phrases by which the caller's tasks are named: the caller's and the language's own.

    Parameters
    ----------
    tasks : the words by which a farmer names each task
    words : the language's words; those for tasks that the caller does not know are left out

    Returns
    -------
    the phrases
    """
    return _task_words(tuple((name, tuple(spoken)) for name, spoken in tasks.items()), words)


@lru_cache(maxsize=64)
def _task_words(tasks: tuple[tuple[str, tuple[str, ...]], ...], words: WordList) -> TaskWords:
    """The same, kept: a rulebook's few words come with every text."""
    phrases: dict[Phrase, Named] = {}
    for name, spoken in tasks:
        done = {_phrase(written) for written in words.tasks_done.get(name, ())}
        own = {_phrase(written) for written in (name, *spoken, *words.tasks.get(name, ()))}
        for phrase in sorted(own | done):
            past = phrase in done or (
                phrase[-1].endswith(words.past)
                and any(o != phrase and phrase[-1].startswith(o[-1]) for o in own)
            )
            before = phrases[phrase].tasks if phrase in phrases else ()
            phrases[phrase] = Named((*before, name), past)
    single = frozenset(phrase[0] for phrase in phrases if len(phrase) == 1)
    return TaskWords(MappingProxyType(phrases), single, max(map(len, phrases), default=0))


def _pieces(body: str) -> list[Piece]:
    found: list[Piece] = []
    end = -1
    for match in PIECE.finditer(plain(body)):
        written = match.group()
        found.append(
            Piece(str(match.lastgroup), written, folded(written), glued=match.start() == end)
        )
        end = match.end()
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
    if body.isascii():
        return " ".join(APOSTROPHES.sub("", body.casefold()).split())
    small = APOSTROPHES.sub("", unicodedata.normalize("NFKC", body).casefold())
    digits = (str(unicodedata.decimal(c)) if c.isdecimal() else c for c in small)
    # A mark that no letter with it exists for would cut its word in two.
    kept = (c for c in digits if not unicodedata.combining(c))
    return " ".join("".join(kept).split())


def _run(pieces: Sequence[Piece], at: int, longest: int) -> Iterator[str]:
    """Words and numbers from here on that a phrase may be made of."""
    for piece in pieces[at : at + longest]:
        if piece.group not in ("word", "number"):
            return
        yield piece.folded


def _single_term(piece: Piece, words: WordList, named: TaskWords, *, after_plot: bool) -> Term:
    """Number, mended word or word of doubt that a piece is; else a word that is not known."""
    if piece.group != "word":
        return _number_term(piece.group, piece.written)
    # Before typing errors: "ndidzabzala" (shall plant) is one letter from "ndidabzala" (planted).
    if len(piece.folded) > 3 and piece.folded.startswith(words.doubt_beginnings):
        return Term(piece.written, Meaning(Role.UNKNOWN if after_plot else Role.DOUBT))
    guess = mended(piece.folded, words, named.single)
    if guess is not None:
        return _listed_term((guess,), piece.written, words, named)
    return Term(piece.written, Meaning(Role.UNKNOWN))


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


def _phrase(written: str) -> Phrase:
    return tuple(WORD.findall(folded(plain(written))))


def _phrase_term(run: Sequence[str], words: WordList, named: TaskWords) -> tuple[Term | None, int]:
    """Find the listed phrase that a run of words begins with, and how many words it takes."""
    for length in range(len(run), 0, -1):
        phrase = tuple(run[:length])
        if phrase in words.phrases or phrase in named.phrases:
            return _listed_term(phrase, " ".join(phrase), words, named), length
    return None, 1


def _listed_term(phrase: Phrase, written: str, words: WordList, named: TaskWords) -> Term:
    meaning, task = words.phrases.get(phrase), named.phrases.get(phrase)
    if meaning is None or (task is not None and meaning.role is not Role.KIND):
        meaning = Meaning(Role.TASK)
    return Term(written, meaning) if task is None else Term(written, meaning, task.tasks, task.past)
