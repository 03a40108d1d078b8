"""The profile of one HTTP carrier: a TOML file, checked as a whole before anything is sent."""

import tomllib
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import Field, JsonValue, ValidationError, model_validator
from pydantic_core import ErrorDetails

from gateways.errors import BadOption
from gateways.http.profile_answers import Answer
from gateways.http.profile_asking import Asking
from gateways.http.profile_batch import Batch, batch_faults
from gateways.http.profile_callbacks import Callbacks
from gateways.http.profile_parts import (
    Address,
    HeaderName,
    Printable,
    Secret,
    Strict,
    Text,
    TimeToWrite,
    is_header_name,
)
from gateways.http.profile_polling import Polling, polling_faults
from gateways.http.template import Scalar, placeholders

_IN_HEADERS = frozenset({"to", "to_digits", "reference", "sender", "expires_at", "coding"})
_IN_ADDRESS = frozenset({"to", "to_digits", "reference"})


class CarrierAbilities(Strict):
    """What the carrier says of itself; receipts and texts in follow from its callbacks."""

    client_reference: bool = Field(
        description="Whether it drops a second message with the same {reference}."
    )
    unicode: bool = Field(default=True, description="Whether letters outside GSM 7-bit pass.")
    long_texts: bool = Field(default=True, description="Whether longer than one segment passes.")


class Coding(Strict):
    """What ``{coding}`` stands for: a carrier that wants to be told which letters come."""

    gsm: Scalar = Field(description="For a text in the GSM 7-bit alphabet.")
    unicode: Scalar = Field(description="For any other.")


class Credential(Strict):
    """One secret of the request and where it stands."""

    place: Literal["header", "basic", "query", "field"] = Field(alias="in")
    name: Text | None = Field(default=None, description="Of the header, query part or field.")
    user: Text | None = Field(default=None, description="For HTTP basic.")
    prefix: str = Field(default="", description='Before the secret, as "Bearer ".')
    secret: Secret = Field(alias="secret_file")

    @model_validator(mode="after")
    def _is_whole(self) -> Self:
        if self.place == "basic" and (self.user is None or self.name or self.prefix):
            raise ValueError("expected user and secret_file alone with in = basic")
        if self.place != "basic" and (self.name is None or self.user):
            raise ValueError(f"expected name, secret_file and no user with in = {self.place}")
        if self.place == "header" and not is_header_name(self.name or ""):
            raise ValueError("name: expected the name of a header")
        return self


class Request(Strict):
    """How one message is put to the carrier."""

    method: Literal["POST", "PUT", "GET"] = "POST"
    address: Address = Field(description="May hold {reference}, {to}, {to_digits} in its path.")
    format: Literal["json", "form", "query"]
    fields: dict[str, JsonValue] = Field(description="The body, or the query's parts.")
    headers: dict[HeaderName, Printable] = Field(default_factory=dict)
    sender: Text | None = Field(default=None, description="What {sender} stands for.")
    coding: Coding | None = None
    expires: TimeToWrite = Field(default="iso", description="How {expires_at} is written.")

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        faults = list(self._faults())
        if faults:
            raise ValueError("; ".join(faults))
        return self

    def _faults(self) -> Iterator[str]:
        if self.method == "GET" and self.format != "query":
            yield "format: expected query with method GET"
        if self.format != "json" and any(
            isinstance(each, list | dict) for each in self.fields.values()
        ):
            yield f"fields: expected no list or table with format {self.format}"
        named = set(placeholders(dict(self.fields)))
        in_headers = set(placeholders(dict(self.headers)))
        in_address = set(placeholders(self.address))
        if "body" not in named:
            yield "fields: expected {body} in one of them"
        if not {"to", "to_digits"} & (named | in_address):
            yield "fields: expected {to} or {to_digits} in one of them"
        if not in_headers <= _IN_HEADERS:
            yield "headers: expected no {body}"
        if not in_address <= _IN_ADDRESS:
            yield "address: expected no placeholder but {reference}, {to}, {to_digits}"
        for name, given in (("sender", self.sender), ("coding", self.coding)):
            if name in named | in_headers and given is None:
                yield f"{name}: expected a value, {{{name}}} is used"


