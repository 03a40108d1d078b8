"""The protocol that every gateway meets."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Protocol, runtime_checkable


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
    long_texts : it carries texts of more than one segment (or has no segments at all)
    """

    client_reference: bool
    receipts: bool
    inbound: bool
    unicode: bool = True
    long_texts: bool = True


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
