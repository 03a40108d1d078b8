"""Daily rain as files write it: rows of day, amount and perhaps ward or plot. Pure."""

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

MOST_ROWS = 4_000
"""Rows that one file may have: ten years of one gauge (setting)."""

LONGEST_CELL = 80
"""Letters of the longest cell that is read (setting)."""

HEADS = {
    "date": ("date", "day"),
    "mm": ("mm", "rain", "rain mm", "rainfall", "rainfall mm", "precipitation"),
    "ward": ("ward",),
    "plot": ("plot", "plot number"),
}
"""Names that each column may have; case, dashes and underscores do not matter."""

UNKNOWN = frozenset({"", "-", "na", "n/a", "nan", "missing"})
"""Amounts that say that nothing is known (setting)."""

TRACE = frozenset({"t", "tr", "trace"})
"""Amounts that say that there was too little to measure (setting)."""

DAY_FORMS = ("%Y-%m-%d", "%d/%m/%Y", "%d-%m-%Y", "%d.%m.%Y")
"""Forms of a day; where it is all numbers, the day stands before the month."""


class BadRow(ValueError):
    """A row or a file cannot be read; the message says what was expected."""


@dataclass(frozen=True, slots=True)
class Amount:
    """Rain of one day as written: mm, and whether it was a trace; unknown has no mm."""

    mm: float | None
    trace: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a file.

    Attributes
    ----------
    line : number of its line, the heading being 1
    written : the row as it stands there
    on : local day; None if the row is faulty
    amount : what it says; None if the row is faulty
    ward, plot : names as written; empty where the row names none
    fault : what is wrong with it; empty if nothing is
    """

    line: int
    written: str
    on: date | None = None
    amount: Amount | None = None
    ward: str = ""
    plot: str = ""
    fault: str = ""


def file_rows(text: str) -> list[Row]:
    r"""Rows of a CSV file of daily rain.

    The first line names the columns, in any order; commas, semicolons or tabs part them.

    Parameters
    ----------
    text : the whole file

    Returns
    -------
    one row for each line with anything in it, faulty ones too

    Raises
    ------
    BadRow
        The heading lacks a column, or the file has no rows or too many.

    Examples
    --------
    >>> [(row.on.isoformat(), row.amount.mm) for row in file_rows("mm;date\n12,5;13/11/2026")]
    [('2026-11-13', 12.5)]
    """
    lines = text.removeprefix("\ufeff").splitlines()
    if not lines or not lines[0].strip():
        raise BadRow("the file is empty: expected a first line that names the columns date and mm")
    mark = max(",;\t", key=lines[0].count)
    heading = next(csv.reader([lines[0]], delimiter=mark))
    columns = _columns(heading)
    rows = []
    reader = csv.reader(io.StringIO("\n".join(lines[1:])), delimiter=mark)
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                rows.append(_row(reader.line_num + 1, cells, columns, len(heading), mark))
    except csv.Error as error:
        raise BadRow(f"line {reader.line_num + 1} is no row of a CSV file ({error})") from error
    if not rows:
        raise BadRow("the file has a heading and no rows: add one row a day")
    if len(rows) > MOST_ROWS:
        raise BadRow(f"the file has {len(rows)} rows, expected up to {MOST_ROWS:,}: cut it up")
    return rows


def day_written(written: str, form: str | None = None) -> date:
    """A local day as files write it.

    Parameters
    ----------
    written : the day
    form : the one pattern it has; any of ``DAY_FORMS`` if None

    Raises
    ------
    BadRow
        It is no day.

    Examples
    --------
    >>> day_written("3/12/2026"), day_written("2026-12-03T00:00")
    (datetime.date(2026, 12, 3), datetime.date(2026, 12, 3))
    """
    given = written.strip()
    forms = (form,) if form else DAY_FORMS
    if form is None and re.fullmatch(r"\d{4}-\d\d-\d\d[T ][0-9:.]+Z?", given):
        given = given[:10]
    for each in forms:
        try:
            return datetime.strptime(given, each).date()  # noqa: DTZ007 - a local day has no zone
        except ValueError:
            continue
    raise BadRow(f"{_shown(written)} is no day: write 2026-11-12 or 12/11/2026")


def amount_written(written: str) -> Amount:
    """An amount of rain as files write it, with a decimal point or comma.

    Parameters
    ----------
    written : the amount, ``T`` for a trace, empty for unknown

    Raises
    ------
    BadRow
        It is no amount.

    Examples
    --------
    >>> amount_written("12,5").mm, amount_written("T").trace, amount_written("").mm
    (12.5, True, None)
    """
    given = written.strip().lower().removesuffix("mm").strip()
    if given in UNKNOWN:
        return Amount(None)
    if given in TRACE:
        return Amount(0.0, trace=True)
    if not re.fullmatch(r"[+-]?\d{1,6}([.,]\d{1,20})?(e[+-]?\d{1,2})?", given):
        raise BadRow(f"{_shown(written)} is no amount: write millimetres such as 12.5, or T")
    return Amount(float(given.replace(",", ".")))


def _columns(heading: Sequence[str]) -> dict[str, int]:
    names = {name: column for column, known in HEADS.items() for name in known}
    found: dict[str, int] = {}
    for place, cell in enumerate(heading):
        plain = " ".join(re.findall(r"[a-z]+", cell.lower()))
        column = names.get(plain)
        if column in found:
            raise BadRow(f"two columns are named {column}: leave one")
        if column is not None:
            found[column] = place
    lacking = [column for column in ("date", "mm") if column not in found]
    if lacking:
        raise BadRow(
            f"the first line names no column {' or '.join(lacking)}: write a heading such as "
            "date,mm or ward,date,mm"
        )
    return found


def _row(line: int, cells: Sequence[str], columns: Mapping[str, int], width: int, mark: str) -> Row:
    written = _shown(mark.join(cells))
    place = {column: cells[at].strip() if at < len(cells) else "" for column, at in columns.items()}
    ward, plot = place.get("ward", ""), place.get("plot", "")
    try:
        if any(len(cell) > LONGEST_CELL for cell in place.values()):
            raise BadRow(f"a cell is longer than {LONGEST_CELL} letters")
        if columns["mm"] >= len(cells):
            raise BadRow("the row is too short: it has no amount")
        if any(cell.strip() for cell in cells[width:]):
            raise BadRow('it has more cells than the heading: write 12.5, or quote "12,5"')
        on, amount = day_written(place["date"]), amount_written(place["mm"])
    except BadRow as fault:
        return Row(line, written, ward=ward, plot=plot, fault=str(fault))
    return Row(line, written, on, amount, ward, plot)


def _shown(written: str) -> str:
    """The beginning of what was written, on one line."""
    printable = "".join(letter if letter.isprintable() else "?" for letter in written.strip())
    return printable if len(printable) <= LONGEST_CELL else f"{printable[: LONGEST_CELL - 1]}…"
