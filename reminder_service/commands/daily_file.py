"""Tables of comma-separated text that a door is given: their rows, each fault with its line."""

import csv
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from pathlib import Path

from reminder_service.commands.answers import BadInput


def rows(file: Path, columns: Sequence[str]) -> Iterator[tuple[str, Mapping[str, str]]]:
    """Rows of a file whose heading names at least these columns.

    Parameters
    ----------
    file : comma-separated text in UTF-8 with a heading
    columns : names in small letters

    Returns
    -------
    where each row stands, and its cells by name in small letters

    Raises
    ------
    BadInput
        The file cannot be read, a column is missing, or a row has more or fewer cells.
    """
    try:
        # A spreadsheet may put a byte order mark before the heading.
        with file.open(encoding="utf-8-sig", newline="") as text:
            table = csv.reader(text, skipinitialspace=True, strict=True)
            heading = [name.strip().lower() for name in next(table, [])]
            if any(name not in heading for name in columns):
                wanted = ", ".join(columns)
                raise BadInput(f"heading of {file.name}", ",".join(heading), f"columns {wanted}")
            for cells in table:
                if not any(cell.strip() for cell in cells):
                    continue
                place = f"{file.name}, line {table.line_num}"
                if len(cells) != len(heading):  # a decimal comma would lose its tenths
                    raise BadInput(place, ",".join(cells), f"{len(heading)} cells, as the heading")
                yield place, dict(zip(heading, (cell.strip() for cell in cells), strict=True))
    except OSError as fault:
        raise BadInput("file", str(file), f"a file that can be read ({fault.strerror})") from fault
    except (UnicodeDecodeError, csv.Error) as fault:
        raise BadInput("file", str(file), f"comma-separated text in UTF-8 ({fault})") from fault


def day_of(place: str, written: str) -> date:
    """Local day of one cell.

    Parameters
    ----------
    place : where it stands
    written : the cell

    Returns
    -------
    the day

    Raises
    ------
    BadInput
        The cell is no day as ``YYYY-MM-DD``.
    """
    try:
        return date.fromisoformat(written)
    except ValueError as fault:
        raise BadInput(f"{place}, date", written, "a day as YYYY-MM-DD") from fault


def number_of(place: str, column: str, written: str, unit: str) -> float | None:
    """Number of one cell, None if it is empty.

    Parameters
    ----------
    place, column : where it stands
    written : the cell
    unit : for the message

    Returns
    -------
    the number

    Raises
    ------
    BadInput
        The cell is no number.
    """
    if not written:
        return None
    try:
        return float(written)
    except ValueError as fault:
        raise BadInput(
            f"{place}, {column}", written, f"a number in {unit}, or empty where unknown"
        ) from fault
