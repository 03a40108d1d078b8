"""What a farmer says of a pest in words: signs of another one, or of larvae inside the stem.

Such a text is no report: it waits for a coordinator, and the farmer is sent to the adviser.
English words alone are known; they are looked for in every text, as farmers mix languages.
"""

import re
from enum import StrEnum

from reminder_service.texts.words import folded

MOST_LETTERS = 400
"""Letters of a text that are looked at (setting)."""


class PestSign(StrEnum):
    """What the words point to."""

    ARMYWORM = "fall armyworm"
    IN_STEM = "larvae in the stem"


PHRASES = {
    # Pale upside-down Y on the head, four spots in a square near the tail: FAO and CABI 2019,
    # Community-based fall armyworm monitoring. Moist, sand-like frass: value from memory.
    PestSign.ARMYWORM: (
        "armyworm",
        "armyworms",
        "army worm",
        "army worms",
        "upside down y",
        "inverted y",
        "y on the head",
        "y on its head",
        "four spots",
        "4 spots",
        "sand like frass",
        "frass like sand",
        "droppings like sand",
    ),
    # CABI guide, Zambia 2016: larvae are inside by then.
    PestSign.IN_STEM: (
        "dead heart",
        "dead hearts",
        "deadheart",
        "deadhearts",
        "stem hole",
        "stem holes",
        "hole in stem",
        "hole in the stem",
        "holes in stem",
        "holes in stems",
        "holes in the stem",
        "holes in the stems",
        "inside the stem",
        "inside the stems",
    ),
}
"""Phrases in small letters; another pest goes before larvae in the stem."""


def pest_sign(body: str) -> PestSign | None:
    """What a text says of a pest.

    Parameters
    ----------
    body : as it came

    Returns
    -------
    the sign, or None if it speaks of none that we know

    Examples
    --------
    >>> pest_sign("BORER 12, it has an upside-down Y").value
    'fall armyworm'
    >>> pest_sign("BORER 12") is None
    True
    """
    said = " ".join(re.findall(r"[^\W_]+", folded(body[:MOST_LETTERS])))
    padded = f" {said} "
    found = (
        sign for sign, phrases in PHRASES.items() if any(f" {each} " in padded for each in phrases)
    )
    return next(found, None)
