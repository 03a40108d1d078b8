"""The table ``[callbacks]`` of an HTTP profile: how a carrier's calls are checked and read."""

import base64
import binascii
from collections.abc import Iterator
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from gateways.http.profile_events import Events
from gateways.http.profile_parts import Secret, Strict, Text


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


class Callbacks(Events):
    """What the carrier's calls bring."""

    format: Literal["json", "form", "query"]
    check: Check
    events: Text | None = Field(
        default=None, description="Path of a list of events; left out, the whole is one or a list."
    )

    def _faults(self) -> Iterator[str]:
        yield from super()._faults()
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
