"""A text read in its sender's language, and where nothing in it is known, in the other ones."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import lru_cache

from reminder_service.kinds import REPORTS, Kind
from reminder_service.texts.commands import command
from reminder_service.texts.dates import Day
from reminder_service.texts.day_forms import with_days
from reminder_service.texts.marks import Item, Plots, with_marks
from reminder_service.texts.mending import short_mended
from reminder_service.texts.reading import is_readable, read
from reminder_service.texts.reading_types import Reading, Said
from reminder_service.texts.reports import UNREAD
from reminder_service.texts.terms import Term, plain, task_words, terms
from reminder_service.texts.words import (
    BASE_LANGUAGE,
    WORD,
    Phrase,
    Role,
    WordList,
    folded,
    shipped_languages,
    word_list,
)

Tasks = Mapping[str, Sequence[str]]
"""For each task of the rulebook the words by which a farmer names it."""

LOUD = frozenset({Role.KIND, Role.TASK, Role.DOUBT})
"""Roles of words that another language must know too, before it may read the text."""

LONG_DOUBT = 6
"""Letters from which a word that begins like one of doubt in another language is one (setting)."""


def read_in(
    body: str,
    on: date,
    languages: Sequence[str],
    tasks: Tasks,
    gauge_keeper: bool = False,
) -> tuple[Reading, str]:
    """What a text says or asks, in whichever language it is written.

    The sender's own language comes first. What it cannot read is read in the shipped language that
    knows most of its words: more than the own one, if that knows a telling one, and each telling
    one of those. Where several know equally many they must agree. At last a short word may be
    mended, where the rest of the text is a day and plots. The stop words of every language are
    obeyed, except where the own language knows the word as another one. A report is not read beside
    a word of doubt of another language, nor where one that knows more of the words reads another
    thing or day.

    Parameters
    ----------
    body : any text
    on : local day of sending, 2000 to 2099
    languages : the sender's languages, ISO 639-1 codes, the own one first; those that no word
        list is shipped for are passed over, and without any it is English
    tasks : for each task of the rulebook the words by which a farmer names it; each language's
        own words for tasks of these names are added
    gauge_keeper : the sender keeps a rain gauge, so ``RAIN 12`` is an amount

    Returns
    -------
    what it was read as, and the language that it was read in (the own one if in none)

    Examples
    --------
    >>> reading, language = read_in("MVUA 12 NOV", date(2026, 11, 25), ["en"], {})
    >>> reading.said[0].on, language
    (datetime.date(2026, 11, 12), 'sw')
    """
    own, *others = _lists(languages)
    if not is_readable(body):
        return UNREAD, own.language
    text = _Text(body, on, tasks, gauge_keeper)
    reading = text.read(own)
    if any(said.kind is Kind.STOP for said in reading.said):
        return reading, own.language
    stops = next((words for words in others if _stops(body, own, words)), None)
    if stops is not None:
        return Reading(said=(Said(Kind.STOP),)), stops.language
    if not reading.unread:
        sure = not _is_doubted(text, reading, own, others)
        return (reading if sure else UNREAD), own.language
    readings = {words.language: text.read(words) for words in _best_knowing(text, own, others)}
    if any(not each.unread for each in readings.values()):
        agree = len(set(readings.values())) == 1
        language, each = next(iter(readings.items()))
        return (each, language) if agree else (UNREAD, own.language)
    return _with_short_word_mended(text, (own, *others)), own.language


@dataclass(frozen=True, slots=True)
class _Text:
    """A text with what it is read by, beside a language."""

    body: str
    on: date
    tasks: Tasks
    gauge_keeper: bool

    def read(self, words: WordList) -> Reading:
        """Read it in one language."""
        return read(self.body, self.on, words, self.tasks, self.gauge_keeper)

    def terms(self, words: WordList) -> list[Term]:
        """Take it apart in one language."""
        return terms(self.body, words, self.tasks)


def _lists(languages: Sequence[str]) -> list[WordList]:
    """Word lists to read by: the sender's, then every other one."""
    shipped = shipped_languages()
    spoken = [language for language in languages if language in shipped] or [BASE_LANGUAGE]
    return [word_list(language) for language in dict.fromkeys([*spoken, *shipped])]


def _stops(body: str, own: WordList, words: WordList) -> bool:
    """Whether a text is a stop in another language, by words listed as they stand."""
    if _stop_beginnings(words).isdisjoint(_words(body)):
        return False
    found = terms(body, words, {})
    said = command(found, found)
    if said is None or said.kind is not Kind.STOP:
        return False
    stop = next(term for term in found if term.meaning.name == Kind.STOP)
    phrase = _words(stop.written)
    meanings = [own.phrases[part] for part in (phrase, phrase[:1]) if part in own.phrases]
    return phrase in words.phrases and all(each.name == Kind.STOP for each in meanings)


