"""One connection to an SMPP carrier: whole messages in and out, spelled by ``smpplib``."""

import itertools
import logging
import select
import socket
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from queue import SimpleQueue
from threading import Thread
from typing import ClassVar, Protocol

from smpplib.command import DeliverSM, SubmitSM
from smpplib.exceptions import UnknownCommandError
from smpplib.smpp import make_pdu

from gateways.errors import GatewayError
from gateways.smpp.text import Delivery, tlvs

_log = logging.getLogger(__name__)

_HEADER = struct.Struct(">LLLL")
_MOST_OCTETS = 70_000
"""A message_payload has at most 64 KiB (SMPP 3.4, 5.3.2.32); a setting beyond that."""
_AT_ONCE = 65_536
_DELIVER_SM, _DELIVER_SM_RESP = 0x00000005, 0x80000005
_ANSWERS = {0x80000000, 0x80000003, 0x80000004, 0x80000009}
"""generic_nack, query_sm_resp, submit_sm_resp and bind_transceiver_resp."""
_ACKNOWLEDGE_NOW: int | None = getattr(socket, "TCP_QUICKACK", None)
"""Where the system has it. A carrier that gathers small answers (RFC 1122, 4.2.3.4) sends the
rest only when the first is acknowledged, which the system would put off while the window is full
and nothing of ours is on its way. It holds for a while only, so it is said at each reading."""
_INTERNATIONAL = 1
_PERMANENT_ERROR = 0x65
_UNREADABLE = (ValueError, LookupError, TypeError, struct.error, UnknownCommandError)
"""What ``smpplib`` raises at octets that it cannot read."""


class LinkLost(GatewayError):
    """The connection ended; what was written last may have left or not."""


class NotWritten(GatewayError):
    """The connection had ended before a message was written."""


class Spelled(Protocol):
    """A message that ``smpplib`` made."""

    sequence: int

    def generate(self) -> bytes:
        """Its octets."""
        ...


@dataclass(frozen=True, slots=True)
class Answer:
    """What the carrier answers to a request of ours.

    Attributes
    ----------
    bind : whether it answers a bind
    message_id : of a message it took, perhaps empty; the carrier's name if this is of a bind
    rest : octets behind that
    """

    sequence: int
    status: int
    bind: bool
    message_id: str
    rest: bytes = b""


@dataclass(frozen=True, slots=True)
class Call:
    """Any other message of the carrier, by its command."""

    command: int
    sequence: int


class _Deliver(DeliverSM):  # type: ignore[misc]  # the library has no types
    """A deliver_sm with optional parameters that no carrier can break the reading by."""

    tlvs: dict[int, bytes]

    def parse_optional_params(self, data: bytes) -> None:
        self.tlvs = tlvs(data)


_SUBMIT_FIELDS = (
    *SubmitSM.params_order[: SubmitSM.params_order.index("short_message") + 1],
    "message_payload",
)


class _Submit(SubmitSM):  # type: ignore[misc]
    """A submit_sm without the optional parameters that are never given: spelled twice as fast."""

    params_order = _SUBMIT_FIELDS
    params: ClassVar[dict[str, object]] = {name: SubmitSM.params[name] for name in _SUBMIT_FIELDS}


class Numbers:
    """Sequence numbers, each once, whichever thread asks (SMPP 3.4, 5.1.4)."""

    sequence = 0

    def __init__(self) -> None:
        self._count = itertools.count()

    def next_sequence(self) -> int:
        """The next one."""
        return next(self._count) % 0x7FFFFFFF + 1


_NONE = Numbers()


