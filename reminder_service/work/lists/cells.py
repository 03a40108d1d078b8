"""What the cells of one row say, each checked by itself. Pure."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import lru_cache

from reminder_service.agronomy.spacing import CM_RANGE, IN_ROW_CM, ROW_CM, stations_per_ha
from reminder_service.kinds import PhoneNumber
from reminder_service.texts.joining_answers import WardFound, two_numbers, ward_named
from reminder_service.work.joining_steps import HECTARES, STATIONS
from reminder_service.work.lists.columns import NEAR, NOT_KEPT, Columns, Field, folded, meanings

LONGEST_NAME = 80
"""Letters that a farmer's name may have in the records."""

MOST_PHONES = 4
"""Phones of one farmer (setting)."""

AGREE = 0.25
"""How far stations and hectares of one row may be apart, as a share (setting)."""

_THOUSANDS = re.compile(r"\d{1,3}(?:[ .,'\N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}]\d{3})+")
_SHORTENED = re.compile(r"\d(?:[.,]\d+)?e\+?\d+", re.IGNORECASE)
_PLOT = re.compile(r"[A-Z0-9]+(?:[-/][A-Z0-9]+)*")
_PER_HA = re.compile(r"([1-9]\d{2,5})\s*(?:/|per)\s*ha")
_BETWEEN_PHONES = re.compile(r"[;,/|\n]|\s(?=\+)|\band\b|\bor\b")

Phone = Callable[[str], PhoneNumber | None]
"""Makes an E.164 number of what is written; None for what is no phone number."""


@dataclass(frozen=True, slots=True)
class Said:
    """What one row says; what it leaves out is None or empty.

    Attributes
    ----------
    row : its number in the file
    ward_id : of a ward that the person may see
    number : of the plot, in capitals
    per_ha : planting stations on one hectare, by the spacing
    choices : of the plot, in the rulebook's words
    faults : what is wrong, a sentence each; a row with any is not taken
    notes : what a person should know of it
    """

    row: int
    ward_id: int | None = None
    name: str = ""
    phones: tuple[PhoneNumber, ...] = ()
    language: str | None = None
    number: str | None = None
    stations: int | None = None
    hectares: float | None = None
    per_ha: int | None = None
    choices: Mapping[str, str] = field(default_factory=dict)
    faults: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Reader:
    """What the cells of a list are read by.

    Attributes
    ----------
    columns : what each column holds
    wards : ids by name, of the wards that the person may see
    ward_id : the ward of rows that name none
    languages : codes by folded name, of the languages that farmers are written to in
    choices : what the rulebook lets a plot choose
    phone : makes an E.164 number
    """

    columns: Columns
    wards: Mapping[str, int]
    ward_id: int | None
    languages: Mapping[str, str]
    choices: Mapping[str, Sequence[str]]
    phone: Phone


@dataclass(slots=True)
class _Row:
    """A row being read: what is found wrong with it gathers here."""

    reader: Reader
    cells: Mapping[Field, str]
    faults: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def row_said(reader: Reader, row: int, cells: Sequence[str]) -> Said:
    """Read one row; every fault in it is named, not the first alone.

    Parameters
    ----------
    reader : how
    row : its number in the file
    cells : as text

    Returns
    -------
    what it says
    """
    by_field: dict[Field, str] = {}
    phones = []
    for holds, cell in zip(reader.columns, cells, strict=False):
        if holds is Field.PHONE:
            phones.append(cell)
        elif holds is not None and holds not in NOT_KEPT:
            by_field[holds] = cell
    read = _Row(reader, by_field)
    stations, hectares, per_ha = _sizes(read)
    said = Said(
        row,
        ward_id=_ward(read),
        name=_name(read),
        phones=_phones(read, phones),
        language=_language(read),
        number=_number(read),
        stations=stations,
        hectares=hectares,
        per_ha=per_ha,
        choices=_choices(read),
        faults=tuple(read.faults),
        notes=tuple(read.notes),
    )
    return said


def _ward(read: _Row) -> int | None:
    written = read.cells.get(Field.WARD, "")
    if not written:
        if read.reader.ward_id is None:
            read.faults.append("the ward is missing")
        return read.reader.ward_id
    names = tuple(read.reader.wards)
    found = _ward_named(written, names)
    if found.exact is not None:
        return read.reader.wards[names[found.exact]]
    hint = f"; did you mean {names[found.near[0]]}?" if found.near else ""
    read.faults.append(f'no ward of yours is called "{written}"{hint}')
    return None


@lru_cache(maxsize=4096)
def _ward_named(written: str, names: tuple[str, ...]) -> WardFound:
    return ward_named(written, names)


def _name(read: _Row) -> str:
    name = " ".join(read.cells.get(Field.FARMER, "").split())
    if not name:
        read.faults.append("the farmer's name is missing")
    elif len(name) > LONGEST_NAME:
        read.faults.append(f"the farmer's name is longer than {LONGEST_NAME} letters")
    elif not any(letter.isalpha() for letter in name) or not name.isprintable():
        read.faults.append(f'"{name}" is no name')
    return name


def _phones(read: _Row, cells: Sequence[str]) -> tuple[PhoneNumber, ...]:
    found: dict[PhoneNumber, None] = {}
    for cell in cells:
        for written in filter(None, (part.strip() for part in _BETWEEN_PHONES.split(cell))):
            number = _phone(read, written)
            if number is not None:
                found[number] = None
    if len(found) > MOST_PHONES:
        read.faults.append(f"more than {MOST_PHONES} phones")
    return tuple(found)


