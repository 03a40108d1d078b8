"""What each column of a list holds, told by its heading in any shipped language. Pure."""

import re
import tomllib
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from difflib import SequenceMatcher
from enum import StrEnum
from functools import cache
from importlib import resources

from reminder_service.work.lists.errors import WrongColumns

NEAR = 0.8
"""How alike a heading and a known one must be to be taken for it (setting)."""

HEADINGS_WITHIN = 10
"""Rows at the top among which the headings are looked for (setting)."""


class Field(StrEnum):
    """What a column may hold."""

    WARD = "ward"
    FARMER = "farmer"
    PHONE = "phone"
    LANGUAGE = "language"
    PLOT = "plot"
    STATIONS = "stations"
    HECTARES = "hectares"
    SPACING = "spacing"
    DRESSING = "top-dressing"
    MATURITY = "maturity"
    SOIL = "soil"
    GENDER = "gender"
    WRONG = "wrong"


NOT_KEPT = frozenset({Field.GENDER, Field.WRONG})
"""Fields that are known and left out: nothing here keeps a gender; the other one is ours."""

SEVERAL = frozenset({Field.PHONE, *NOT_KEPT})
"""Fields that more than one column may hold."""

Columns = tuple[Field | None, ...]
"""What each column holds, from the first; None where it is left out."""


def folded(text: str) -> str:
    """A text by its letters and digits alone, without capitals, accents and marks.

    Examples
    --------
    >>> folded("  N.º da Parcela")
    'n o da parcela'
    """
    plain = unicodedata.normalize("NFKD", text.casefold())
    letters = "".join(letter for letter in plain if not unicodedata.combining(letter))
    return " ".join(re.findall(r"[^\W_]+", letters))


@cache
def word_table() -> Mapping[str, Mapping[str, Mapping[str, Sequence[str]]]]:
    """The words of lists: by section, meaning and language."""
    text = (resources.files(__package__) / "words.toml").read_text("utf-8")
    return tomllib.loads(text)


@cache
def meanings(section: str) -> Mapping[str, str]:
    """Every word of a section, folded, with what it means; the meaning's own name too.

    Parameters
    ----------
    section : ``columns``, ``top-dressing``, ``maturity`` or ``soil``
    """
    found: dict[str, str] = {}
    for meaning, languages in word_table()[section].items():
        found[folded(meaning)] = meaning
        for words in languages.values():
            found.update({folded(word): meaning for word in words})
    return found


@cache
def likeness(heading: str) -> Mapping[Field, float]:
    """How well a heading names each field, 0 to 1; those that it does not name are left out.

    Parameters
    ----------
    heading : as it stands in the file

    Examples
    --------
    >>> max(likeness("Fone number"), key=likeness("Fone number").get)
    <Field.PHONE: 'phone'>
    """
    wanted = re.sub(r" \d+$", "", folded(heading))
    if not wanted:
        return {}
    found: dict[Field, float] = {}
    for word, meaning in meanings("columns").items():
        ratio = _ratio(wanted, word)
        if ratio >= NEAR:
            field = Field(meaning)
            found[field] = max(found.get(field, 0.0), ratio)
    return found


def _ratio(wanted: str, word: str) -> float:
    """1 for the same; nearly so for a longer heading that holds the words; else by letters."""
    if wanted == word:
        return 1.0
    if len(word) > 3 and f" {word} " in f" {wanted} ":
        return NEAR + 0.15 * len(word) / len(wanted)
    if min(len(wanted), len(word)) < 4:
        return 0.0  # of short words, nearly every other one is one letter off
    # Both ways: the measure depends on which text comes first.
    ratios = (SequenceMatcher(None, *pair).ratio() for pair in ((wanted, word), (word, wanted)))
    return min(max(ratios), 0.98)


def proposed_columns(headings: Sequence[str]) -> Columns:
    """What each column most likely holds; the best match is settled first.

    Parameters
    ----------
    headings : as they stand in the file, in any order

    Returns
    -------
    one field a column; no field twice, unless several columns may hold it

    Examples
    --------
    >>> proposed_columns(["Namba ya simu", "Jina", "Kata", "remarks"])
    (<Field.PHONE: 'phone'>, <Field.FARMER: 'farmer'>, <Field.WARD: 'ward'>, None)
    """
    matches = sorted(
        (
            (-ratio, folded(heading), field, at)
            for at, heading in enumerate(headings)
            for field, ratio in likeness(heading).items()
        ),
    )
    chosen: dict[int, Field] = {}
    for _, _, field, at in matches:
        free = field in SEVERAL or field not in chosen.values()
        if at not in chosen and free:
            chosen[at] = field
    return tuple(chosen.get(at) for at in range(len(headings)))


def headings_at(rows: Sequence[Sequence[str]]) -> int:
    """Place of the row that holds the headings: the one that names most fields.

    Parameters
    ----------
    rows : the first rows of a file

    Returns
    -------
    place from 0; 0 if no row names any
    """
    named = [
        sum(field is not None for field in proposed_columns(row)) for row in rows[:HEADINGS_WITHIN]
    ]
    return named.index(max(named)) if named else 0


def check_columns(columns: Columns, *, ward_given: bool) -> None:
    """Refuse columns from which no farmer could be made out.

    Parameters
    ----------
    columns : as chosen
    ward_given : whether one ward is meant for all rows

    Raises
    ------
    WrongColumns
        A needed one is missing, or one is chosen twice.
    """
    faults = list(_faults(columns, ward_given))
    if faults:
        raise WrongColumns("; ".join(faults))


def _faults(columns: Columns, ward_given: bool) -> Iterator[str]:
    if Field.FARMER not in columns:
        yield "no column holds the farmer's name"
    if Field.WARD not in columns and not ward_given:
        yield "no column holds the ward, and no ward is chosen for all rows"
    for field in Field:
        if field not in SEVERAL and columns.count(field) > 1:
            yield f"two columns hold the {field}"
