"""Readings that a text which could not be read is likely to mean, for a person to choose from.

Nothing here is ever taken by itself: a person sees the text and touches the reading that fits.
Each reading is one that `read` itself gives to a text near the one that came: with a word put
right that is a few letters off, without the words that nobody knows, or with one report and one
day of it alone.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import islice, product

from reminder_service.kinds import REPORTS, Kind
from reminder_service.texts.dates import Day, nearest_day, past_day_of_month
from reminder_service.texts.day_forms import with_days
from reminder_service.texts.marks import Item, Plots, with_marks
from reminder_service.texts.mending import LONGEST_WORD
from reminder_service.texts.reading import read
from reminder_service.texts.reading_types import Reading, Said
from reminder_service.texts.terms import Term, terms
from reminder_service.texts.words import Role, WordList

MOST_READINGS = 4
"""Readings offered for one text (setting)."""

MOST_GUESSES = 3
"""Meanings tried for a word that is not listed (setting)."""

MOST_MENDED = 6
"""Words of one text that are put right (setting)."""

MOST_TRIES = 24
"""Texts near the one that came that are read (setting); keeps a page of long texts quick."""

LONGEST_LOOKED_AT = 320
"""Characters of a text that are looked at: two texts' worth; keeps the page quick (setting)."""

SHORTEST_WORD = 3
"""Shorter words are not put right (setting)."""

LETTERS_OFF = {4: 1, 7: 2, LONGEST_WORD: 3}
"""Letters that a word of up to so many may be off; for a person to judge, so wide (setting)."""

MENDED_ROLES = frozenset({Role.MONTH, Role.WEEKDAY, Role.DAYS_BACK, Role.MM, Role.PLOT})
"""Words beside those of reports and tasks that are worth putting right."""

Choice = tuple[Said, ...]
"""One reading: everything that the text says by it."""


@dataclass(frozen=True, slots=True)
class _Reader:
    """What a text is read by."""

    on: date
    words: WordList
    tasks: Mapping[str, Sequence[str]]

    def read(self, body: str) -> Reading:
        """Read a text near the one that came."""
        return read(body, self.on, self.words, self.tasks)


def likely_readings(
    body: str,
    on: date,
    lists: Sequence[WordList],
    tasks: Mapping[str, Sequence[str]],
    expected: Sequence[Kind] = (),
) -> list[Choice]:
    """Most likely readings of a text, the likeliest first.

    The sender's own language comes first; another one is tried where it offers nothing. A text
    that says *not*, *yet* or *planned* in any of them is offered no reading: one touch must not
    turn it into its opposite. No reading lies in the future.

    Parameters
    ----------
    body : any text
    on : local day of sending, 2000 to 2099
    lists : words of one language or more, the sender's own first
    tasks : for each task of the rulebook the words by which a farmer names it
    expected : the facts that this farmer would report next, for a text that names a day alone

    Returns
    -------
    four readings at most, each of one report or more; none where nothing is likely

    Examples
    --------
    >>> from reminder_service.texts.words import word_list
    >>> choices = likely_readings("gemnitaed 21 nov", date(2026, 11, 25), [word_list("en")], {})
    >>> [(said.kind.value, said.on.isoformat()) for said in choices[0]]
    [('germinated', '2026-11-21')]
    """
    body = body[:LONGEST_LOOKED_AT]
    if _is_doubtful(body, lists, tasks):
        return []
    readers = [_Reader(on, words, tasks) for words in lists]
    found = next(filter(None, (_likely(body, reader, ()) for reader in readers)), None)
    return found or _likely(body, readers[0], expected)


def _likely(body: str, reader: _Reader, expected: Sequence[Kind]) -> list[Choice]:
    choices: dict[Choice, Choice] = {}
    for near in islice(_near(body, reader, expected), MOST_TRIES):
        for choice in _choices(reader.read(near), reader.on):
            same = tuple(replace(said, on_given=True) for said in choice)
            choices.setdefault(same, choice)
        if len(choices) >= MOST_READINGS:
            break
    return list(choices.values())[:MOST_READINGS]


def _is_doubtful(body: str, lists: Sequence[WordList], tasks: Mapping[str, Sequence[str]]) -> bool:
    """Whether a word of doubt stands in the text, in the own language or beside it in another."""
    own, *others = lists
    strange = " ".join(unknown_words(body, own, tasks))
    return _doubts(body, own, tasks) or any(_doubts(strange, words, tasks) for words in others)


def _doubts(body: str, words: WordList, tasks: Mapping[str, Sequence[str]]) -> bool:
    return any(term.role is Role.DOUBT for term in terms(body, words, tasks))


def unknown_words(
    body: str, words: WordList, tasks: Mapping[str, Sequence[str]]
) -> tuple[str, ...]:
    """Words of a text that the word list does not know, each once, in order.

    Parameters
    ----------
    body : any text
    words : the language's words
    tasks : for each task of the rulebook the words by which a farmer names it

    Returns
    -------
    words of three letters or more, in small letters
    """
    found = (
        term.written for term in terms(body[:LONGEST_LOOKED_AT], words, tasks) if _unknown(term)
    )
    return tuple(dict.fromkeys(found))


