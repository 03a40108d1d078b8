"""Which texts of one phone go out where there are more than a week may hold."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

WEEK_DAYS = 7
"""Local days in a row that the cap counts over, whichever day they begin on."""


@dataclass(frozen=True, slots=True)
class PhoneText:
    """One text that a phone got or is to get.

    Attributes
    ----------
    ref : its name; of two alike, the lower goes first
    on : local day
    importance : 1 (most) to 9
    always : whether it goes whatever the cap, or has gone
    """

    ref: int
    on: date
    importance: int
    always: bool = False


def held_back(texts: Sequence[PhoneText], cap: int) -> dict[int, int]:
    """Texts that do not go out, so that no week of the phone holds more than the cap.

    Texts that always go are counted first, whatever they come to. Then the more important ones
    find their place before the less important, the earlier before the later; what would make any
    seven days too full is held back. So the answer depends on the set of texts alone, not on the
    order they are given in, and an important text of the days ahead keeps its place.

    Parameters
    ----------
    texts : of one phone, each ref once
    cap : most texts in seven days, 1 or more

    Returns
    -------
    for the ref of each text held back, how many others fill the fullest seven days around it

    References
    ----------
    Own choice.

    Examples
    --------
    >>> saturday = date(2026, 12, 5)
    >>> held_back([PhoneText(1, saturday, 5), PhoneText(2, saturday, 2)], 1)
    {1: 1}
    """
    taken: Counter[date] = Counter(text.on for text in texts if text.always)
    held: dict[int, int] = {}
    others = [text for text in texts if not text.always]
    for text in sorted(others, key=lambda each: (each.importance, each.on, each.ref)):
        fullest = _fullest(taken, text.on)
        if fullest < cap:
            taken[text.on] += 1
        else:
            held[text.ref] = fullest
    return held


def _fullest(taken: Counter[date], on: date) -> int:
    """Texts in the fullest seven days that hold a day."""
    days = [on + timedelta(offset) for offset in range(1 - WEEK_DAYS, WEEK_DAYS)]
    counts = [taken[day] for day in days]
    return max(sum(counts[first : first + WEEK_DAYS]) for first in range(WEEK_DAYS))
