"""The table ``[batch]`` of an HTTP profile: how several texts go over in one call."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, Literal, Self

from pydantic import Field, JsonValue, model_validator

from gateways.http.profile_answers import Answer, Places
from gateways.http.profile_parts import Address, HeaderName, Printable, Strict, Text, one_group
from gateways.http.template import placeholders

if TYPE_CHECKING:
    from gateways.http.profile import Profile

ANSWER_BYTES_A_TEXT = 256
"""Room that the longest answer must have for each text of a call (setting)."""

RefusedStatus = Annotated[str, Field(pattern=r"^4[0-9][0-9]$")]


class BatchAnswer(Places):
    """Where the answers to the texts of one call stand, and whose each is."""

    answers: Text | None = Field(
        default=None,
        description="Path of their list or table; left out, it is the body. With format text, a "
        "pattern each find of which is one.",
    )
    match: Literal["order", "reference", "number"] = Field(
        description="Whose an answer is: by its place, or by our reference or the number in it."
    )
    key: Text | None = Field(
        default=None,
        description="Place of that reference or number; left out, it is the name in a table.",
    )

    @model_validator(mode="after")
    def _finds_each(self) -> Self:
        if self.format == "text":
            if self.answers is None:
                raise ValueError("answers: expected a pattern with format text")
            one_group(self.answers)
            if self.match != "order":
                one_group(self.key or "")
        if self.match == "order" and self.key is not None:
            raise ValueError("key: expected none with match = order")
        return self


class Batch(Strict):
    """How several texts are put to the carrier in one call, which is always JSON."""

    size: Annotated[int, Field(ge=2, le=1000, description="Most texts of one call.")]
    method: Literal["POST", "PUT"] = "POST"
    address: Address | None = Field(default=None, description="Left out, that of [request].")
    headers: dict[HeaderName, Printable] | None = Field(
        default=None, description="Left out, those of [request]."
    )
    messages: Text | None = Field(
        default=None, description="Path of the texts' list; left out, the body is the list."
    )
    fields: dict[str, JsonValue] = Field(
        default_factory=dict, description="What stands in the body once, beside the list."
    )
    each: dict[str, JsonValue] = Field(description="What stands in the list for each text.")
    halve: Annotated[tuple[RefusedStatus, ...], Field(strict=False)] = Field(
        default=(),
        description="Statuses by which the carrier refuses a whole call for one text of it: the "
        "call is put again in halves.",
    )
    answer: BatchAnswer

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        faults = list(self._faults())
        if faults:
            raise ValueError("; ".join(faults))
        return self

    def _faults(self) -> Iterator[str]:
        named = set(placeholders(dict(self.each)))
        if "body" not in named:
            yield "each: expected {body} in one of them"
        if not {"to", "to_digits"} & named:
            yield "each: expected {to} or {to_digits} in one of them"
        if self.answer.match == "reference" and "reference" not in named:
            yield "each: expected {reference} in one of them with match = reference"
        if not set(placeholders(dict(self.fields))) <= {"sender"}:
            yield "fields: expected no placeholder but {sender}, they stand for all texts"
        if self.messages is None and self.fields:
            yield "messages: expected the path of the list, there are fields beside it"
        if self.messages is not None and not _is_free(self.fields, self.messages):
            yield "messages: expected a path at which no field stands"

    def named(self) -> set[str]:
        """Every placeholder that it uses."""
        return set(placeholders([dict(self.fields), dict(self.each), dict(self.headers or {})]))


def batch_faults(batch: Batch, profile: "Profile") -> Iterator[str]:
    """What does not fit between the table and the rest of its profile."""
    request = profile.request
    named = batch.named()
    if set(placeholders(batch.address or request.address)):
        yield "batch.address: expected one without placeholders"
    if batch.address is not None and not profile.may_be(batch.address):
        yield "batch.address: expected https:, or allow_unencrypted = true"
    shared = request.headers if batch.headers is None else batch.headers
    if not set(placeholders(dict(shared))) <= {"sender"}:
        yield "batch.headers: expected no placeholder but {sender}, they stand for all texts"
    for name, given in (("sender", request.sender), ("coding", request.coding)):
        if name in named and given is None:
            yield f"request.{name}: expected a value, [batch] uses {{{name}}}"
    if profile.abilities.client_reference and "reference" not in named:
        yield "batch.each: expected {reference} somewhere with client_reference = true"
    secret = {each.name or "" for each in profile.credentials if each.place == "field"}
    if secret and (batch.messages is None or batch.messages.split(".")[0] in secret):
        yield "batch.messages: expected a path beside the credentials in fields"
    if profile.limits.answer_bytes < batch.size * ANSWER_BYTES_A_TEXT:
        least = batch.size * ANSWER_BYTES_A_TEXT
        yield f"limits.answer_bytes: expected {least} or more for a batch of {batch.size}"


def answer_of_one(batch: BatchAnswer, whole: Answer) -> Answer:
    """How one text's part of an answer is read: by its own places, and the call's statuses."""
    own = {name: getattr(batch, name) for name in Places.model_fields}
    return whole.model_copy(update=own)


def _is_free(fields: JsonValue, path: str) -> bool:
    """Whether a list can be put at a path without taking the place of a field."""
    parts = path.split(".")
    if any(not part or part.isdecimal() for part in parts):
        return False
    for part in parts:
        if not isinstance(fields, dict):
            return False
        if part not in fields:
            return True
        fields = fields[part]
    return False
