"""Submits that wait for their answer, and receipts that came before it."""

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, field
from queue import Empty, SimpleQueue
from threading import Lock
from typing import TypeVar

from gateways.smpp.text import Delivery
from gateways.smpp.wire import Answer, Wire

Key = TypeVar("Key")
Value = TypeVar("Value")

_REMEMBERED = 10_000
"""Ids of messages taken, and submits given up, that are kept in mind: a setting."""


@dataclass(frozen=True, slots=True)
class Held:
    """A receipt that came while submits were open.

    Attributes
    ----------
    message_id : that it names, in plain spelling
    wire, delivery : where and what it is
    before : submits that may yet be given that id
    """

    message_id: str
    wire: Wire
    delivery: Delivery
    before: set[int]


@dataclass(slots=True)
class Submitted:
    """One open submit.

    Attributes
    ----------
    reference : our own id of the message, if the answer settles the whole of it
    answers : gets the answer, or None if the link was lost
    """

    reference: str | None
    answers: SimpleQueue[Answer | None] = field(default_factory=SimpleQueue)


class Window:
    """The open submits of one link, at most so many at once.

    A submit takes a place by `enter`. Once it was `put`, its place is free again as soon as it
    is answered, given up or lost, whatever the thread that waits for it does meanwhile: so a
    thread may have many submits open and wait for places at the same time.
    """

    def __init__(self, size: int) -> None:
        self._slots: SimpleQueue[None] = SimpleQueue()
        for _slot in range(size):
            self._slots.put(None)
        self._lock = Lock()
        self._open: dict[int, Submitted] = {}
        self._given_up: OrderedDict[int, str] = OrderedDict()
        self._taken: OrderedDict[str, None] = OrderedDict()
        self._held: list[Held] = []

    def enter(self, wait_s: float) -> bool:
        """Whether a place became free in time; `leave` or what ends the submit gives it back."""
        try:
            self._slots.get(timeout=wait_s)
        except Empty:
            return False
        return True

    def leave(self) -> None:
        """Give a place back that no submit was `put` into."""
        self._slots.put(None)

    def put(self, sequence: int, reference: str | None) -> Submitted:
        """Note a submit before it is written."""
        submitted = Submitted(reference)
        with self._lock:
            self._open[sequence] = submitted
        return submitted

    def wait(self, sequence: int, submitted: Submitted, wait_s: float) -> Answer | None:
        """The answer to a submit; None if the link was lost.

        Raises
        ------
        TimeoutError
            There was none in time: from now on it is late.
        """
        try:
            return submitted.answers.get(timeout=wait_s)
        except Empty:
            pass
        with self._lock:
            self._closed(sequence)
            if submitted.reference is not None and submitted.answers.empty():
                _remember(self._given_up, sequence, submitted.reference)
        try:  # it may have come at the last moment
            return submitted.answers.get_nowait()
        except Empty:
            raise TimeoutError from None

    def answer(self, answer: Answer, message_id: str) -> tuple[Sequence[Held], str | None]:
        """Hand an answer to whoever waits.

        Returns
        -------
        receipts that wait no longer, and our reference if the answer came too late
        """
        with self._lock:
            late = self._given_up.pop(answer.sequence, None)
            submitted = self._closed(answer.sequence)
            if message_id:
                _remember(self._taken, message_id, None)
            freed = self._freed(answer.sequence, message_id)
            if submitted is not None:
                submitted.answers.put(answer)
        return freed, late

    def drop(self, sequence: int) -> Sequence[Held]:
        """Forget a submit that has no answer to come; answers receipts that wait no longer."""
        with self._lock:
            self._closed(sequence)
            return self._freed(sequence, "")

    def holds(self, message_id: str, wire: Wire, delivery: Delivery) -> bool:
        """Whether a receipt stays here, since an open submit may yet be given its id."""
        with self._lock:
            if message_id in self._taken or not self._open:
                return False
            self._held.append(Held(message_id, wire, delivery, set(self._open)))
            return True

    def lose(self) -> Sequence[Held]:
        """End all waiting, since the link was lost; answers the receipts that were held."""
        with self._lock:
            for sequence in list(self._open):
                submitted = self._closed(sequence)
                if submitted is not None:
                    submitted.answers.put(None)
            freed, self._held = self._held, []
            self._given_up.clear()  # a new link numbers anew
            return freed

    def _closed(self, sequence: int) -> Submitted | None:
        """Take a submit out, if it is open still, and give its place back."""
        submitted = self._open.pop(sequence, None)
        if submitted is not None:
            self._slots.put(None)
        return submitted

    def _freed(self, sequence: int, message_id: str) -> list[Held]:
        if not self._held:
            return []
        freed: list[Held] = []
        kept: list[Held] = []
        for held in self._held:
            held.before.discard(sequence)
            named = message_id != "" and held.message_id == message_id
            (freed if named or not held.before else kept).append(held)
        self._held = kept
        return freed


def _remember(known: OrderedDict[Key, Value], key: Key, value: Value) -> None:
    known[key] = value
    if len(known) > _REMEMBERED:
        known.popitem(last=False)
