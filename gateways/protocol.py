"""The protocol that every gateway meets."""

from dataclasses import dataclass
from datetime import datetime
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


@dataclass(frozen=True, slots=True)
class Abilities:
    """What a gateway can do.

    Attributes
    ----------
    client_reference : it drops a second message with the same ``Outgoing.reference``, so that
        trying again after a crash is safe
    receipts : it reports delivery
    inbound : it brings texts in
    """

    client_reference: bool
    receipts: bool
    inbound: bool


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
