"""The link to an SMPP carrier: bound, kept alive, and bound again after it broke."""

import logging
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from threading import Event, Lock, Thread
from typing import NoReturn

from smpplib import consts

from gateways.errors import TryLater, Unsure
from gateways.protocol import Receipt, ReceiptState
from gateways.smpp.inbox import Inbox
from gateways.smpp.profile import SmppProfile
from gateways.smpp.receipts import is_receipt, plain_id, receipt_of
from gateways.smpp.text import Delivery
from gateways.smpp.window import Held, Submitted, Window
from gateways.smpp.wire import Answer, Call, LinkLost, NotWritten, Spelled, Wire

_log = logging.getLogger(__name__)

_UNBIND, _UNBIND_RESP, _ENQUIRE_LINK = 0x00000006, 0x80000006, 0x00000015
_VERSION = 0x34
_UNBIND_S = 2.0
"""How long closing waits for the carrier's answer: a setting."""


def status_words(status: int) -> str:
    """A status code and its meaning (SMPP 3.4, 5.1.3)."""
    meaning = consts.DESCRIPTIONS.get(status, "a code of the carrier's own")
    return f"0x{status:02X} {meaning}"


@dataclass(frozen=True, slots=True)
class Underway:
    """A request that was written.

    Attributes
    ----------
    answer_by_s : until when its answer is waited for, as `time.monotonic` counts
    """

    sequence: int
    submitted: Submitted
    answer_by_s: float


