"""The profile of a source of daily rain: a TOML file, checked as a whole before it is used."""

import tomllib
from collections.abc import Iterator, Mapping
from datetime import date
from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import Field, JsonValue, ValidationError, model_validator

from gateways.http.profile import Limits
from gateways.http.profile_parts import Address, HeaderName, Printable, Secret, Strict, Text
from gateways.http.template import placeholders
from reminder_service.errors import ReminderError

DAYS = ("from", "to")
"""Placeholders for the first and last day that is asked for."""

UNIT_MM: Mapping[str, float] = {"mm": 1.0, "inch": 25.4, "tenth-mm": 0.1}
"""Millimetres in each unit; an inch is 25.4 mm by definition (arithmetic)."""


class BadRainSource(ReminderError):
    """The profile of the rain source cannot be used.

    Attributes
    ----------
    path : of the file
    faults : what is wrong in it, all of it
    """

    def __init__(self, path: str, faults: list[str]) -> None:
        super().__init__(f"rain source {path}: {'; '.join(faults)}: put that right and start again")
        self.path = path
        self.faults = faults


class Credential(Strict):
    """One secret and where it stands."""

    place: Literal["header", "query"] = Field(alias="in")
    name: Text
    prefix: str = Field(default="", description='Before the secret, as "Bearer ".')
    secret: Secret = Field(alias="secret_file")


class Answer(Strict):
    """Where day and amount stand in an answer.

    JSON has either ``rows``, a list of objects with ``day`` and ``amount`` in each; or the two
    lists themselves under ``day`` and ``amount``. CSV has a heading with columns of these names.
    """

    format: Literal["json", "csv"]
    rows: Text | None = Field(default=None, description="Dotted path of the list of objects.")
    day: Text
    amount: Text
    day_form: Text | None = Field(default=None, description="Pattern such as %Y%m%d, else ISO.")
    unit: Literal["mm", "inch", "tenth-mm"] = "mm"
    tmin: Text | None = Field(default=None, description="Lowest temperature, as for amount.")
    tmax: Text | None = Field(default=None, description="Highest temperature, as for amount.")
    temperature_unit: Literal["celsius", "fahrenheit"] = "celsius"
    unknown: tuple[str, ...] = Field(
        default=(), strict=False, description="Amounts that mean that nothing is known."
    )
    last_line_open: bool = Field(
        default=False, description="Whether a CSV may end without a line end; a cut one does."
    )

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        if self.format == "csv" and self.rows is not None:
            raise ValueError("rows: expected none with format csv")
        if (self.tmin is None) is not (self.tmax is None):
            raise ValueError("tmin and tmax: expected both or neither")
        return self


class Retries(Strict):
    """How often a failed request is put again within one round; all are settings."""

    tries: Annotated[int, Field(ge=1, le=10)] = 4
    first_wait_s: Annotated[float, Field(gt=0, le=60)] = 1.0
    longest_wait_s: Annotated[float, Field(gt=0, le=300)] = 30.0


class SourceWard(Strict):
    """One ward and what its placeholders stand for, such as its latitude."""

    name: Text
    values: dict[str, str | int | float] = Field(default_factory=dict)


class RainProfile(Strict):
    """One source of daily rain."""

    name: Annotated[str, Field(min_length=1, max_length=60)]
    address: Address
    query: dict[str, str | int | float] = Field(default_factory=dict)
    headers: dict[HeaderName, Printable] = Field(default_factory=dict)
    credentials: tuple[Credential, ...] = Field(default=(), strict=False)
    wards: tuple[SourceWard, ...] = Field(min_length=1, strict=False)
    answer: Answer
    day_written: Text = Field(default="%Y-%m-%d", description="How {from} and {to} are written.")
    first_day: date | None = Field(default=None, description="Else the season's first.")
    days_at_once: Annotated[int, Field(ge=1, le=3660)] = 90
    days_ahead: Annotated[int, Field(ge=0, le=16, description="That it tells, from today on.")] = 0
    retries: Retries = Retries()
    limits: Limits = Limits(answer_bytes=1_048_576)
    allow_private_addresses: bool = False
    allow_unencrypted: bool = Field(default=False, description="Whether http: will do.")
    ca_file: Text | None = None

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        faults = list(self._faults())
        if faults:
            raise ValueError("; ".join(faults))
        return self

    def _faults(self) -> Iterator[str]:
        if not (self.allow_unencrypted or self.address.startswith("https:")):
            yield "address: expected https:, or allow_unencrypted = true"
        names = [ward.name.casefold() for ward in self.wards]
        if len(set(names)) < len(names):
            yield "wards: expected each name once"
        template: list[JsonValue] = [self.address, dict(self.query)]
        for ward in self.wards:
            try:
                named = set(placeholders(template, (*DAYS, *ward.values)))
            except ValueError as error:
                yield f"wards, {ward.name}: {error}"
                continue
            if not set(DAYS) <= named:
                yield "query: expected {from} and {to} in it or in the address"


def load_rain_profile(path: str) -> RainProfile:
    """Read the profile of a rain source and the secret files that it names.

    Parameters
    ----------
    path : of the TOML file; the files that it names are relative to its folder

    Raises
    ------
    BadRainSource
        The file cannot be read or has faults: all of them.
    """
    folder = Path(path).parent
    try:
        data = tomllib.loads(Path(path).read_text("utf-8"))
        profile = RainProfile.model_validate(data, context={"folder": folder})
    except ValidationError as error:
        found = error.errors(include_url=False, include_input=False)
        raise BadRainSource(
            path, [f"{'.'.join(map(str, each['loc']))}: {each['msg']}" for each in found]
        ) from None  # the validator's own error shows what was typed, perhaps a secret
    except (OSError, ValueError) as error:
        raise BadRainSource(path, [f"expected a TOML file ({error})"]) from error
    if profile.ca_file is None:
        return profile
    bundle = folder / profile.ca_file
    if not bundle.is_file():
        raise BadRainSource(path, [f"ca_file: expected a file, {bundle} is none"])
    return profile.model_copy(update={"ca_file": str(bundle)})
