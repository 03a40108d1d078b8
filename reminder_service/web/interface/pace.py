"""How many calls a key may make a minute, counted in each process."""

from collections.abc import Callable
from threading import Lock
from time import monotonic


class Pace:
    """Buckets that fill evenly, one a key.

    Parameters
    ----------
    per_minute : calls
    clock : seconds that only grow
    """

    def __init__(self, per_minute: int, clock: Callable[[], float] = monotonic) -> None:
        self._per_minute = per_minute
        self._clock = clock
        self._left: dict[int, tuple[float, float]] = {}
        self._lock = Lock()

    def wait_s(self, key_id: int) -> int:
        """Take one call of a key: 0 if it may be made, else seconds until it may."""
        with self._lock:
            now = self._clock()
            left, since = self._left.get(key_id, (float(self._per_minute), now))
            left = min(left + (now - since) * self._per_minute / 60, float(self._per_minute))
            may = left >= 1
            self._left[key_id] = (left - may, now)
            return 0 if may else int((1 - left) * 60 / self._per_minute) + 1
