"""Usual temperatures of wards by month: a CSV file, checked as a whole, read once."""

import csv
from collections.abc import Iterator, Mapping
from functools import lru_cache
from pathlib import Path

from reminder_service.agronomy.errors import OutOfRange
from reminder_service.agronomy.heat import Temperatures
from reminder_service.errors import ReminderError
from reminder_service.settings import Settings

HEAD = ["ward", "month", "tmin", "tmax"]
"""Columns of the file: a ward's name, 1 to 12, mean lowest and highest temperature in °C."""

Normals = Mapping[str, Mapping[int, Temperatures]]
"""By ward's name in small letters, then by month."""


class BadNormals(ReminderError):
    """The file of usual temperatures cannot be used.

    Attributes
    ----------
    path : of the file
    faults : what is wrong in it, all of it
    """

    def __init__(self, path: str, faults: list[str]) -> None:
        told = "; ".join(faults)
        super().__init__(f"usual temperatures {path}: {told}: put that right and start again")
        self.path = path
        self.faults = faults


@lru_cache(maxsize=16)
def load_normals(path: str) -> Normals:
    """Read a file of usual temperatures; it is read once and then remembered.

    Parameters
    ----------
    path : of a CSV file with the columns ward, month, tmin and tmax; months may be left out

    Returns
    -------
    by ward and month

    Raises
    ------
    BadNormals
        The file cannot be read or has faults: all of them.
    """
    try:
        lines = Path(path).read_text("utf-8-sig").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise BadNormals(path, [f"expected a text file ({error})"]) from error
    found: dict[str, dict[int, Temperatures]] = {}
    faults = list(_faults(lines, found))
    if faults:
        raise BadNormals(path, faults)
    return found


def ward_normals(settings: Settings, ward_name: str) -> Mapping[int, Temperatures]:
    """Usual temperatures of one ward by month; none where nobody gave them.

    Parameters
    ----------
    settings : with the file, if there is one
    ward_name : as the records have it; capitals do not matter

    Raises
    ------
    BadNormals
        The file cannot be used.
    """
    if settings.normals is None:
        return {}
    return load_normals(settings.normals).get(ward_name.casefold(), {})


def _faults(lines: list[str], found: dict[str, dict[int, Temperatures]]) -> Iterator[str]:
    """Fill in what the lines say, and tell what is wrong with them."""
    rows = csv.reader(lines)
    heading = [cell.strip().lower() for cell in next(rows, [])]
    if heading != HEAD:
        yield f"line 1: expected the columns {','.join(HEAD)}, got {','.join(heading)}"
        return
    try:
        for cells in rows:
            fault = _add(cells, found) if any(cell.strip() for cell in cells) else ""
            if fault:
                yield f"line {rows.line_num}: {fault}"
    except csv.Error as error:
        yield f"line {rows.line_num}: expected a row of a CSV file ({error})"
    if not found:
        yield "expected a row a ward and month, got none"


def _add(cells: list[str], found: dict[str, dict[int, Temperatures]]) -> str:
    """Add one row; answers what is wrong with it, if anything."""
    if len(cells) != len(HEAD) or not cells[0].strip():
        return f"expected a ward, a month and two temperatures, got {','.join(cells)[:60]}"
    months = found.setdefault(cells[0].strip().casefold(), {})
    try:
        month, usual = int(cells[1]), Temperatures(float(cells[2]), float(cells[3]))
    except (OutOfRange, ValueError) as error:
        return str(error)
    if not 1 <= month <= 12:
        return f"month is {month}, expected 1 to 12"
    if month in months:
        return f"month {month} of {cells[0].strip()} stands there twice: leave one"
    months[month] = usual
    return ""
