"""CSV files: their encoding and separator told from the bytes, their rows one by one. Pure."""

import codecs
import csv
import io
from collections import Counter
from collections.abc import Iterator
from itertools import islice

from reminder_service.work.lists.errors import UnusableFile

SEPARATORS = (",", ";", "\t", "|")
"""Separators that are told apart; the first one stands where there is only one column."""

SAMPLE_BYTES = 64 * 1024
"""Bytes at the beginning by which encoding and separator are told (setting)."""

SAMPLE_ROWS = 30
"""Rows by which the separator is told (setting)."""

LONGEST_CELL = 4_000
"""Characters beyond which a cell is taken for an open quotation mark (setting)."""

AS_CSV = "save it as CSV in UTF-8, or as XLSX"

_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_NUL_SHARE = 0.3


def encoding_of(data: bytes) -> str:
    """Encoding of a text file: UTF-8, UTF-16 in either order, or Windows-1252.

    A mark at the beginning decides; then bytes of zero in every other place, which only UTF-16
    has; then whether all of it is UTF-8, which text in another encoding hardly ever is.

    Parameters
    ----------
    data : the whole file

    Returns
    -------
    name of the codec

    Raises
    ------
    UnusableFile
        It is no text, or in another encoding.

    Examples
    --------
    >>> encoding_of("Ward;Família".encode("cp1252"))
    'cp1252'
    """
    for mark, name in _MARKS:
        if data.startswith(mark):
            return _checked(data, name)
    sample = data[:SAMPLE_BYTES]
    half = max(1, len(sample) // 2)
    if sample[1::2].count(0) > half * _NUL_SHARE:
        return _checked(data, "utf-16-le")
    if sample[0::2].count(0) > half * _NUL_SHARE:
        return _checked(data, "utf-16-be")
    if b"\0" in data:
        raise UnusableFile("is neither CSV nor XLSX", AS_CSV)
    return "utf-8" if _decodes(data, "utf-8") else _checked(data, "cp1252")


def _checked(data: bytes, name: str) -> str:
    if not _decodes(data, name):
        raise UnusableFile("is in an encoding that is not known here", AS_CSV)
    return name


def _decodes(data: bytes, name: str) -> bool:
    """Whether all bytes are text; piece by piece, so that no second copy is made."""
    decoder = codecs.getincrementaldecoder(name)()
    try:
        for at in range(0, len(data), SAMPLE_BYTES):
            decoder.decode(data[at : at + SAMPLE_BYTES])
        decoder.decode(b"", final=True)
    except UnicodeError:
        return False
    return True


def separator_of(data: bytes, encoding: str) -> str:
    r"""Separator of a CSV file: the one by which most rows are as wide as the first.

    Parameters
    ----------
    data : the whole file
    encoding : of `encoding_of`

    Returns
    -------
    a comma, semicolon, tab or upright line

    Examples
    --------
    >>> separator_of(b"Ward;Name;Hectares\nOlmara;Nalo Teme;0,25\n", "utf-8")
    ';'
    """
    said = _said_separator(data, encoding)
    if said is not None:
        return said
    widths = {separator: _widths(data, encoding, separator) for separator in SEPARATORS}
    return max(SEPARATORS, key=lambda separator: _evenness(widths[separator]))


def _said_separator(data: bytes, encoding: str) -> str | None:
    """The separator that a first line like ``sep=;`` names."""
    line = data[:40].decode(encoding, "ignore").splitlines()[:1]
    said = line[0].strip().lower() if line else ""
    return said[4] if said.startswith("sep=") and said[4:5] in SEPARATORS else None


def _widths(data: bytes, encoding: str, separator: str) -> list[int]:
    text = data[:SAMPLE_BYTES].decode(encoding, "ignore")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    try:
        return [len(row) for row in islice(reader, SAMPLE_ROWS) if row]
    except csv.Error:
        return []


def _evenness(widths: list[int]) -> tuple[float, int]:
    """How well a separator cuts: the share of rows as wide as most, then how wide those are."""
    if not widths or max(widths) == 1:
        return (0.0, 0)
    width, count = Counter(widths).most_common(1)[0]
    share = count / len(widths)
    return (0.0, 0) if width == 1 else (share * (1.0 if widths[0] > 1 else 0.1), width)


def csv_rows(data: bytes, encoding: str, separator: str) -> Iterator[list[str]]:
    """Every row of a CSV file, blank ones too.

    Parameters
    ----------
    data : the whole file
    encoding, separator : as told from it

    Yields
    ------
    the cells of a row

    Raises
    ------
    UnusableFile
        A quotation mark is opened and never closed.
    """
    text = io.TextIOWrapper(io.BytesIO(data), encoding, newline="")
    reader = csv.reader(text, delimiter=separator)
    names_separator = _said_separator(data, encoding) is not None
    for number in range(1, len(data) + 2):
        try:
            row = next(reader, None)
        except csv.Error as fault:
            raise _open_quotation(number) from fault
        if row is None:
            return
        if number == 1 and names_separator:
            row = []
        if any(len(cell) > LONGEST_CELL for cell in row):
            raise _open_quotation(number)
        yield row


def _open_quotation(row: int) -> UnusableFile:
    what = f"has a cell that does not end in row {row}"
    return UnusableFile(what, "look for a quotation mark without its second one")
