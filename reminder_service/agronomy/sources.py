"""The bibliography: where each figure comes from, by its key in ``sources.toml``."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType

from reminder_service.agronomy.errors import OutOfRange


@dataclass(frozen=True, slots=True)
class Source:
    """One entry of the bibliography.

    Attributes
    ----------
    title, publisher : as printed, or in words where the source names neither
    year : year of publication, ``not stated`` or ``none``
    page : page, table or section, ``not stated`` or ``none``
    """

    title: str
    publisher: str
    year: str
    page: str


@cache
def sources() -> Mapping[str, Source]:
    """All entries of the bibliography by key.

    Returns
    -------
    the entries, read once

    References
    ----------
    Arithmetic.

    Examples
    --------
    >>> "S26" in sources()
    True
    """
    text = files("reminder_service.agronomy").joinpath("sources.toml").read_text("utf-8")
    return MappingProxyType({key: Source(**entry) for key, entry in tomllib.loads(text).items()})


def source(key: str) -> Source:
    """One entry of the bibliography.

    Parameters
    ----------
    key : key in ``sources.toml``, e.g. ``S26`` or ``common-practice``

    Returns
    -------
    the entry

    Raises
    ------
    OutOfRange
        There is no such key.

    References
    ----------
    Arithmetic.

    Examples
    --------
    >>> source("S10").title
    'Maize growth stages'
    """
    entry = sources().get(key)
    if entry is None:
        raise OutOfRange("source", key, f"one of {', '.join(sources())}")
    return entry