def _phone(read: _Row, written: str) -> PhoneNumber | None:
    if _SHORTENED.fullmatch(written):
        read.faults.append(
            f"a spreadsheet has shortened the phone number to {written}: "
            "format the column as text and write it again"
        )
        return None
    number = read.reader.phone(written)
    if number is None:
        read.faults.append(
            f'"{written}" is no phone number: write it with its country code, like +447700900001'
        )
    return number


def _language(read: _Row) -> str | None:
    written = read.cells.get(Field.LANGUAGE, "")
    if not written:
        return None
    known = read.reader.languages
    code = _meant(written, known)
    if code is None:
        codes = ", ".join(sorted(set(known.values())))
        read.faults.append(f'no texts are written in "{written}": use one of {codes}')
    return code


def _number(read: _Row) -> str | None:
    number = re.sub(r"\s*([-/])\s*", r"\1", read.cells.get(Field.PLOT, "").upper())
    number = re.sub(r"^(?:PLOT|NO\.?)\s*(?=\d)", "", number).replace(" ", "")
    if not number:
        return None
    if len(number) > 12 or not _PLOT.fullmatch(number):
        written = read.cells[Field.PLOT]
        read.faults.append(
            f'"{written}" is no plot number: letters without accents and digits, 12 at most'
        )
        return None
    return number


def _sizes(read: _Row) -> tuple[int | None, float | None, int | None]:
    """Stations, hectares and stations on one hectare; stations count where both are given."""
    per_ha = _spacing(read)
    stations = _measure(read, Field.STATIONS, STATIONS)
    hectares = _measure(read, Field.HECTARES, HECTARES)
    if stations is None or hectares is None:
        return (None if stations is None else round(stations)), hectares, per_ha
    by_size = hectares * (per_ha or default_per_ha())
    if abs(by_size - stations) > AGREE * max(by_size, stations):
        read.faults.append(
            f"{stations:g} stations and {hectares:g} ha do not agree: leave one of them empty"
        )
    return round(stations), None, per_ha


def default_per_ha() -> int:
    """Planting stations on one hectare where no spacing is given."""
    return round(stations_per_ha(ROW_CM, IN_ROW_CM))


def _measure(read: _Row, holds: Field, bounds: tuple[float, float]) -> float | None:
    written = read.cells.get(holds, "")
    if not written:
        return None
    number = amount(written, whole=holds is Field.STATIONS)
    low, high = bounds
    if number is None:
        kind = "whole number" if holds is Field.STATIONS else "number"
        read.faults.append(f'{holds} "{written}" is no {kind}')
    elif not low <= number <= high:
        read.faults.append(f"{holds} {written}: a plot has {low:g} to {high:,.0f}")
        number = None
    return number


def amount(written: str, *, whole: bool) -> float | None:
    """A number as spreadsheets and people write it; None for what is none.

    Parameters
    ----------
    written : the cell
    whole : whether it counts something, so that a separator before three digits is of thousands

    Examples
    --------
    >>> amount("5,600", whole=True), amount("0,25 ha", whole=False), amount("some", whole=False)
    (5600.0, 0.25, None)
    """
    text = re.sub(r"(?<=\d)\s*(?:ha|hectares?|stations?)\.?$", "", written.strip().casefold())
    if whole and _THOUSANDS.fullmatch(text):
        return float(re.sub(r"\D", "", text))
    text = text.replace(",", ".")
    if not re.fullmatch(r"\d{1,9}(?:\.\d{0,9})?|\.\d{1,9}", text, re.ASCII):
        return None
    number = float(text)
    return None if whole and not number.is_integer() else number


def _spacing(read: _Row) -> int | None:
    written = read.cells.get(Field.SPACING, "")
    if not written:
        return None
    counted = _PER_HA.fullmatch(written)
    if counted is not None:
        return int(counted[1])
    pair = two_numbers(written)
    low, high = CM_RANGE
    if pair is None or not all(low <= distance <= high for distance in pair):
        read.faults.append(
            f'spacing "{written}": write both distances in cm, {low} to {high}, like 75x60'
        )
        return None
    return round(stations_per_ha(*pair))


def _choices(read: _Row) -> dict[str, str]:
    found = {}
    for holds in (Field.DRESSING, Field.MATURITY, Field.SOIL):
        written = read.cells.get(holds, "")
        if not written:
            continue
        offered = read.reader.choices.get(holds)
        if offered is None:
            read.notes.append(f"the rulebook knows no {holds}; it is left out")
            continue
        words = {word: value for word, value in meanings(holds).items() if value in offered}
        words |= {folded(value): value for value in offered}
        value = _meant(written, words)
        if value is None:
            read.faults.append(f'{holds} "{written}": use one of {", ".join(offered)}')
        else:
            found[str(holds)] = value
    return found


def _meant(written: str, known: Mapping[str, str]) -> str | None:
    """What a word stands for, or one spelled nearly so; short words must be spelled right."""
    word = folded(written)
    if word in known:
        return known[word]
    near = get_close_matches(word, [name for name in known if len(name) > 3], 1, NEAR)
    return known[near[0]] if near else None
