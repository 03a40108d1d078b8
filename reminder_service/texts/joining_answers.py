"""Answers to the steps of joining, as a farmer may write them. Pure; nothing is guessed."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher

LONGEST_NAME = 40
"""Letters that a farmer's name may have (setting)."""

NEAR = 0.75
"""How alike a word and a ward's name must be to ask whether it is meant (setting)."""

_SPACES = re.compile(r"\s+")
_NAME = re.compile(r"[^\W\d_]+(?:[ '\u2019.-]+[^\W\d_]+)*\.?")
_WHOLE = re.compile(r"\D{0,20}?([1-9]\d{0,2}(?:[ .,]\d{3})+|[1-9]\d{0,6})\D{0,20}")
_DECIMAL = re.compile(r"[^\d.,]{0,20}(\d{0,4}(?:[.,]\d{1,4})?)[^\d.,]{0,20}\.?")
_SIDES = re.compile(
    r"\s*(\d{1,4}(?:[.,]\d{1,2})?)[^\d.,]{1,12}(\d{1,4}(?:[.,]\d{1,2})?)[^\d.,]{0,12}\.?"
)


@dataclass(frozen=True, slots=True)
class WardFound:
    """Wards that a name may stand for.

    Attributes
    ----------
    exact : place of the ward that it names, None if there is none
    near : places of wards spelled nearly so, the nearest first
    """

    exact: int | None
    near: tuple[int, ...]


def name_in(body: str) -> str | None:
    """Name that a text consists of.

    Parameters
    ----------
    body : the whole text

    Returns
    -------
    the name, capitals as usual; None if it holds digits, marks, or is too short or long

    Examples
    --------
    >>> name_in(" AMINA  DULE ")
    'Amina Dule'
    """
    name = _SPACES.sub(" ", body).strip()
    if not 2 <= len(name) <= LONGEST_NAME or not _NAME.fullmatch(name):
        return None
    plain = name.isupper() or name.islower()
    return " ".join(word.capitalize() for word in name.split(" ")) if plain else name


def whole_number(body: str) -> int | None:
    """The one whole number in a text, with or without separators of thousands.

    Examples
    --------
    >>> whole_number("about 5,600 stations"), whole_number("0.25")
    (5600, None)
    """
    found = _WHOLE.fullmatch(body.strip())
    return int(re.sub(r"[ .,]", "", found[1])) if found else None


def decimal_number(body: str) -> float | None:
    """The one number in a text, its decimals after a point or a comma.

    Examples
    --------
    >>> decimal_number("0,25 ha"), decimal_number("one or 2 or 3")
    (0.25, None)
    """
    found = _DECIMAL.fullmatch(body.strip())
    digits = found[1].replace(",", ".") if found else ""
    return float(digits) if digits.strip(".") else None


def two_numbers(body: str) -> tuple[float, float] | None:
    """Two lengths: ``50x20``, ``50 by 20``, ``50 m x 20 m``.

    Examples
    --------
    >>> two_numbers("50 x 20"), two_numbers("0.25")
    ((50.0, 20.0), None)
    """
    found = _SIDES.fullmatch(body)
    if found is None:
        return None
    one, other = (float(number.replace(",", ".")) for number in found.groups())
    return one, other


def ward_named(written: str, wards: Sequence[str]) -> WardFound:
    """Ward that a name stands for: spelled so, or nearly so.

    Parameters
    ----------
    written : the whole text
    wards : names of all wards

    Returns
    -------
    the ward named, and those that come near
    """
    wanted = _plain(written)
    plain = [_plain(ward) for ward in wards]
    if wanted in plain:
        return WardFound(plain.index(wanted), ())
    alike = [SequenceMatcher(None, wanted, name).ratio() for name in plain]
    near = [at for at, ratio in enumerate(alike) if ratio >= NEAR]
    return WardFound(None, tuple(sorted(near, key=lambda at: -alike[at])))


def by_likeness(written: str, wards: Sequence[str]) -> list[int]:
    """Places of all wards, the one spelled most like a text first."""
    wanted = _plain(written)
    alike = [SequenceMatcher(None, wanted, _plain(ward)).ratio() for ward in wards]
    return sorted(range(len(wards)), key=lambda at: -alike[at])


def _plain(name: str) -> str:
    words = re.findall(r"[^\W_]+", name.casefold())
    return " ".join(word for word in words if word != "ward")
