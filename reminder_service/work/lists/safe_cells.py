"""Cells that no spreadsheet program takes for a formula, and back again. Pure.

A cell that begins like a formula gets an apostrophe before it; so does one that begins with
apostrophes and then like a formula, so that taking one off always gives back what was written.

References
----------
OWASP, CSV Injection: cells that begin with = + - @, a tab or a carriage return.
"""

import re

_LIKE_FORMULA = re.compile(r"'*[=+\-@\t\r]")
_QUOTED = re.compile(r"'+[=+\-@\t\r]")
_UNWRITABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")


def looks_like_formula(cell: str) -> bool:
    """Whether a cell must be quoted."""
    return _LIKE_FORMULA.match(cell) is not None


def quoted(cell: str) -> str:
    """A cell as it is written into a CSV file.

    Examples
    --------
    >>> quoted("=1+1"), quoted("+447700900001"), quoted("Nalo")
    ("'=1+1", "'+447700900001", 'Nalo')
    """
    return f"'{cell}" if looks_like_formula(cell) else cell


def unquoted(cell: str) -> str:
    """A cell as it was before `quoted`.

    Examples
    --------
    >>> unquoted("'+447700900001"), unquoted("'Mapule")
    ('+447700900001', "'Mapule")
    """
    return cell[1:] if _QUOTED.match(cell) else cell


def writable(cell: str) -> str:
    """A cell without the characters that neither XML nor UTF-8 can hold."""
    return _UNWRITABLE.sub("\N{REPLACEMENT CHARACTER}", cell)
