"""Parts of long texts that came in, until all are there."""

from dataclasses import dataclass, field

from gateways.smpp.text import Delivery, Piece, body_of
from gateways.smpp.wire import Wire

_HOLD_S = 1.0
"""How long a part waits unanswered for the others: some carriers send the next only then."""
_GIVE_UP_S = 600.0
"""After so long without the missing parts, what is there is brought in; both are settings."""


@dataclass(slots=True)
class Part:
    """One part and whether the carrier was told that we have it."""

    piece: Piece
    wire: Wire
    delivery: Delivery
    came_s: float
    answered: bool = False


@dataclass(slots=True)
class Whole:
    """The parts of one text that are there; several deliveries may be the same part."""

    key: tuple[str, ...]
    came: list[Part] = field(default_factory=list)

    @property
    def complete(self) -> bool:
        """Whether none is missing."""
        return len({part.piece.number for part in self.came}) == self.came[0].piece.parts

    @property
    def body(self) -> bytes:
        """The text in UTF-8; parts are joined before they are read, wherever it was cut."""
        latest = {part.piece.number: part.piece.units for part in self.came}
        units = b"".join(latest[number] for number in sorted(latest))
        return body_of(self.came[0].piece.data_coding, units)


class Parts:
    """Texts that are not complete yet; one thread uses it."""

    def __init__(self) -> None:
        self._wholes: dict[tuple[str, ...], Whole] = {}

    def __bool__(self) -> bool:
        """Whether there are any."""
        return bool(self._wholes)

    def add(self, part: Part) -> Whole:
        """The text that a part belongs to, with all that is there of it."""
        key = part.piece.text
        whole = self._wholes.setdefault(key, Whole(key))
        whole.came.append(part)
        return whole

    def kept(self, whole: Whole) -> None:
        """Forget a text that was kept."""
        self._wholes.pop(whole.key, None)

    def refused(self, whole: Whole) -> None:
        """Forget what comes again, since the carrier was not told that we have it."""
        whole.came = [part for part in whole.came if part.answered]
        if not whole.came:
            self._wholes.pop(whole.key, None)

    def to_answer(self, now_s: float) -> list[Part]:
        """Parts that have waited long enough for the others."""
        return [
            part
            for whole in self._wholes.values()
            for part in whole.came
            if not part.answered and now_s - part.came_s >= _HOLD_S
        ]

    def given_up(self, now_s: float) -> list[Whole]:
        """Texts whose missing parts will not come any more."""
        return [
            whole for whole in self._wholes.values() if now_s - whole.came[-1].came_s >= _GIVE_UP_S
        ]