def letters_off(one: str, other: str, most: int) -> int:
    """Count the letters to add, drop, change or swap with their neighbour to turn one into other.

    Parameters
    ----------
    one, other : words
    most : counting stops above this

    Returns
    -------
    the count; ``most + 1`` for any larger one

    References
    ----------
    Damerau's four kinds of typing error (F. J. Damerau, 1964; from memory), counted row by row.

    Examples
    --------
    >>> letters_off("gemnitaed", "germinated", 3)
    3
    """
    # One error changes the length by one letter at most, and the set of letters by two.
    if abs(len(one) - len(other)) > most or len(set(one) ^ set(other)) > 2 * most:
        return most + 1
    before: list[int] = []
    row = list(range(len(other) + 1))
    for i, letter in enumerate(one, 1):
        before, last, row = row, before, [i]
        for j, wanted in enumerate(other, 1):
            cost = min(before[j] + 1, row[j - 1] + 1, before[j - 1] + (letter != wanted))
            if i > 1 and j > 1 and letter == other[j - 2] and one[i - 2] == wanted:
                cost = min(cost, last[j - 2] + 1)
            row.append(cost)
    return min(row[-1], most + 1)


def _near(body: str, reader: _Reader, expected: Sequence[Kind]) -> Iterator[str]:
    """Texts near the one that came, the nearest first."""
    yield body
    found = terms(body, reader.words, reader.tasks)
    strange = dict.fromkeys(term.written for term in found if _unknown(term))
    guesses = {written: _guesses(written, reader) for written in islice(strange, MOST_MENDED)}
    yield from _mended(found, guesses)
    items = with_marks(with_days(found, reader.on))
    heads = list(dict.fromkeys(_heads(found, guesses, reader)))
    days = list(dict.fromkeys(_days(items, reader.on)))
    if heads and not any(isinstance(item, Day) for item in items):
        days = days or [reader.on]
    for head, day in product(heads or [_word_of(k, reader.words) for k in expected], days):
        yield f"{head} {day:%d/%m/%Y}{_plots(items)}"


def _choices(reading: Reading, on: date) -> Iterator[Choice]:
    """The choices that one reading leaves: reports with a day that has come."""
    options = [reading.said] if reading.said else [(said,) for said in reading.ask]
    for said in options:
        if all(_reports(one) and one.on is not None and one.on <= on for one in said):
            yield said


def _reports(said: Said) -> bool:
    """Whether it is a report for one plot; what holds for a whole ward is not taken by a touch."""
    whole = said.kind is not Kind.DONE or said.task is not None
    return said.kind in REPORTS and whole and not said.whole_ward


def _unknown(term: Term) -> bool:
    return (
        term.role is Role.UNKNOWN and term.written.isalpha() and len(term.written) >= SHORTEST_WORD
    )


def _mended(found: Sequence[Term], guesses: Mapping[str, Sequence[str]]) -> Iterator[str]:
    """The text without unknown words, or with what they are likely to be, one change at a time."""
    meant = [written for written, words in guesses.items() if words]
    best = {written: guesses[written][0] for written in meant}
    yield _rewritten(found, best)
    for written in meant:
        for other in guesses[written][1:]:
            yield _rewritten(found, best | {written: other})


def _rewritten(found: Sequence[Term], meant: Mapping[str, str]) -> str:
    kept = (meant.get(term.written, "") if _unknown(term) else term.written for term in found)
    return " ".join(filter(None, kept))


def _guesses(written: str, reader: _Reader) -> list[str]:
    """Listed words that one could be: the nearest of each meaning, the nearest meaning first."""
    most = next((off for upto, off in LETTERS_OFF.items() if len(written) <= upto), 0)
    near = sorted(
        (off, listed, meant)
        for listed, meant in _worth_mending(reader)
        if (off := letters_off(written, listed, most)) <= most
    )
    nearest: dict[str, str] = {}
    for _, listed, meant in near:
        nearest.setdefault(meant, listed)
    return list(nearest.values())[:MOST_GUESSES]


def _worth_mending(reader: _Reader) -> Iterator[tuple[str, str]]:
    """Listed words that reports are made of, each with a name for its meaning."""
    for phrase, meaning in reader.words.phrases.items():
        reports = meaning.role is Role.KIND and meaning.name in REPORTS
        if len(phrase) == 1 and (reports or meaning.role in MENDED_ROLES):
            yield phrase[0], f"{meaning.role} {meaning.name} {meaning.value}"
    for spoken in (reader.tasks, reader.words.tasks):
        for task, words in spoken.items():
            yield from ((word, f"task {task}") for word in words if word.isalpha())


def _heads(
    found: Sequence[Term], guesses: Mapping[str, Sequence[str]], reader: _Reader
) -> Iterator[str]:
    """What the text may report, each in words that can be read."""
    for term in dict.fromkeys(found):
        if term.tasks:
            yield f"done {term.written}"
        elif term.role is Role.KIND and term.meaning.name in REPORTS:
            yield term.written
        elif term.written in guesses:
            meant = " ".join(guesses[term.written])
            yield from _heads(terms(meant, reader.words, reader.tasks), {}, reader)


def _days(items: Sequence[Item], on: date) -> Iterator[date]:
    """Days that the text may name: read, or with day and month swapped; else a lone number's."""
    named = [item for item in items if isinstance(item, Day)]
    yield from (day.on for day in named if day.on is not None)
    for day in named:
        if day.on is None and len(day.numbers) > 1:
            yield from filter(None, [nearest_day(day.numbers[1], day.numbers[0], on)])
    numbers = [item for item in items if isinstance(item, Term) and item.role is Role.NUMBER]
    if len(numbers) == 1 and not any(day.on for day in named):
        yield from filter(None, [past_day_of_month(numbers[0].meaning.value, on)])


def _plots(items: Sequence[Item]) -> str:
    named = (item.names for item in items if isinstance(item, Plots))
    return "".join(f" plot {name.lower()}" for names in named for name in names)


def _word_of(kind: Kind, words: WordList) -> str:
    return next(
        " ".join(phrase)
        for phrase, meaning in words.phrases.items()
        if meaning.role is Role.KIND and meaning.name == kind
    )
