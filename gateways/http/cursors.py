"""Where a poll has come to at a carrier, kept in memory or in a file."""

import json
import os
from pathlib import Path

from pydantic import JsonValue

from gateways.http.fields import NoJson, json_value

LONGEST_CURSOR = 1000
"""Letters of the longest cursor that is kept (setting)."""

Cursor = str | int


def cursor_of(value: JsonValue) -> Cursor | None:
    """A cursor as a carrier or a file gives it; None for none.

    Raises
    ------
    ValueError
        It is no text or whole number, or too long.

    Examples
    --------
    >>> cursor_of("b7"), cursor_of(41), cursor_of("")
    ('b7', 41, None)
    """
    if value is None or value == "":
        return None
    if isinstance(value, bool) or not isinstance(value, str | int):
        raise ValueError("the cursor is no text and no whole number")
    if len(str(value)) > LONGEST_CURSOR or not str(value).isprintable():
        raise ValueError(f"the cursor is longer than {LONGEST_CURSOR} letters, or not printable")
    return value


def read_cursor(path: Path) -> Cursor | None:
    """The cursor that a file keeps; None if it is not there yet.

    Raises
    ------
    ValueError
        The file cannot be read, or holds something else.
    """
    try:
        return cursor_of(json_value(path.read_bytes()))
    except FileNotFoundError:
        return None
    except (OSError, NoJson, ValueError) as error:
        raise ValueError(
            f"expected a cursor in {path} ({error}); delete the file to fetch from the beginning"
        ) from error


def write_cursor(path: Path, cursor: Cursor) -> None:
    """Keep a cursor; the file is whole at every moment.

    Raises
    ------
    OSError
        It cannot be written.
    """
    beside = path.with_name(f"{path.name}.new")
    with beside.open("w", encoding="utf-8") as file:
        file.write(json.dumps(cursor) + "\n")
        file.flush()
        os.fsync(file.fileno())
    beside.replace(path)
