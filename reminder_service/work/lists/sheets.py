"""Tables written as CSV and XLSX, cell by cell safe from being taken for a formula."""

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, date, datetime
from tempfile import TemporaryFile
from typing import IO

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.worksheet._write_only import WriteOnlyWorksheet

from reminder_service.records.taking_out import Cell
from reminder_service.work.lists.safe_cells import looks_like_formula, quoted, writable

KINDS = {
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}
"""Kinds of file that are written, each with its media type (RFC 7111, ECMA-376)."""

AT_ONCE = 64 * 1024
"""Bytes that are handed on together (setting)."""

ROWS_A_SHEET = 1_000_000
"""Rows of one sheet before a second one begins; a sheet ends at 1,048,576 (setting)."""

LONGEST_CELL = 32_767
"""Characters that one cell of a sheet can hold.

References
----------
Microsoft, Excel specifications and limits.
"""

Rows = Iterable[Sequence[Cell]]


def cell_words(value: Cell) -> str:
    """A cell as text: days and instants as ISO 8601 says, instants in UTC.

    Examples
    --------
    >>> cell_words(datetime(2026, 12, 6, 9, tzinfo=UTC)), cell_words(None)
    ('2026-12-06T09:00:00Z', '')
    """
    if value is None:
        return ""
    if isinstance(value, datetime):
        return f"{value.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}"
    return writable(str(value))


def csv_pieces(headings: Sequence[str], rows: Rows) -> Iterator[bytes]:
    """A CSV file piece by piece, as UTF-8 with the mark that spreadsheet programs look for.

    Parameters
    ----------
    headings : of the columns
    rows : their cells

    Yields
    ------
    pieces of the file
    """
    text = io.StringIO(newline="")
    text.write("\N{ZERO WIDTH NO-BREAK SPACE}")
    writer = csv.writer(text)
    writer.writerow([quoted(cell) for cell in headings])
    for cells in rows:
        writer.writerow([quoted(cell_words(cell)) for cell in cells])
        if text.tell() > AT_ONCE:
            yield text.getvalue().encode()
            text.seek(0)
            text.truncate()
    yield text.getvalue().encode()


def xlsx_pieces(headings: Sequence[str], rows: Rows) -> Iterator[bytes]:
    """An XLSX file piece by piece, put together in a temporary file and never in memory.

    Parameters
    ----------
    headings : of the columns
    rows : their cells

    Yields
    ------
    pieces of the file
    """
    with TemporaryFile() as file:
        write_xlsx(file, headings, rows)
        file.seek(0)
        while piece := file.read(AT_ONCE):
            yield piece


def write_xlsx(file: IO[bytes], headings: Sequence[str], rows: Rows) -> None:
    """Write an XLSX file whose every text is a text.

    Parameters
    ----------
    file : open for writing
    headings : of the columns, repeated on each sheet
    rows : their cells
    """
    book = Workbook(write_only=True)
    sheet = _sheet(book, headings)
    for number, row in enumerate(rows, start=1):
        sheet.append([_sheet_cell(sheet, cell) for cell in row])
        if number % ROWS_A_SHEET == 0:
            sheet = _sheet(book, headings)
    book.save(file)


def _sheet(book: Workbook, headings: Sequence[str]) -> WriteOnlyWorksheet:
    sheet: WriteOnlyWorksheet = book.create_sheet()
    sheet.freeze_panes = "A2"
    sheet.append(list(headings))
    return sheet


def _sheet_cell(sheet: WriteOnlyWorksheet, value: Cell) -> object:
    if isinstance(value, int):
        return value
    if isinstance(value, date) and not isinstance(value, datetime):
        return value
    text = cell_words(value)[:LONGEST_CELL]
    if not looks_like_formula(text):
        return text
    # A text by its type, and it stays one when somebody edits the cell.
    cell = WriteOnlyCell(sheet, text)
    cell.data_type = "s"
    cell.quotePrefix = True
    return cell


WRITERS = {"csv": csv_pieces, "xlsx": xlsx_pieces}
"""What writes each kind of file."""
