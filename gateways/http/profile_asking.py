"""The table ``[asking]`` of an HTTP profile: how a carrier is asked what became of a text."""

from collections.abc import Iterator
from typing import Annotated, ClassVar, Literal, Self
from zoneinfo import ZoneInfo

from pydantic import Field, model_validator

from gateways.http.profile_calls import Call
from gateways.http.profile_events import StateWords
from gateways.http.profile_parts import Strict, Text, TimeToRead, Words, Zone, one_group


class AskingRequest(Call):
    """The question."""

    known: ClassVar[tuple[str, ...]] = ("reference", "carrier_reference", "to", "to_digits")

    def _faults_of_names(self, names: set[str]) -> Iterator[str]:
        if not {"reference", "carrier_reference"} & names:
            yield "expected {reference} or {carrier_reference} in the address or a field"


class NeverHeard(Strict):
    """What says that the carrier never took the text, so that it may be sent again."""

    statuses: Annotated[tuple[Annotated[int, Field(ge=200, le=499)], ...], Field(strict=False)] = (
        Field(default=(), description="Of HTTP.")
    )
    codes: Words = Field(default=(), description="With statuses too, both must be so.")
    empty: bool = Field(default=False, description="Whether an empty list of texts says it.")
    from_s: Annotated[float, Field(ge=0, le=86_400)] = Field(
        default=60.0, description="Age of a text from which it is believed (setting)."
    )
    until_s: Annotated[float, Field(gt=0)] = Field(
        default=86_400.0, description="Age to which it is: later a carrier has forgotten (setting)."
    )

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        if not (self.statuses or self.codes or self.empty):
            raise ValueError("expected statuses, codes, or empty = true")
        if not self.codes and any(200 <= each < 300 and each != 204 for each in self.statuses):
            raise ValueError("codes: expected some, a status of 2xx alone also brings states")
        if self.until_s <= self.from_s:
            raise ValueError("until_s: expected more than from_s")
        return self


class Told(Strict):
    """Where the parts of the answer stand."""

    format: Literal["json", "text"] = Field(
        default="json", description="text: also for XML; places are patterns with one group."
    )
    texts: Text | None = Field(
        default=None, description="Path of a list of texts; other places but code are within one."
    )
    reference: Text | None = Field(default=None, description="The carrier's id, which must agree.")
    client_reference: Text | None = Field(default=None, description="Ours, which must agree.")
    state: Text
    states: StateWords
    at: Text | None = Field(default=None, description="Left out or empty: when it was asked.")
    time: TimeToRead = "iso"
    zone: Zone = Field(default=ZoneInfo("UTC"), description="Of times that name none.")
    reason: Text | None = None
    code: Text | None = Field(default=None, description="Place of a code of the whole answer.")
    later: Words = Field(default=(), description="Codes that ask to wait.")
    not_known: NeverHeard | None = None

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        faults = list(self._faults())
        if faults:
            raise ValueError("; ".join(faults))
        return self

    def _faults(self) -> Iterator[str]:
        if self.format == "text":
            places = (self.reference, self.client_reference, self.state, self.at, self.reason)
            for pattern in (*places, self.code):
                if pattern is not None:
                    one_group(pattern)
            if self.texts is not None:
                yield "texts: expected none with format text"
        heard = self.not_known
        if self.code is None and (self.later or (heard is not None and heard.codes)):
            yield "code: expected its place, codes are given"
        if heard is not None and heard.empty and self.texts is None:
            yield "texts: expected the path of a list with not_known.empty = true"


class Asking(Strict):
    """How a carrier is asked what became of a text."""

    request: AskingRequest
    answer: Told