@lru_cache(maxsize=64)
def _stop_beginnings(words: WordList) -> frozenset[str]:
    listed = words.phrases.items()
    return frozenset(phrase[0] for phrase, meaning in listed if meaning.name == Kind.STOP)


def _words(written: str) -> Phrase:
    return tuple(WORD.findall(folded(plain(written))))


def _is_doubted(text: _Text, reading: Reading, own: WordList, others: Sequence[WordList]) -> bool:
    """Whether another language speaks against a report in the own one.

    A word that the own one does not know is one of doubt there; or it knows more of the words and
    reads another thing or day.
    """
    if not any(said.kind in REPORTS for said in (*reading.said, *reading.ask)):
        return False
    known = text.terms(own)
    strange = [_words(term.written) for term in known if term.role is Role.UNKNOWN and term.written]
    if any(_doubts(words, word) for words in others for word in strange):
        return True
    better = dict.fromkeys([*_best_knowing(text, own, others), *_english(text, own, others)])
    return bool(reading.said) and any(_told(text.read(words)) != _told(reading) for words in better)


def _told(reading: Reading) -> list[tuple[Kind, date | None]]:
    """What a text reports and when; on which plots may be named in words of any language."""
    return [(said.kind, said.on) for said in reading.said]


def _english(text: _Text, own: WordList, others: Sequence[WordList]) -> list[WordList]:
    """Find English, if it knows as much and all that tells something here is English.

    Its words lie beneath every other language's: a Portuguese *no* may be the English one.
    """
    known = text.terms(own)
    telling = {term.meaning for term in known if term.role in LOUD}
    return [
        words
        for words in others
        if words.language == BASE_LANGUAGE
        and _strange(text.terms(words)) <= _strange(known)
        and telling <= {term.meaning for term in text.terms(words)}
    ]


def _doubts(words: WordList, word: Phrase) -> bool:
    if word in words.phrases:
        meaning = words.phrases[word]
        return meaning.role is Role.DOUBT or meaning.name == Kind.NO
    begins = any(part.startswith(words.doubt_beginnings) for part in word)
    return begins and len(word[0]) >= LONG_DOUBT if word else False


def _best_knowing(text: _Text, own: WordList, others: Sequence[WordList]) -> list[WordList]:
    """Find the languages that know most words of a text; none if the own one knows as many."""
    known = text.terms(own)
    strange = {
        words.language: _strange(text.terms(words))
        for words in others
        if _knows(words, known, text.tasks)
    }
    telling = any(term.role in LOUD for term in known)
    least = min((*strange.values(), _strange(known) - telling))
    return [words for words in others if strange.get(words.language) == least]


def _strange(found: Sequence[Term]) -> int:
    """Count the words that nothing is known of."""
    return sum(term.role is Role.UNKNOWN and bool(term.written) for term in found)


def _knows(words: WordList, known: Sequence[Term], tasks: Tasks) -> bool:
    """Whether a language knows every telling word that the own one found, as whatever."""
    named = task_words(tasks, words).phrases
    telling = [_words(term.written) for term in known if term.role in LOUD]
    return all(phrase in words.phrases or phrase in named for phrase in telling)


def _with_short_word_mended(text: _Text, lists: Sequence[WordList]) -> Reading:
    """Read ``ran 12 nov``: one short word that no language knows beside a day."""
    own = lists[0]
    found = text.terms(own)
    strange = next((term for term in found if term.role is Role.UNKNOWN), None)
    if strange is None or any(_words(strange.written) in words.phrases for words in lists):
        return UNREAD
    guess = short_mended(folded(strange.written), own)
    rest = [item for item in with_marks(with_days(found, text.on)) if item is not strange]
    if guess is None or not rest or not all(map(_is_clear, rest)):
        return UNREAD
    alone = rf"(?<![^\W\d_]){strange.written}(?![^\W\d_])"
    body = re.sub(alone, guess, plain(text.body), count=1)
    reading = replace(text, body=body).read(own)
    kinds = {said.kind for said in (*reading.said, *reading.ask)}
    return reading if kinds and kinds <= {*REPORTS} else UNREAD


def _is_clear(item: Item) -> bool:
    """Whether an item is a sure date, or plots."""
    if isinstance(item, Day):
        return item.on is not None and not item.weekday_only
    return isinstance(item, Plots)
