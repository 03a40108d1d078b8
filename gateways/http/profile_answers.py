"""The table ``[answer]`` of an HTTP profile: how a carrier's answer is read."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from gateways.http.profile_parts import Strict, Text, Words, one_group

Verdict = Literal["taken", "refused", "later", "unsure"]


class Codes(Strict):
    """What the carrier's own codes mean; with ``taken`` given, no other code is taken."""

    taken: Words = ()
    refused: Words = ()
    later: Words = ()
    unsure: Words = ()


class Places(Strict):
    """Where the carrier's id, code and reason of one text stand, and what its codes mean."""

    format: Literal["json", "text"] = Field(
        default="json", description="text: also for XML; places are patterns with one group."
    )
    reference: Text | None = Field(
        default=None, description="Place of the carrier's id; left out, our reference stands in."
    )
    code: Text | None = Field(default=None, description="Place of a code.")
    reason: Text | None = Field(default=None, description="Place of the words that explain it.")
    codes: Codes = Codes()

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        if self.format == "text":
            for pattern in (self.reference, self.code, self.reason):
                if pattern is not None:
                    one_group(pattern)
        if any(self.codes.model_dump().values()) and self.code is None:
            raise ValueError("code: expected its place, codes are given")
        if self.reference is None and not self.codes.taken:
            raise ValueError("reference: expected its place, or code and codes.taken")
        return self


class Answer(Places):
    """How the answer to one text is read."""

    statuses: dict[Annotated[str, Field(pattern=r"^[2-5][0-9][0-9]$")], Verdict] = Field(
        default_factory=dict, description="HTTP statuses that mean something else than usual."
    )
    retry_s: Annotated[float, Field(gt=0, le=86_400)] = Field(
        default=60.0, description="Wait where the carrier names none (setting)."
    )
