"""The protocol that every gateway meets."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Protocol, runtime_checkable

from gateways.errors import Refused, TryLater, Unsure


@dataclass(frozen=True, slots=True)
class Outgoing:
    """One text to one phone.

    Attributes
    ----------
    to : E.164 number with its plus sign
    body : the text
    reference : our own id of this message; the same text tried again carries the same one
    expires_at : aware UTC instant after which the carrier should drop it
    """

    to: str
    body: str
    reference: str
    expires_at: datetime


@dataclass(frozen=True, slots=True)
class Taken:
    """The gateway took the message.

    Attributes
    ----------
    reference : the carrier's id for it, which its receipt will name
    """

    reference: str


@dataclass(frozen=True, slots=True)
class Incoming:
    """One text that came in.

    Attributes
    ----------
    message_id : the gateway's id for it; the same id twice is the same text
    sender : as the gateway gave it, usually an E.164 number
    body : the bytes as they came, whatever they hold
    sent_at : aware UTC instant
    """

    message_id: str
    sender: str
    body: bytes
    sent_at: datetime


class ReceiptState(StrEnum):
    """What a carrier's receipt says of a message it took."""

    DELIVERED = "delivered"
    UNDELIVERED = "undelivered"
    UNDERWAY = "under way"


@dataclass(frozen=True, slots=True)
class Receipt:
    """A carrier's word on a message it took.

    Attributes
    ----------
    reference : the carrier's id, as `Taken.reference` has it; None if it names only ours
    client_reference : our ``Outgoing.reference``, where the carrier gives it back
    state : what became of the message
    at : aware UTC instant
    reason : the carrier's own words or code, perhaps empty
    """

    reference: str | None
    client_reference: str | None
    state: ReceiptState
    at: datetime
    reason: str = ""


Event = Incoming | Receipt
"""What a gateway brings in."""


@dataclass(frozen=True, slots=True)
class Callback:
    """One HTTP request that a carrier makes to us.

    Attributes
    ----------
    method : ``GET`` or ``POST``
    headers : names in small letters
    query : raw query string, without the question mark
    body : raw bytes, already bounded in size
    received_at : aware UTC instant
    """

    method: str
    headers: Mapping[str, str]
    query: str
    body: bytes
    received_at: datetime


@dataclass(frozen=True, slots=True)
class Abilities:
    """What a gateway can do.

    Attributes
    ----------
    client_reference : it drops a second message with the same ``Outgoing.reference``, so that
        trying again after a crash is safe
    receipts : it reports delivery
    inbound : it brings texts in
    unicode : it carries letters outside the GSM 7-bit alphabet
    long_texts : it carries texts of more than one segment
    segmented : its texts are cut into segments, and paid by them; not so for chat
    batch : most texts that one call takes; above 1 it meets `Batching`
    asking : its carrier can be asked what became of a text; it meets `Asking` then
    polled : its carrier keeps texts and receipts until they are fetched; it meets `Polled` then
    """

    client_reference: bool
    receipts: bool
    inbound: bool
    unicode: bool = True
    long_texts: bool = True
    segmented: bool = True
    batch: int = 1
    asking: bool = False
    polled: bool = False


@runtime_checkable
class Gateway(Protocol):
    """What carries notices out.

    ``send`` answers `Taken` or raises one of `gateways.errors.Refused`,
    `gateways.errors.TryLater` and `gateways.errors.Unsure`; it never retries by itself, and it
    may be called from several threads at once.
    """

    name: str
    abilities: Abilities

    def send(self, message: Outgoing) -> Taken:
        """Hand one message to the carrier."""
        ...

    def close(self) -> None:
        """Let go of connections and files."""
        ...


Answer = Taken | Refused | TryLater | Unsure
"""What becomes of one text of several that are handed over in one call."""


@runtime_checkable
class Batching(Protocol):
    """A gateway that hands several texts over in one call."""

    def send_many(self, messages: Sequence[Outgoing]) -> Sequence[Answer]:
        """Hand over up to ``abilities.batch`` texts; one answer for each, in the same order.

        Errors are answered, not raised: one text's refusal is not another's. ``send`` of one of
        them means the same.
        """
        ...


@dataclass(frozen=True, slots=True)
class Question:
    """A text that somebody wants to know the fate of.

    Attributes
    ----------
    to : E.164 number with its plus sign
    reference : the carrier's id of it; None if its answer never came
    client_reference : our ``Outgoing.reference``
    sent_at : aware UTC instant of the try
    """

    to: str
    reference: str | None
    client_reference: str
    sent_at: datetime


@dataclass(frozen=True, slots=True)
class NotKnown:
    """The carrier does not know the text: it never took it, and it may be sent again."""


@runtime_checkable
class Asking(Protocol):
    """A gateway whose carrier can be asked what became of a text."""

    def ask(self, question: Question) -> Receipt | NotKnown:
        """What the carrier says; ``Receipt.at`` is the instant of asking where it names none.

        Raises
        ------
        gateways.errors.TryLater
            There is no answer now.
        gateways.errors.Unsure
            The carrier cannot say, now or ever.
        """
        ...


@runtime_checkable
class Polled(Protocol):
    """A gateway whose carrier keeps texts and receipts until they are fetched."""

    def poll(self, on_event: Callable[[Event], None]) -> int:
        """Fetch what waits and answer how many events there were.

        An event counts as fetched, and is let go at the carrier, only after ``on_event`` has
        returned.

        Raises
        ------
        gateways.errors.TryLater
            The carrier cannot be reached or gives no answer that can be read.
        """
        ...


@runtime_checkable
class Listening(Protocol):
    """A gateway that brings texts and receipts in over its own connection."""

    def listen(self, on_event: Callable[[Event], None]) -> None:
        """Begin to bring events in, on a thread of its own, and return at once.

        An event is acknowledged to the carrier only after ``on_event`` has returned: it is kept
        then. If ``on_event`` raises, it is not acknowledged, and comes again. ``close`` ends it.
        """
        ...


@runtime_checkable
class CalledBack(Protocol):
    """A gateway whose carrier brings texts and receipts in by calling an address of ours."""

    def events(self, callback: Callback) -> Sequence[Event]:
        """What one call brings; the caller keeps it before it answers.

        Raises
        ------
        gateways.errors.Forged
            The signature, token or time of the call is wrong.
        gateways.errors.Unreadable
            The call is the carrier's, but nothing can be made of it.
        """
        ...
