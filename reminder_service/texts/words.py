"""The words of one language, read from its data file and laid over the English ones."""

import re
import tomllib
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable
from types import MappingProxyType
from typing import Any

from reminder_service.kinds import Kind
from reminder_service.texts.errors import NoWordList, WordListError
from reminder_service.texts.segments import is_gsm

Phrase = tuple[str, ...]
"""The words of a phrase, in small letters, in order."""

WORD = re.compile(r"[^\W\d_]+|\d+")
"""A run of letters, or of digits."""

BASE_LANGUAGE = "en"
"""The language whose words every other one is laid over, since farmers mix the two."""

UNLISTED_KINDS = frozenset({Kind.PLOT, Kind.CHOICE})
"""Kinds that are told by a plot's sign and by a lone number, not by words of their own."""


class Role(StrEnum):
    """What part a word or a number plays in a text."""

    KIND = "kinds"
    MONTH = "months"
    WEEKDAY = "weekdays"
    DAYS_BACK = "days_back"
    UNIT = "units"
    NUMBER = "numbers"
    LANGUAGE = "languages"
    ONE_OF = "one-of"
    AGO = "ago"
    AGO_BEFORE = "ago-before"
    LAST = "last"
    THIS = "this"
    DAY_WORD = "day-word"
    MONTH_WORD = "month-word"
    ORDINAL = "ordinal"
    LINK = "link"
    OF_ALL = "of-all"
    MM = "mm"
    CLOCK = "clock"
    HOUR_WORD = "hour-word"
    PLOT = "plot"
    PLOTS = "plots"
    FOR = "for"
    WHOLE_WARD = "whole-ward"
    AND = "and"
    ROUND = "round"
    FILLER = "filler"
    DOUBT = "doubt"
    CHAIN = "numbers with separators"
    PAIR = "two numbers with a comma"
    TASK = "task"
    UNKNOWN = "unknown"


KEYED_SECTIONS = (Role.MONTH, Role.WEEKDAY, Role.DAYS_BACK, Role.UNIT, Role.NUMBER)
"""Sections of the file whose keys are whole numbers."""

NAMED_SECTIONS: Mapping[str, frozenset[Role]] = MappingProxyType(
    {
        "signs": frozenset(
            {
                Role.ONE_OF,
                Role.AGO,
                Role.AGO_BEFORE,
                Role.LAST,
                Role.THIS,
                Role.DAY_WORD,
                Role.MONTH_WORD,
                Role.ORDINAL,
                Role.LINK,
                Role.OF_ALL,
                Role.MM,
                Role.CLOCK,
                Role.HOUR_WORD,
                Role.PLOT,
                Role.PLOTS,
                Role.FOR,
                Role.WHOLE_WARD,
                Role.AND,
                Role.ROUND,
            }
        ),
        "beside": frozenset({Role.FILLER, Role.DOUBT}),
    }
)
"""Sections of the file whose keys are roles."""

