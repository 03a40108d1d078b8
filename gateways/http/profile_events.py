"""Tables of an HTTP profile that say where the parts of receipts and texts stand."""

from collections.abc import Iterator
from typing import Self
from zoneinfo import ZoneInfo

from pydantic import Field, model_validator

from gateways.http.profile_parts import Strict, Text, TimeToRead, When, Words, Zone


class StateWords(Strict):
    """The carrier's words for what became of a message, in any case of letters."""

    delivered: Words = Field(min_length=1)
    undelivered: Words = Field(min_length=1)
    underway: Words = ()


class Receipts(Strict):
    """Where a receipt's parts stand."""

    when: When | None = None
    reference: Text | None = Field(default=None, description="The carrier's id.")
    client_reference: Text | None = Field(default=None, description="Ours.")
    state: Text
    states: StateWords
    at: Text | None = Field(default=None, description="Left out: when the call came.")
    reason: Text | None = None

    @model_validator(mode="after")
    def _names_a_message(self) -> Self:
        if self.reference is None and self.client_reference is None:
            raise ValueError("expected reference, client_reference or both")
        return self


class Inbound(Strict):
    """Where the parts of a text that comes in stand."""

    when: When | None = None
    message_id: Text | None = Field(
        default=None, description="Left out: made of sender, time and text."
    )
    sender: Text
    add_plus: bool = Field(default=False, description="Whether numbers come without their +.")
    body: Text
    at: Text | None = Field(default=None, description="Left out: when the call came.")

    @model_validator(mode="after")
    def _can_be_told_apart(self) -> Self:
        if self.message_id is None and self.at is None:
            raise ValueError("expected message_id, or at, or a text told twice counts twice")
        return self


class Events(Strict):
    """What the events of a carrier are, however they come."""

    ignore: When | None = Field(default=None, description="Events that are of no use.")
    time: TimeToRead = "iso"
    zone: Zone = Field(default=ZoneInfo("UTC"), description="Of times that name none.")
    receipts: Receipts | None = None
    inbound: Inbound | None = None

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        faults = list(self._faults())
        if faults:
            raise ValueError("; ".join(faults))
        return self

    def _faults(self) -> Iterator[str]:
        if self.receipts is None and self.inbound is None:
            yield "expected receipts, inbound or both"
