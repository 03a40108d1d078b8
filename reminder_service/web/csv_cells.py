"""CSV that a spreadsheet shows as written: no cell is taken for a formula. Pure."""

import csv
import io
from collections.abc import Iterable, Sequence

FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet may take for the beginning of a formula; common practice, no source."""


def csv_text(rows: Iterable[Sequence[str | int | float]]) -> str:
    r"""Rows as CSV (RFC 4180); words that begin like a formula get an apostrophe before them.

    Parameters
    ----------
    rows : cells; numbers are left as they are

    Returns
    -------
    the text, lines ending in CR LF

    Examples
    --------
    >>> csv_text([["ward", "kg"], ["=1+1", -2]])
    "ward,kg\r\n'=1+1,-2\r\n"
    """
    out = io.StringIO()
    csv.writer(out).writerows([_safe(cell) for cell in row] for row in rows)
    return out.getvalue()


def _safe(cell: str | int | float) -> str | int | float:
    if isinstance(cell, str) and cell.lstrip(" ").startswith(FORMULA_SIGNS):
        return f"'{cell}"
    return cell