MAYBE_NUMBERS = frozenset({Role.MONTH, Role.WEEKDAY, Role.ONE_OF})
"""Roles whose words may stand among the numbers too (Portuguese ``dez``, ``segunda``, ``um``)."""


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a phrase means.

    Attributes
    ----------
    role : the part it plays
    value : the month (1 to 12), weekday (0 is Monday), days back, number, or days in the unit;
        for a day word: 1 where it is a unit too
    name : the kind of report or question, or the language code
    number : the number that a month's or weekday's word, or *a*, may stand for instead
    """

    role: Role
    value: int = 0
    name: str = ""
    number: int | None = None


@dataclass(frozen=True, slots=True, eq=False)
class WordList:
    """The words of one language, those of English beneath them; each list equals itself only.

    Attributes
    ----------
    language : ISO 639-1 code
    phrases : meaning of each phrase, in letters without marks
    longest : words in the longest phrase
    tasks : words by which farmers name the tasks of the shipped rulebooks, beside the rulebook's
    tasks_done : words that say by themselves that a task was done
    letters : letters outside the GSM alphabet, and what may stand for each
    past : endings that make a task's word say that the task was done, beside one without them
    doubt_beginnings : a word that is not listed and begins so turns a report into something else
    near : phrases of one word by first letter, for typing errors
    """

    language: str
    phrases: Mapping[Phrase, Meaning]
    longest: int
    tasks: Mapping[str, tuple[str, ...]]
    tasks_done: Mapping[str, tuple[str, ...]]
    letters: Mapping[str, str]
    past: tuple[str, ...]
    doubt_beginnings: tuple[str, ...]
    near: Mapping[str, tuple[str, ...]]


@cache
def shipped_languages() -> tuple[str, ...]:
    """Codes of the languages that a word list is shipped for, sorted.

    Returns
    -------
    ISO 639-1 codes
    """
    names = (entry.name for entry in _folder().iterdir())
    return tuple(sorted(name[:-5] for name in names if name.endswith(".toml")))


@cache
def word_list(language: str) -> WordList:
    """Shipped word list of a language.

    Parameters
    ----------
    language : ISO 639-1 code

    Returns
    -------
    its words

    Raises
    ------
    NoWordList
        None is shipped.
    WordListError
        The file has faults.
    """
    if language not in shipped_languages():
        raise NoWordList(language, shipped_languages())
    base = None if language == BASE_LANGUAGE else word_list(BASE_LANGUAGE)
    return parsed_word_list((_folder() / f"{language}.toml").read_text("utf-8"), language, base)


def folded(written: str) -> str:
    """Text in small letters without marks, as words are looked up.

    Parameters
    ----------
    written : any text

    Returns
    -------
    the text

    References
    ----------
    Unicode Standard Annex 15 (form D; combining marks are left out).

    Examples
    --------
    >>> folded("Amanhã")
    'amanha'
    """
    if written.isascii():
        return written.casefold()
    apart = unicodedata.normalize("NFD", written.casefold())
    return "".join(char for char in apart if not unicodedata.combining(char))


def letters_of(language: str) -> Mapping[str, str]:
    """What may stand for costly letters in a language; nothing where it has no word list.

    Parameters
    ----------
    language : ISO 639-1 code
    """
    return word_list(language).letters if language in shipped_languages() else {}


def parsed_word_list(text: str, language: str, base: WordList | None = None) -> WordList:
    """Word list of a language from the text of its file.

    Parameters
    ----------
    text : a TOML document; see ``words/en.toml`` for its sections
    language : ISO 639-1 code that it must name
    base : the list that it is laid over: its own phrases win, and only its kinds must be complete

    Returns
    -------
    its words

    Raises
    ------
    WordListError
        The file has faults; all are listed.
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        raise WordListError(language, [str(fault)]) from fault
    faults: list[str] = []
    if data.get("language") != language:
        faults.append(f"language is {data.get('language')!r}, expected {language!r}")
    own = _phrases(data, faults, whole=base is None)
    tasks, done = (_tasks(data, name, faults) for name in ("tasks", "tasks_done"))
    letters = _letters(data, faults)
    if faults:
        raise WordListError(language, faults)
    past = tuple(str(ending) for ending in data.get("past", ()))
    phrases = MappingProxyType({**(base.phrases if base else {}), **own})
    return WordList(
        language,
        phrases,
        max(map(len, phrases)),
        _joined(base.tasks if base else {}, tasks),
        _joined(base.tasks_done if base else {}, done),
        letters,
        (*(base.past if base else ()), *past),
        tuple(folded(str(beginning)) for beginning in data.get("doubt_beginnings", ())),
        _by_first_letter(phrases),
    )


def _folder() -> Traversable:
    return resources.files("reminder_service.texts") / "words"


def _phrases(data: Mapping[str, Any], faults: list[str], *, whole: bool) -> dict[Phrase, Meaning]:
    """Meaning of every phrase of the file, looked up without marks; two meanings are a fault."""
    phrases: dict[Phrase, Meaning] = {}
    sources: dict[Phrase, str] = {}
    for path, meaning, written in _entries(data, faults, whole=whole):
        phrase = _phrase(path, written, faults)
        if not phrase:
            continue
        if meaning.role is Role.KIND and phrase[-1].isdecimal():
            faults.append(f"{path} has {written!r}, expected no number last: it could be the day")
        other = phrases.get(phrase)
        both = None if other is None else _either(other, meaning)
        if other is not None and both is None:
            faults.append(
                f"{path} has {written!r}, which already stands elsewhere in the file: "
                f"{sources[phrase]} (words are compared without their marks)"
            )
            continue
        phrases[phrase] = both or meaning
        sources[phrase] = f"{path} has {written!r}"
    return phrases


def _phrase(path: str, written: object, faults: list[str]) -> Phrase:
    """Words of a listed phrase without their marks; none, and a fault, if it is not well formed."""
    words = tuple(WORD.findall(written)) if isinstance(written, str) else ()
    if " ".join(words) != written or written != written.casefold() or _is_number(words):
        faults.append(f"{path} has {written!r}, expected words in small letters")
        return ()
    return tuple(map(folded, words))


