"""Files that hold a list: told apart by their bytes, never by their name. Pure."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from reminder_service.work.lists.csv_files import csv_rows, encoding_of, separator_of
from reminder_service.work.lists.errors import UnusableFile
from reminder_service.work.lists.safe_cells import unquoted
from reminder_service.work.lists.xlsx_files import check_workbook, xlsx_rows

MOST_BYTES = 20 * 1024 * 1024
"""Bytes of the largest file that is taken (setting)."""

MOST_ROWS = 100_000
"""Rows that one list may hold below its headings (setting)."""

MOST_COLUMNS = 60
"""Columns that are looked at (setting)."""

LAST_ROW = 1_048_576
"""Last row that a sheet can have.

References
----------
Microsoft, Excel specifications and limits.
"""

_PACKED, _OLD = b"PK", b"\xd0\xcf\x11\xe0"


@dataclass(frozen=True, slots=True)
class FileForm:
    """How a file holds its rows.

    Attributes
    ----------
    kind : ``csv`` or ``xlsx``
    encoding, separator : of a CSV file; empty otherwise
    """

    kind: str
    encoding: str = ""
    separator: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """One row that is not blank.

    Attributes
    ----------
    number : as a spreadsheet program counts it, from 1
    cells : as text, without spaces around it
    """

    number: int
    cells: tuple[str, ...]


def file_form(data: bytes) -> FileForm:
    """Tell what kind of file this is.

    Parameters
    ----------
    data : the whole file

    Raises
    ------
    UnusableFile
        It is empty, too large, or neither CSV nor XLSX.
    """
    if not data.strip():
        raise UnusableFile("is empty", "choose the file that holds the list")
    if len(data) > MOST_BYTES:
        raise UnusableFile(
            f"is larger than {MOST_BYTES // 1024 // 1024} MB", "cut the list into several files"
        )
    if data.startswith(_OLD):
        raise UnusableFile(
            "is in the old XLS form or locked by a password", "save it as XLSX or CSV"
        )
    if data.startswith(_PACKED):
        check_workbook(data)
        return FileForm("xlsx")
    encoding = encoding_of(data)
    return FileForm("csv", encoding, separator_of(data, encoding))


def file_rows(data: bytes, form: FileForm) -> Iterator[Row]:
    """Every row that is not blank, in order.

    Parameters
    ----------
    data : the whole file
    form : of `file_form`

    Yields
    ------
    each row

    Raises
    ------
    UnusableFile
        It is damaged, or holds more rows than are taken.
    """
    if form.kind == "xlsx":
        rows = xlsx_rows(data, LAST_ROW, MOST_COLUMNS)
    else:
        rows = csv_rows(data, form.encoding, form.separator)
    found = 0
    for number, row in enumerate(rows, start=1):
        cells = _cells(row[:MOST_COLUMNS])
        if not cells:
            continue
        found += 1
        if found > MOST_ROWS + 1:
            raise UnusableFile(
                f"holds more than {MOST_ROWS:,} rows", "cut the list into several files"
            )
        yield Row(number, cells)


def _cells(row: Sequence[str]) -> tuple[str, ...]:
    """Cells without the spaces around them, and without the blank ones at the end."""
    cells = [unquoted(cell.strip(" \N{NO-BREAK SPACE}")).strip() for cell in row]
    while cells and not cells[-1]:
        cells.pop()
    return tuple(cells)