class Limits(Strict):
    """How long and how large an exchange may get; all defaults are settings."""

    connect_s: Annotated[float, Field(gt=0, le=60)] = 5.0
    read_s: Annotated[float, Field(gt=0, le=120)] = 30.0
    total_s: Annotated[float, Field(gt=0, le=300, description="From request to answer.")] = 60.0
    answer_bytes: Annotated[int, Field(ge=256, le=16_777_216)] = 65_536


class Profile(Strict):
    """One carrier."""

    abilities: CarrierAbilities
    request: Request
    credentials: tuple[Credential, ...] = Field(default=(), strict=False)
    answer: Answer
    batch: Batch | None = None
    callbacks: Callbacks | None = None
    asking: Asking | None = None
    polling: tuple[Polling, ...] = Field(default=(), strict=False)
    limits: Limits = Limits()
    allow_private_addresses: bool = Field(
        default=False, description="Whether the carrier may stand in a private network."
    )
    allow_unencrypted: bool = Field(default=False, description="Whether http: will do.")
    ca_file: Text | None = Field(
        default=None, description="Certificates to trust in place of the usual ones."
    )

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        faults = list(self._faults())
        if faults:
            raise ValueError("; ".join(faults))
        return self

    def _faults(self) -> Iterator[str]:
        if not self.may_be(self.request.address):
            yield "request.address: expected https:, or allow_unencrypted = true"
        if self.abilities.client_reference and not self._names_reference():
            yield "request: expected {reference} somewhere with client_reference = true"
        if self.request.format == "query" and any(c.place == "field" for c in self.credentials):
            yield "credentials: expected in = query with format query"
        if self.batch is not None:
            yield from batch_faults(self.batch, self)
        if self.asking is not None and not self.may_be(self.asking.request.address):
            yield "asking.request.address: expected https:, or allow_unencrypted = true"
        yield from polling_faults(self.polling, self.may_be)

    def may_be(self, address: str) -> bool:
        """Whether an address is encrypted, or need not be."""
        return self.allow_unencrypted or address.startswith("https:")

    def _names_reference(self) -> bool:
        request = self.request
        parts: list[JsonValue] = [dict(request.fields), dict(request.headers), request.address]
        return "reference" in placeholders(parts)


def load_profile(path: str) -> Profile:
    """Read a profile and the secret files that it names, relative to its own folder.

    Raises
    ------
    gateways.errors.BadOption
        The file cannot be read or has faults: all of them.
    """
    try:
        text = Path(path).read_text("utf-8")
        data = tomllib.loads(text)
    except (OSError, ValueError) as error:
        raise BadOption("http", "profile", path, f"a TOML file ({error})") from error
    folder = Path(path).parent
    try:
        profile = Profile.model_validate(data, context={"folder": folder})
    except ValidationError as error:
        found = _faults(error.errors(include_url=False, include_input=False))
        raise BadOption(
            "http", "profile", path, f"a profile without faults, it has {'; '.join(found)}"
        ) from None  # the validator's own error shows what was typed, perhaps a secret
    if profile.ca_file is None:
        return profile
    bundle = folder / profile.ca_file
    if not bundle.is_file():
        raise BadOption("http", "profile", path, f"ca_file to be a file, {bundle} is none")
    return profile.model_copy(update={"ca_file": str(bundle)})


def _faults(details: Sequence[ErrorDetails]) -> list[str]:
    places = [detail["loc"] for detail in details]
    # The validator leaves faulty members out before it counts a list: that is no second fault.
    return [
        _fault(detail)
        for detail in details
        if detail["type"] != "too_short"
        or not any(place[: len(detail["loc"])] == detail["loc"] != place for place in places)
    ]


def _fault(detail: ErrorDetails) -> str:
    where = ".".join(map(str, detail["loc"]))
    said = detail["msg"].removeprefix("Value error, ")
    if detail["type"] == "extra_forbidden":
        said = "no such key is known"
    return f"{where}: {said}" if where else said