def _is_number(words: Phrase) -> bool:
    return all(word.isdecimal() for word in words)


def _either(one: Meaning, other: Meaning) -> Meaning | None:
    """Meaning of a phrase in two sections: the numbers and one more, or unit and day word."""
    if {one.role, other.role} == {Role.UNIT, Role.DAY_WORD}:
        return Meaning(Role.DAY_WORD, one.value + other.value)
    named, number = (one, other) if other.role is Role.NUMBER else (other, one)
    fits = number.role is Role.NUMBER and named.role in MAYBE_NUMBERS and named.number is None
    return replace(named, number=number.value) if fits else None


def _entries(
    data: Mapping[str, Any], faults: list[str], *, whole: bool
) -> Iterator[tuple[str, Meaning, object]]:
    """Each phrase of the file with its path and meaning; faults of the sections are noted."""
    kinds = frozenset(Kind) - UNLISTED_KINDS
    for path, key, written in _section(data, Role.KIND.value, kinds, faults):
        yield path, Meaning(Role.KIND, name=key), written
    for path, key, written in _section(data, Role.LANGUAGE.value, None, faults, needed=whole):
        yield path, Meaning(Role.LANGUAGE, name=key), written
    for role in KEYED_SECTIONS:
        for path, key, written in _section(data, role.value, None, faults, needed=whole):
            if re.fullmatch(r"-?\d{1,3}", key):
                yield path, Meaning(role, int(key)), written
            else:
                faults.append(f"{path}: the key is {key!r}, expected a whole number")
    for name, roles in NAMED_SECTIONS.items():
        for path, key, written in _section(data, name, roles, faults, needed=whole):
            yield path, Meaning(Role(key)), written


def _tasks(data: Mapping[str, Any], name: str, faults: list[str]) -> Mapping[str, tuple[str, ...]]:
    """Words for tasks; a language whose words stand in the rulebooks needs no such section."""
    found: dict[str, tuple[str, ...]] = {}
    for path, key, written in _section(data, name, None, faults, needed=False):
        phrase = _phrase(path, written, faults)
        found[key] = (*found.get(key, ()), " ".join(phrase))
    return found


def _joined(
    one: Mapping[str, tuple[str, ...]], other: Mapping[str, tuple[str, ...]]
) -> Mapping[str, tuple[str, ...]]:
    names = dict.fromkeys([*one, *other])
    return MappingProxyType({name: (*one.get(name, ()), *other.get(name, ())) for name in names})


def _letters(data: Mapping[str, Any], faults: list[str]) -> Mapping[str, str]:
    """What may stand for a letter outside the GSM alphabet; no section where nothing may."""
    section = data.get("letters", {})
    if not isinstance(section, dict):
        faults.append("letters is no section")
        return MappingProxyType({})
    for letter, instead in section.items():
        if len(letter) != 1 or is_gsm(letter):
            faults.append(f"letters has {letter!r}, expected one letter outside the GSM alphabet")
        if not isinstance(instead, str) or not is_gsm(instead):
            faults.append(f"letters.{letter} is {instead!r}, expected letters of the GSM alphabet")
    return MappingProxyType({letter: str(instead) for letter, instead in section.items()})


def _section(
    data: Mapping[str, Any],
    name: str,
    keys: frozenset[str] | None,
    faults: list[str],
    *,
    needed: bool = True,
) -> Iterator[tuple[str, str, object]]:
    section = data.get(name, {} if not needed else None)
    if not isinstance(section, dict):
        faults.append(f"section [{name}] is missing")
        return
    if keys is not None:
        missing = sorted(keys - section.keys()) if needed else []
        faults += [f"{name}.{key} is missing" for key in missing]
        faults += [f"{name}.{key} is not known" for key in sorted(section.keys() - keys)]
    for key, written in section.items():
        if not isinstance(written, list):
            faults.append(f"{name}.{key} is {written!r}, expected a list of phrases")
        elif keys is None or key in keys:
            yield from ((f"{name}.{key}", key, phrase) for phrase in written)


def _by_first_letter(phrases: Mapping[Phrase, Meaning]) -> Mapping[str, tuple[str, ...]]:
    groups: dict[str, tuple[str, ...]] = {}
    for phrase in phrases:
        if len(phrase) == 1:
            groups[phrase[0][0]] = (*groups.get(phrase[0][0], ()), phrase[0])
    return MappingProxyType(groups)
