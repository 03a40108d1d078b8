"""What an SMPP carrier brings in, kept before it is answered."""

import logging
import time
import uuid
from collections.abc import Callable
from datetime import UTC, datetime
from queue import Empty, Full, Queue
from threading import Lock, Thread

from gateways.protocol import Event, Incoming, Receipt
from gateways.smpp.parts import Part, Parts, Whole
from gateways.smpp.receipts import is_receipt, receipt_of
from gateways.smpp.text import Delivery, piece_of
from gateways.smpp.wire import NotWritten, Wire

_log = logging.getLogger(__name__)

_LATER = 0x64
"""ESME_RX_T_APPN: not now, send it again."""
_QUEUE_FULL = 0x14
_MOST_WAITING = 1_000
"""Deliveries that wait for the thread: a setting."""
_MOST_UNANSWERED = 1_000
_LOOK_S = 0.25


class Inbox:
    """Hands what comes to ``on_event`` on one thread, and answers the carrier afterwards."""

    def __init__(self, receipt_ids: str) -> None:
        self._receipt_ids = receipt_ids
        self._queue: Queue[tuple[Wire, Delivery] | Receipt | None] = Queue(_MOST_WAITING)
        self._parts = Parts()
        self._unanswered: dict[tuple[str, str, bytes], str] = {}
        self._on_event: Callable[[Event], None] | None = None
        self._thread: Thread | None = None
        self._starting = Lock()

    def start(self, on_event: Callable[[Event], None]) -> None:
        """Begin to hand events over; a second call only changes who gets them."""
        with self._starting:
            self._on_event = on_event
            if self._thread is None:
                self._thread = Thread(target=self._run, name="smpp inbox", daemon=True)
                self._thread.start()

    def stop(self, wait_s: float) -> None:
        """End the thread after what is under way; the rest comes again."""
        with self._starting:
            thread, self._on_event = self._thread, None
            if thread is None:
                return
            try:
                self._queue.put_nowait(None)
            except Full:
                _log.debug("the inbox is full; its thread ends as it is emptied")
        thread.join(wait_s)

    def put(self, wire: Wire, delivery: Delivery) -> None:
        """Take one delivery; the carrier is asked to send it again if nobody can have it now."""
        if self._on_event is None:
            _answer(wire, delivery, _LATER)
            return
        try:
            self._queue.put_nowait((wire, delivery))
        except Full:
            _answer(wire, delivery, _QUEUE_FULL)

    def tell(self, receipt: Receipt) -> None:
        """Take a receipt that we make ourselves of what the carrier said."""
        if self._on_event is None:
            return
        try:
            self._queue.put_nowait(receipt)
        except Full:
            _log.warning("the inbox is full: it is lost that %s", receipt.reason)

    def _run(self) -> None:
        while self._on_event is not None:
            try:
                item = self._queue.get(timeout=_LOOK_S if self._parts else None)
            except Empty:
                self._look_at_parts()
                continue
            if isinstance(item, Receipt):
                self._keep(item)
            elif item is not None:
                self._take(*item)
            if self._parts:
                self._look_at_parts()

    def _take(self, wire: Wire, delivery: Delivery) -> None:
        if is_receipt(delivery):
            self._take_receipt(wire, delivery)
            return
        part = Part(piece_of(delivery), wire, delivery, time.monotonic())
        whole = self._parts.add(part)
        if whole.complete:
            self._take_whole(whole)

    def _take_receipt(self, wire: Wire, delivery: Delivery) -> None:
        receipt = receipt_of(delivery, self._receipt_ids, datetime.now(UTC))
        if receipt is None:
            _log.warning("a receipt names no message")
        kept = receipt is None or self._keep(receipt)
        _answer(wire, delivery, 0 if kept else _LATER)

    def _take_whole(self, whole: Whole) -> None:
        """Bring one text in; one whose answer was lost has the id that it had before."""
        first = whole.came[0].delivery
        body = whole.body
        content = (first.sender, first.to, body)
        message_id = self._unanswered.pop(content, None) or f"smpp-{uuid.uuid4()}"
        kept = self._keep(Incoming(message_id, first.sender, body, datetime.now(UTC)))
        answered = [
            _answer(part.wire, part.delivery, 0 if kept else _LATER)
            for part in whole.came
            if not part.answered
        ]
        if not kept:
            self._parts.refused(whole)
            return
        self._parts.kept(whole)
        if not all(answered):
            self._unanswered[content] = message_id
            if len(self._unanswered) > _MOST_UNANSWERED:
                del self._unanswered[next(iter(self._unanswered))]

    def _look_at_parts(self) -> None:
        now_s = time.monotonic()
        for part in self._parts.to_answer(now_s):
            _answer(part.wire, part.delivery, 0)
            part.answered = True
        for whole in self._parts.given_up(now_s):
            _log.warning("a long text came in without all of its parts")
            self._take_whole(whole)

    def _keep(self, event: Event) -> bool:
        """Whether the event was kept."""
        on_event = self._on_event
        if on_event is None:
            return False
        try:
            on_event(event)
        except Exception:
            # This thread's outermost loop: whatever it is, the carrier shall send it again.
            _log.exception("what came in was not kept")
            return False
        return True


def _answer(wire: Wire, delivery: Delivery, status: int) -> bool:
    """Answer one delivery; whether that could be written."""
    try:
        wire.answer("deliver_sm_resp", delivery.sequence, status)
    except NotWritten as error:
        _log.info("a delivery stays without its answer: %s", error)
        return False
    return True
