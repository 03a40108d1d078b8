"""Who goes first when a route cannot carry all of a day's texts: the window that closes first.

Pure.
"""

from bisect import bisect_left
from collections.abc import Sequence
from datetime import datetime


def must_wait(ready: Sequence[datetime], to_come: Sequence[datetime], turns: int) -> list[bool]:
    """Which of the texts that are due leave their turn to others that are still to come today.

    A text waits if the turns left would be used up by those before it and by those to come that
    expire sooner. A text that has no turn left whatever comes is not kept back here: the route's
    own limit does that.

    Parameters
    ----------
    ready : when each text that is due expires, the first first; aware UTC instants
    to_come : when each text that falls due later today expires, in any order
    turns : texts that the route can still carry today, 0 or more

    Returns
    -------
    for each text that is due, whether it waits

    References
    ----------
    Arithmetic.

    Examples
    --------
    >>> noon, evening = datetime(2026, 12, 5, 12), datetime(2026, 12, 5, 18)
    >>> must_wait([noon, evening], [noon], turns=2)
    [False, True]
    """
    coming = sorted(to_come)
    waits = []
    for place, expires_at in enumerate(ready):
        sooner = bisect_left(coming, expires_at)
        waits.append(place < turns <= place + sooner)
    return waits