class Wire:
    """A connected socket; one thread reads, any may write, one of its own does so for them.

    ``smpplib`` spells and reads the messages, while the socket is our own: that library's client
    loses octets when a read times out, and shows the password in its log.
    """

    def __init__(self, host: str, port: int, timeout_s: float) -> None:
        self._numbers = Numbers()
        self._buffer = bytearray()
        self._outbox: SimpleQueue[bytes] = SimpleQueue()
        self._ended = False
        self._timeout_s = timeout_s
        self._socket = socket.create_connection((host, port), timeout_s)
        self._socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self._socket.setblocking(False)  # so that each call is one call to the system
        self._readable, self._writable = select.poll(), select.poll()
        self._readable.register(self._socket, select.POLLIN)
        self._writable.register(self._socket, select.POLLOUT)
        self._writer = Thread(target=self._write_all, name="smpp writer", daemon=True)
        self._writer.start()

    def submit_sm(self, **fields: int | str | bytes) -> Spelled:
        """A submit_sm with a sequence number of its own; fields as ``smpplib`` names them."""
        spelled: Spelled = _Submit("submit_sm", client=self._numbers, **fields)
        return spelled

    def spell(self, command: str, **fields: object) -> Spelled:
        """Any other request."""
        spelled: Spelled = make_pdu(command, client=self._numbers, **fields)
        return spelled

    def write(self, spelled: Spelled) -> None:
        """Give one message to the thread that writes: what waits goes out in one go.

        Raises
        ------
        NotWritten
            The connection had ended before.
        """
        octets = spelled.generate()
        if self._ended:
            raise NotWritten("the link is down")
        self._outbox.put(octets)

    def answer(self, command: str, sequence: int, status: int = 0) -> None:
        """Answer a request of the carrier's; raises as `write` does."""
        spelled: Spelled = make_pdu(command, client=self._numbers, status=status)
        spelled.sequence = sequence
        self.write(spelled)

    def read(self, wait_s: float) -> list[Answer | Delivery | Call]:
        """What came by then, perhaps nothing.

        Raises
        ------
        LinkLost
            The carrier closed the connection, or what it sends is no SMPP.
        """
        try:
            got = self._received(max(wait_s, 0.0))
        except BlockingIOError:
            return []
        except OSError as error:
            raise LinkLost(f"the link broke: {error}") from error
        if not got:
            raise LinkLost("the carrier closed the link")
        self._buffer += got
        return [read for frame in self._frames() for read in self._readings(frame)]

    def shut(self) -> None:
        """End the connection, from any thread; the reader sees that it is over."""
        self._ended = True
        try:
            self._socket.shutdown(socket.SHUT_RDWR)
        except OSError as error:
            _log.debug("the link was down already: %s", error)

    def close(self) -> None:
        """Let go of the sockets; only the reader may do so."""
        self.shut()
        self._outbox.put(b"")
        self._writer.join()
        self._socket.close()

    def _write_all(self) -> None:
        """Write what waits, as much as there is at once, until the link ends."""
        while (octets := self._outbox.get()) and not self._ended:
            batch = [octets]
            while not self._outbox.empty():
                batch.append(self._outbox.get())
            try:
                self._send(b"".join(batch))
            except OSError as error:
                _log.info("the link broke: %s", error)
                self.shut()

    def _send(self, octets: bytes) -> None:
        rest = memoryview(octets)
        while rest:
            try:
                rest = rest[self._socket.send(rest) :]
            except BlockingIOError:
                if not self._writable.poll(self._timeout_s * 1000):
                    raise TimeoutError(f"nothing was read for {self._timeout_s:g} s") from None

    def _received(self, wait_s: float) -> bytes:
        """What is there, or comes in time; under load there is always something."""
        try:
            got = self._socket.recv(_AT_ONCE)
        except BlockingIOError:
            self._readable.poll(wait_s * 1000)
            got = self._socket.recv(_AT_ONCE)
        if _ACKNOWLEDGE_NOW is not None:
            self._socket.setsockopt(socket.IPPROTO_TCP, _ACKNOWLEDGE_NOW, 1)
        return got

    def _frames(self) -> Iterator[bytes]:
        """Whole messages at the front of the buffer."""
        while len(self._buffer) >= 4:
            length = int.from_bytes(self._buffer[:4], "big")
            if not _HEADER.size <= length <= _MOST_OCTETS:
                raise LinkLost(f"what came is no SMPP: a message of {length} octets")
            if len(self._buffer) < length:
                return
            frame = bytes(self._buffer[:length])
            del self._buffer[:length]
            yield frame

    def _readings(self, frame: bytes) -> Iterator[Answer | Delivery | Call]:
        _length, command, status, sequence = _HEADER.unpack_from(frame)
        if command in _ANSWERS:
            text, _zero, rest = frame[_HEADER.size :].partition(b"\0")
            yield Answer(sequence, status, command == 0x80000009, text.decode("latin-1"), rest)
        elif command != _DELIVER_SM:
            yield Call(command, sequence)
        else:
            try:
                yield _delivery(frame, sequence)
            except _UNREADABLE as error:
                # It would be as unreadable the next time, so the carrier shall not keep it.
                _log.warning("a deliver_sm cannot be read: %s", error)
                self.answer("deliver_sm_resp", sequence, _PERMANENT_ERROR)


def _delivery(frame: bytes, sequence: int) -> Delivery:
    pdu = _Deliver("deliver_sm", client=_NONE)
    pdu.tlvs = {}
    pdu.parse(frame)
    units = pdu.short_message or b""
    if pdu.data_coding is None or len(units) != pdu.sm_length:
        raise ValueError("it ends too early")
    return Delivery(
        sequence=sequence,
        sender=_address(pdu.source_addr_ton, pdu.source_addr),
        to=_address(pdu.dest_addr_ton, pdu.destination_addr),
        esm_class=pdu.esm_class,
        data_coding=pdu.data_coding,
        short_message=units,
        tlvs=pdu.tlvs,
    )


def _address(ton: int, digits: bytes | None) -> str:
    address = (digits or b"").decode("latin-1")
    international = ton == _INTERNATIONAL and address.isdecimal()
    return f"+{address}" if international else address
