"""Gettext catalogues: the wordings of each language, and the English texts they translate."""

import gettext
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable
from io import BytesIO

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po

from reminder_service.texts.errors import NoCatalogue

SOURCE_LANGUAGE = "en"
"""The language that the wordings stand in, in the code of this room and in the rulebooks."""


@dataclass(frozen=True, slots=True)
class SourceText:
    """One English text that catalogues translate.

    Attributes
    ----------
    text : as it stands in the code or a rulebook
    plural : its form for many, where it counts something
    where : what it is for, in words a translator can use
    """

    text: str
    plural: str | None
    where: str


@cache
def catalogue(language: str) -> gettext.NullTranslations:
    """Wordings of a language; English ones for what it does not translate.

    A text that is marked ``fuzzy`` is a draft that no speaker has read yet; it is used all the
    same, since a farmer is helped more by a clumsy text than by one in a foreign language.

    Parameters
    ----------
    language : ISO 639-1 code

    Returns
    -------
    the catalogue; an empty one for English, or where none is shipped
    """
    if language not in catalogue_languages():
        return gettext.NullTranslations()
    compiled = BytesIO()
    write_mo(compiled, shipped_catalogue(language), use_fuzzy=True)
    compiled.seek(0)
    return gettext.GNUTranslations(compiled)


def catalogue_languages() -> tuple[str, ...]:
    """Codes of the languages that a catalogue is shipped for, sorted; English needs none."""
    folders = (entry for entry in _folder().iterdir() if entry.is_dir())
    return tuple(sorted(each.name for each in folders if _file(each.name).is_file()))


def shipped_catalogue(language: str) -> Catalog:
    """Catalogue of a language as its file has it, drafts and comments too.

    Parameters
    ----------
    language : ISO 639-1 code

    Raises
    ------
    NoCatalogue
        None is shipped.
    """
    if language not in catalogue_languages():
        raise NoCatalogue(language, catalogue_languages())
    with _file(language).open("rb") as file:
        return read_po(file, locale=language)


@cache
def own_texts() -> tuple[SourceText, ...]:
    """The English texts in the code of this room, in the order they stand there."""
    return tuple(_extracted())


def _extracted() -> Iterator[SourceText]:
    with resources.as_file(resources.files("reminder_service.texts")) as folder:
        found = extract_from_dir(folder, method_map=[("**.py", "python")])
        for file, _line, said, _comments, _context in sorted(found, key=lambda each: each[:2]):
            text, plural = (said[0], said[1]) if isinstance(said, tuple) else (said, None)
            yield SourceText(text, plural, file.removesuffix(".py"))


def _folder() -> Traversable:
    return resources.files("reminder_service.texts") / "locale"


def _file(language: str) -> Traversable:
    return _folder() / language / "LC_MESSAGES" / "texts.po"
