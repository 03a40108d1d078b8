"""What a farmer says of a pest in words: signs of another one, or of larvae inside the stem.

Such a text is no report: it waits for a coordinator, and the farmer is sent to the adviser. The
words stand in the word lists; those of every language are looked for, as farmers mix them.
"""

import re
import tomllib
from collections.abc import Iterator, Mapping
from enum import StrEnum
from functools import cache
from importlib import resources

from reminder_service.texts.errors import WordListError
from reminder_service.texts.words import folded, shipped_languages

MOST_LETTERS = 400
"""Letters of a text that are looked at (setting)."""

SECTION = "pests"
"""Section of a word list."""

DENIED = "denied"
"""Its key of words that, right before a sign, say that it was not seen."""


class PestSign(StrEnum):
    """What the words point to; each is a key of the section. Another pest goes first."""

    ARMYWORM = "armyworm"
    IN_STEM = "in-stem"


def pest_sign(body: str) -> PestSign | None:
    """What a text says of a pest.

    Parameters
    ----------
    body : as it came

    Returns
    -------
    the sign, or None if it speaks of none that we know, or says that it was not seen

    Examples
    --------
    >>> pest_sign("BORER 12, it has an upside-down Y").value
    'armyworm'
    >>> pest_sign("FUNZA 12, wana Y kichwani").value, pest_sign("BORER 12")
    ('armyworm', None)
    """
    said = f" {_plain(body[:MOST_LETTERS])} "
    return next((sign for sign in PestSign if _signs()[sign].search(said)), None)


def pest_phrases(text: str, language: str) -> Mapping[str, tuple[str, ...]]:
    """The pest words of one language.

    Parameters
    ----------
    text : its word list, a TOML document; without the section it has no pest words
    language : ISO 639-1 code

    Returns
    -------
    phrases in small letters without marks, by sign and under ``denied``

    Raises
    ------
    WordListError
        The section has faults; all are listed.
    """
    section = tomllib.loads(text).get(SECTION, {})
    faults = list(_faults(section))
    if faults:
        raise WordListError(language, faults)
    return {key: tuple(_plain(phrase) for phrase in written) for key, written in section.items()}


@cache
def _signs() -> Mapping[PestSign, re.Pattern[str]]:
    """What finds each sign in a text: its phrases, unless a word of that language denies them."""
    folder = resources.files("reminder_service.texts") / "words"
    found: dict[PestSign, list[str]] = {sign: [] for sign in PestSign}
    for language in shipped_languages():
        phrases = pest_phrases((folder / f"{language}.toml").read_text("utf-8"), language)
        denied = "".join(f"(?<! {word} )" for word in phrases.get(DENIED, ()))
        for sign in PestSign:
            found[sign] += [f"{denied}{phrase}" for phrase in phrases.get(sign, ())]
    return {sign: re.compile(f"(?<= )(?:{'|'.join(found[sign])}) ") for sign in PestSign}


def _plain(written: str) -> str:
    """Words and digits in small letters without marks, one space between them."""
    return " ".join(re.findall(r"[^\W_]+", folded(written)))


def _faults(section: object) -> Iterator[str]:
    if not isinstance(section, dict):
        yield f"{SECTION} is no section"
        return
    known = {*PestSign, DENIED}
    yield from (f"{SECTION}.{key} is not known" for key in sorted(section.keys() - known))
    for key, written in section.items():
        phrases = written if isinstance(written, list) else [written]
        for phrase in phrases:
            if not isinstance(phrase, str) or not _plain(phrase):
                yield f"{SECTION}.{key} has {phrase!r}, expected words"