class Link:
    """One transceiver bind; a thread of its own reads it and binds again, with growing waits."""

    def __init__(self, profile: SmppProfile, inbox: Inbox) -> None:
        self._profile = profile
        self._inbox = inbox
        self._window = Window(profile.window)
        self._wire: Wire | None = None
        self._bound_since_s: float | None = None
        self._trouble: str | None = "not connected yet"
        self._next_try_s = 0.0
        self._tried = Event()
        self._stopping = Event()
        self._starting = Lock()
        self._thread: Thread | None = None

    @property
    def trouble(self) -> str | None:
        """Why nothing can be sent at present, or None."""
        return self._trouble

    def start(self) -> None:
        """Begin to connect, once."""
        with self._starting:
            if self._thread is None and not self._stopping.is_set():
                self._thread = Thread(target=self._run, name="smpp link", daemon=True)
                self._thread.start()

    def begin(
        self, spell: Callable[[Wire], Spelled], reference: str | None, enter_by_s: float
    ) -> Underway:
        """Send one request; `finish` waits for its answer, and others may begin before.

        Parameters
        ----------
        spell : makes the submit_sm or query_sm for the link's present wire
        reference : our own id of the message, if this answer settles the whole of it
        enter_by_s : until when to wait for a place in the window, as `time.monotonic` counts

        Raises
        ------
        gateways.errors.TryLater
            There is no link, or the window stays full.
        """
        if self._thread is None:
            self.start()
        if not self._window.enter(max(enter_by_s - time.monotonic(), 0.0)):
            raise TryLater("the window stays full", self._profile.answer_s)
        try:
            wire = self._bound_wire()
            spelled = spell(wire)
        except BaseException:
            self._window.leave()
            raise
        submitted = self._window.put(spelled.sequence, reference)
        try:
            wire.write(spelled)
        except BaseException as error:
            self._release(self._window.drop(spelled.sequence))
            if isinstance(error, NotWritten):
                raise TryLater(str(error), self._profile.reconnect_s) from error
            raise
        return Underway(spelled.sequence, submitted, time.monotonic() + self._profile.answer_s)

    def finish(self, underway: Underway) -> Answer:
        """Wait for the answer to a request.

        Raises
        ------
        gateways.errors.Unsure
            The link was lost, or no answer came in time.
        """
        left_s = max(underway.answer_by_s - time.monotonic(), 0.0)
        try:
            answer = self._window.wait(underway.sequence, underway.submitted, left_s)
        except TimeoutError as error:
            self._release(self._window.drop(underway.sequence))
            waited_s = self._profile.answer_s
            raise Unsure(f"the carrier did not answer within {waited_s:g} s") from error
        if answer is None:
            raise Unsure("the link was lost before the carrier answered")
        return answer

    def close(self) -> None:
        """Unbind and end the thread; submits under way end as `Unsure`."""
        with self._starting:
            self._stopping.set()
            thread = self._thread
        if thread is None:
            self._trouble = "the gateway is closed"
            self._tried.set()
            return
        wire = self._wire
        if wire is not None and self._bound_since_s is not None:
            self._unbind(wire, thread)
        if wire is not None:
            wire.shut()
        thread.join(self._profile.connect_s + self._profile.answer_s)

    def _unbind(self, wire: Wire, thread: Thread) -> None:
        try:
            wire.write(wire.spell("unbind"))
        except NotWritten as error:
            _log.info("unbinding: %s", error)
            return
        thread.join(_UNBIND_S)

    def _bound_wire(self) -> Wire:
        if not self._tried.is_set():
            self._tried.wait(self._profile.connect_s + self._profile.answer_s)
        wire = self._wire
        if wire is None or self._bound_since_s is None or self._stopping.is_set():
            wait_s = max(self._next_try_s - time.monotonic(), 0.0) + self._profile.reconnect_s
            raise TryLater(f"no link to the carrier: {self._trouble}", wait_s)
        return wire

    def _run(self) -> None:
        wait_s = 0.0
        while not self._stopping.is_set():
            self._trouble = "connecting"
            trouble, lived_s = self._live()
            if lived_s > wait_s:
                wait_s = 0.0
            wait_s = min(max(2 * wait_s, self._profile.reconnect_s), self._profile.reconnect_most_s)
            self._trouble = trouble
            self._next_try_s = time.monotonic() + wait_s
            self._tried.set()
            if not self._stopping.is_set():
                _log.warning("no link to the carrier: %s; again in %.0f s", trouble, wait_s)
                self._stopping.wait(wait_s)

    def _live(self) -> tuple[str, float]:
        """Connect, bind and read until the link ends: why it did, and how long it was bound."""
        profile = self._profile
        try:
            wire = Wire(profile.host, profile.port, profile.connect_s)
        except OSError as error:
            return f"{profile.host}:{profile.port} cannot be reached: {error}", 0.0
        self._wire = wire
        try:
            self._serve(wire)
        except (LinkLost, NotWritten) as error:
            since_s = self._bound_since_s
            return str(error), 0.0 if since_s is None else time.monotonic() - since_s
        finally:
            self._trouble = "the link was lost"  # first, so that whoever finds no wire is told why
            self._bound_since_s = self._wire = None
            wire.close()
            self._release(self._window.lose())

    def _serve(self, wire: Wire) -> NoReturn:
        """Read until the link ends; whatever comes shows that it lives.

        Raises
        ------
        LinkLost, NotWritten
            It ended.
        """
        wire.write(self._bind(wire))
        asked_s: float | None = time.monotonic()
        heard_s = 0.0
        while True:
            ends_s = (
                heard_s + self._profile.enquire_s
                if asked_s is None
                else asked_s + self._profile.answer_s
            )
            came = wire.read(ends_s - time.monotonic())
            for each in came:
                self._handle(wire, each)
            now_s = time.monotonic()
            if came:
                heard_s, asked_s = now_s, None
            elif now_s < ends_s:
                continue
            elif asked_s is not None:
                raise LinkLost(f"the carrier was silent for {self._profile.answer_s:g} s")
            else:
                wire.write(wire.spell("enquire_link"))
                asked_s = now_s

    def _bind(self, wire: Wire) -> Spelled:
        return wire.spell(
            "bind_transceiver",
            system_id=self._profile.system_id,
            password=self._profile.password.get_secret_value(),
            system_type=self._profile.system_type,
            interface_version=_VERSION,
        )

    def _handle(self, wire: Wire, came: Answer | Delivery | Call) -> None:
        if isinstance(came, Delivery):
            self._deliver(wire, came)
        elif isinstance(came, Call):
            _obey(wire, came)
        elif self._bound_since_s is None:
            self._bound(came)
        else:
            self._settle(came)

    def _bound(self, answer: Answer) -> None:
        if answer.status != 0:
            raise LinkLost(f"the carrier refused the bind: {status_words(answer.status)}")
        if not answer.bind or self._stopping.is_set():
            raise LinkLost("the bind came to nothing")
        self._bound_since_s = time.monotonic()
        self._trouble = None
        self._tried.set()

    def _settle(self, answer: Answer) -> None:
        message_id = plain_id(answer.message_id, self._profile.submit_ids)
        freed, late = self._window.answer(answer, message_id)
        self._release(freed)
        if late is None:
            return
        taken = answer.status == 0
        state = ReceiptState.UNDERWAY if taken else ReceiptState.UNDELIVERED
        reason = f"answered late: {status_words(answer.status)}"
        self._inbox.tell(Receipt(message_id or None, late, state, datetime.now(UTC), reason))

    def _deliver(self, wire: Wire, delivery: Delivery) -> None:
        if is_receipt(delivery):
            receipt = receipt_of(delivery, self._profile.receipt_ids, datetime.now(UTC))
            named = receipt.reference if receipt is not None else None
            if named is not None and self._window.holds(named, wire, delivery):
                return
        self._inbox.put(wire, delivery)

    def _release(self, freed: Iterable[Held]) -> None:
        for held in freed:
            self._inbox.put(held.wire, held.delivery)


def _obey(wire: Wire, call: Call) -> None:
    """Answer what the carrier wants of the link itself."""
    if call.command == _ENQUIRE_LINK:
        wire.answer("enquire_link_resp", call.sequence)
    elif call.command == _UNBIND:
        wire.answer("unbind_resp", call.sequence)
        raise LinkLost("the carrier unbound")
    elif call.command == _UNBIND_RESP:
        raise LinkLost("unbound")
