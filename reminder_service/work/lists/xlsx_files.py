"""XLSX files: rows of the first sheet one by one, within bounds that no packed bomb can pass."""

import io
import zlib
from collections.abc import Iterator
from datetime import datetime
from xml.etree.ElementTree import ParseError
from zipfile import BadZipFile, LargeZipFile, ZipFile

from defusedxml.common import DefusedXmlException
from openpyxl import load_workbook
from openpyxl.utils.exceptions import InvalidFileException

from reminder_service.work.lists.errors import UnusableFile

MOST_UNPACKED = 200 * 1024 * 1024
"""Bytes that all parts of a workbook may take unpacked; 100,000 rows take a third (setting)."""

MOST_STRINGS = 50 * 1024 * 1024
"""Bytes of the part that holds the texts, which is kept in memory as a whole (setting)."""

MOST_PARTS = 1_000
"""Parts that a workbook may have (setting)."""

STRINGS = "xl/sharedStrings.xml"

BROKEN = (
    BadZipFile,
    LargeZipFile,
    DefusedXmlException,
    InvalidFileException,
    ParseError,
    zlib.error,
    AttributeError,
    EOFError,
    IndexError,
    KeyError,
    NotImplementedError,
    OSError,
    RuntimeError,
    TypeError,
    ValueError,
)
"""What the reader raises over a workbook that is damaged; it has no class of its own for it."""


def check_workbook(data: bytes) -> None:
    """Refuse a packed file that is no workbook or grows too large when unpacked.

    What a part says of its size holds: the unpacker stops there and refuses the part.

    Parameters
    ----------
    data : the whole file

    Raises
    ------
    UnusableFile
        It is damaged, another kind of file, or too large.
    """
    try:
        parts = {part.filename: part.file_size for part in ZipFile(io.BytesIO(data)).infolist()}
    except BROKEN as fault:
        raise _damaged() from fault
    if "xl/workbook.xml" not in parts:
        raise UnusableFile("is no XLSX workbook", "save it as XLSX or CSV")
    sizes = sum(parts.values()) > MOST_UNPACKED or parts.get(STRINGS, 0) > MOST_STRINGS
    if sizes or len(parts) > MOST_PARTS:
        raise UnusableFile(
            "grows too large when it is unpacked", "keep the list alone, or save it as CSV"
        )


def xlsx_rows(data: bytes, most_rows: int, most_columns: int) -> Iterator[list[str]]:
    """Every row of the first sheet, blank ones too.

    Parameters
    ----------
    data : the whole file
    most_rows, most_columns : nothing beyond is looked at

    Yields
    ------
    the cells of a row as text

    Raises
    ------
    UnusableFile
        It is damaged or too large.
    """
    check_workbook(data)
    try:
        book = load_workbook(io.BytesIO(data), read_only=True, data_only=True, keep_links=False)
        try:
            if not book.worksheets:
                raise UnusableFile("has no sheet with cells", "put the list on the first sheet")
            sheet = book.worksheets[0]
            sheet.reset_dimensions()  # what a sheet says of its own size may be wrong
            for row in sheet.iter_rows(max_row=most_rows, max_col=most_columns, values_only=True):
                yield [cell_text(value) for value in row]
        finally:
            book.close()
    except BROKEN as fault:
        raise _damaged() from fault


def cell_text(value: object) -> str:
    """A cell's value as somebody would write it.

    Examples
    --------
    >>> cell_text(5600.0), cell_text(0.25), cell_text(None), cell_text(True)
    ('5600', '0.25', '', 'yes')
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() else repr(value)
    if isinstance(value, datetime) and not (value.hour or value.minute or value.second):
        return value.date().isoformat()
    return str(value)


def _damaged() -> UnusableFile:
    return UnusableFile("is damaged or locked by a password", "save it anew as XLSX or CSV")
