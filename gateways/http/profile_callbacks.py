"""The table ``[callbacks]`` of an HTTP profile: how a carrier's calls are checked and read."""

import base64
import binascii
from collections.abc import Iterator
from typing import Annotated, Literal, Self
from zoneinfo import ZoneInfo

from pydantic import Field, model_validator

from gateways.http.profile_parts import Secret, Strict, Text, TimeToRead, When, Words, Zone


class Check(Strict):
    """How a call proves that it is the carrier's; the first secret is the newer."""

    scheme: Literal["standard-webhooks", "hmac-sha256", "token"]
    header: Text | None = Field(default=None, description="That holds the signature or token.")
    query: Text | None = Field(default=None, description="Part of the query with the token.")
    prefix: str = Field(default="", description='Before the signature or token, as "sha256=".')
    secrets: Annotated[tuple[Secret, ...], Field(strict=False, min_length=1, max_length=2)] = Field(
        alias="secret_files", description="One, or two while keys are changed."
    )

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        given = (self.header is not None, self.query is not None)
        if self.scheme == "standard-webhooks":
            if any(given) or self.prefix:
                raise ValueError("expected no header, query or prefix with standard-webhooks")
            for secret in self.secrets:
                webhook_key(secret.get_secret_value())
        elif self.scheme == "hmac-sha256" and given != (True, False):
            raise ValueError("header: expected its name, and no query, with hmac-sha256")
        elif self.scheme == "token" and sum(given) != 1:
            raise ValueError("expected one of header and query with token")
        return self


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


class Callbacks(Strict):
    """What the carrier's calls bring."""

    format: Literal["json", "form", "query"]
    check: Check
    events: Text | None = Field(
        default=None, description="Path of a list of events; left out, the whole is one or a list."
    )
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
        if self.format == "query" and self.check.scheme != "token":
            yield "check: expected token with format query, a body's signature does not cover it"
        if self.format != "json" and self.events is not None:
            yield f"events: expected none with format {self.format}"


def webhook_key(secret: str) -> bytes:
    """The key of a Standard Webhooks secret, ``whsec_`` and base64.

    Raises
    ------
    ValueError
        It is no base64, or shorter than 24 bytes.

    References
    ----------
    Standard Webhooks, section "Signature scheme": 24 to 64 bytes, base64.
    """
    try:
        key = base64.b64decode(secret.removeprefix("whsec_"), validate=True)
    except (binascii.Error, ValueError):
        raise ValueError("expected whsec_ and base64 in the secret's file") from None
    if len(key) < 24:
        raise ValueError("expected a key of 24 bytes or more in the secret's file")
    return key
