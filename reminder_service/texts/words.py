"""The words of one language, read from its data file."""

import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
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

WORD = re.compile(r"[^\W\d_]+")
"""A run of letters."""

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
    LAST = "last"
    ORDINAL = "ordinal"
    LINK = "link"
    OF_ALL = "of-all"
    MM = "mm"
    CLOCK = "clock"
    PLOT = "plot"
    PLOTS = "plots"
    FOR = "for"
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
                Role.LAST,
                Role.ORDINAL,
                Role.LINK,
                Role.OF_ALL,
                Role.MM,
                Role.CLOCK,
                Role.PLOT,
                Role.PLOTS,
                Role.FOR,
                Role.AND,
                Role.ROUND,
            }
        ),
        "beside": frozenset({Role.FILLER, Role.DOUBT}),
    }
)
"""Sections of the file whose keys are roles."""


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a phrase means.

    Attributes
    ----------
    role : the part it plays
    value : the month (1 to 12), weekday (0 is Monday), days back, days in the unit or number
    name : the kind of report or question, or the language code
    """

    role: Role
    value: int = 0
    name: str = ""


@dataclass(frozen=True, slots=True)
class WordList:
    """The words of one language.

    Attributes
    ----------
    language : ISO 639-1 code
    phrases : meaning of each phrase
    longest : words in the longest phrase
    tasks : words by which farmers name the tasks of the shipped rulebooks, beside the rulebook's
    letters : letters outside the GSM alphabet, and what may stand for each
    past : endings that make a task's word say that the task was done, beside one without them
    near : phrases of one word by first letter, for typing errors
    """

    language: str
    phrases: Mapping[Phrase, Meaning]
    longest: int
    tasks: Mapping[str, tuple[str, ...]]
    letters: Mapping[str, str]
    past: tuple[str, ...]
    near: Mapping[str, tuple[str, ...]]


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
    return parsed_word_list((_folder() / f"{language}.toml").read_text("utf-8"), language)


def letters_of(language: str) -> Mapping[str, str]:
    """What may stand for costly letters in a language; nothing where it has no word list.

    Parameters
    ----------
    language : ISO 639-1 code
    """
    return word_list(language).letters if language in shipped_languages() else {}


def parsed_word_list(text: str, language: str) -> WordList:
    """Word list from the text of its file, with all faults reported at once.

    Parameters
    ----------
    text : TOML; the shipped ``en.toml`` shows the sections
    language : ISO 639-1 code that the file must name

    Returns
    -------
    the words

    Raises
    ------
    WordListError
        A section, key or phrase is missing or wrong, or a phrase has two meanings.
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        raise WordListError(language, [str(fault)]) from fault
    phrases: dict[Phrase, Meaning] = {}
    faults: list[str] = []
    if data.get("language") != language:
        faults.append(f"language is {data.get('language')!r}, expected {language!r}")
    for path, meaning, written in _entries(data, faults):
        phrase = tuple(WORD.findall(written)) if isinstance(written, str) else ()
        if not phrase or " ".join(phrase) != written or written != written.casefold():
            faults.append(f"{path} has {written!r}, expected words in small letters")
        elif phrase in phrases:
            faults.append(f"{path} has {written!r}, which already stands elsewhere in the file")
        else:
            phrases[phrase] = meaning
    tasks, letters = _tasks(data, faults), _letters(data, faults)
    if faults:
        raise WordListError(language, faults)
    longest = max(map(len, phrases))
    past = tuple(str(ending) for ending in data.get("past", ()))
    return WordList(
        language,
        MappingProxyType(phrases),
        longest,
        tasks,
        letters,
        past,
        _by_first_letter(phrases),
    )


def _folder() -> Traversable:
    return resources.files("reminder_service.texts") / "words"


def _entries(data: Mapping[str, Any], faults: list[str]) -> Iterator[tuple[str, Meaning, object]]:
    """Each phrase of the file with its path and meaning; faults of the sections are noted."""
    kinds = frozenset(Kind) - UNLISTED_KINDS
    for path, key, written in _section(data, Role.KIND.value, kinds, faults):
        yield path, Meaning(Role.KIND, name=key), written
    for path, key, written in _section(data, Role.LANGUAGE.value, None, faults):
        yield path, Meaning(Role.LANGUAGE, name=key), written
    for role in KEYED_SECTIONS:
        for path, key, written in _section(data, role.value, None, faults):
            if re.fullmatch(r"-?\d{1,3}", key):
                yield path, Meaning(role, int(key)), written
            else:
                faults.append(f"{path}: the key is {key!r}, expected a whole number")
    for name, roles in NAMED_SECTIONS.items():
        for path, key, written in _section(data, name, roles, faults):
            yield path, Meaning(Role(key)), written


def _tasks(data: Mapping[str, Any], faults: list[str]) -> Mapping[str, tuple[str, ...]]:
    """Words for tasks; a language whose words stand in the rulebooks needs no such section."""
    if "tasks" not in data:
        return MappingProxyType({})
    found: dict[str, tuple[str, ...]] = {}
    for path, key, written in _section(data, "tasks", None, faults):
        phrase = " ".join(WORD.findall(written)) if isinstance(written, str) else ""
        if not phrase or phrase != written or written != written.casefold():
            faults.append(f"{path} has {written!r}, expected words in small letters")
        found[key] = (*found.get(key, ()), phrase)
    return MappingProxyType(found)


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
    data: Mapping[str, Any], name: str, keys: frozenset[str] | None, faults: list[str]
) -> Iterator[tuple[str, str, object]]:
    section = data.get(name)
    if not isinstance(section, dict):
        faults.append(f"section [{name}] is missing")
        return
    if keys is not None:
        faults += [f"{name}.{key} is missing" for key in sorted(keys - section.keys())]
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
