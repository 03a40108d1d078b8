"""The profile of one SMPP carrier: options or a TOML file, checked as a whole."""

import re
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Annotated, Literal

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    SecretStr,
    ValidationError,
    ValidationInfo,
)
from pydantic_core import ErrorDetails

from gateways.errors import BadOption

_NAME = "smpp"
_PASSWORD_LETTERS = 8
"""SMPP 3.4, 4.1.1: nine octets, the last of them empty."""

_BY_DIGITS = re.compile(r"\+?[0-9]{1,15}")


def _password(given: object, info: ValidationInfo) -> SecretStr:
    """Read the password's file; in a profile its path is relative to the profile's folder."""
    if not isinstance(given, str) or not given:
        raise ValueError("expected the path of a file")
    folder: Path = (info.context or {}).get("folder", Path())
    try:
        password = (folder / given).read_text("utf-8").rstrip("\r\n")
    except (OSError, UnicodeDecodeError) as error:
        raise ValueError(f"{given} cannot be read: {type(error).__name__}") from error
    fits = password.isascii() and password.isprintable()
    if not (fits and 0 < len(password) <= _PASSWORD_LETTERS):
        raise ValueError(f"{given}: expected 1 to {_PASSWORD_LETTERS} letters of ASCII in it")
    return SecretStr(password)


def _codes(given: object) -> object:
    """Status codes from one text, as ``0x45, 0x0400``."""
    if not isinstance(given, str):
        return given
    try:
        return tuple(int(code, 0) for code in given.split(",") if code.strip())
    except ValueError as error:
        raise ValueError("expected codes with commas between, as 0x45, 0x0400") from error


Password = Annotated[SecretStr, BeforeValidator(_password)]
Codes = Annotated[tuple[Annotated[int, Field(ge=1, le=0xFFFFFFFF)], ...], BeforeValidator(_codes)]
Digits = Literal["text", "hex", "decimal"]
Seconds = Annotated[float, Field(gt=0, le=3600)]


def _text(most: int, least: int = 0) -> object:
    """How a text of the bind or an address is bounded: ASCII, `most` letters."""
    return Field(min_length=least, max_length=most, pattern=r"^[ -~]*$")


class SmppProfile(BaseModel):
    """How to reach one carrier, and in what it differs from others; defaults are settings."""

    model_config = ConfigDict(extra="forbid", frozen=True, hide_input_in_errors=True)

    host: str = Field(min_length=1)
    port: int = Field(default=2775, ge=1, le=65535)
    system_id: Annotated[str, _text(15, 1)]
    password: Password = Field(alias="password_file")
    system_type: Annotated[str, _text(12)] = ""
    sender: Annotated[str, _text(20)] = Field(
        default="", description="Number or name that phones show; empty leaves it to the carrier."
    )
    sender_ton: int | None = Field(default=None, ge=0, le=255)
    sender_npi: int | None = Field(default=None, ge=0, le=255)
    window: int = Field(default=10, ge=1, le=1000, description="Unanswered submits at once.")
    connect_s: Seconds = 10.0
    answer_s: Seconds = Field(default=30.0, description="Wait for any one answer.")
    enquire_s: Seconds = Field(default=30.0, description="Idle time before the link is tried.")
    reconnect_s: Seconds = Field(default=1.0, description="First wait; each next is twice that.")
    reconnect_most_s: Seconds = 60.0
    throttled_s: Seconds = Field(default=10.0, description="Wait after a throttling answer.")
    long_texts: Literal["udh", "payload"] = "udh"
    submit_ids: Digits = Field(default="text", description="How submit_sm_resp spells ids.")
    receipt_ids: Digits = Field(default="text", description="How receipts spell them.")
    later_codes: Codes = Field(default=(), description="Answers that mean not now, beside ours.")
    asking: bool = Field(default=False, description="Whether the carrier answers query_sm.")
    asked_id_digits: int = Field(default=0, ge=0, le=64, description="Zeros before up to so many.")
    unknown_codes: Codes = Field(
        default=(0x0C, 0x67), description="Answers to query_sm that mean: never taken."
    )
    unknown_until_s: float = Field(
        default=86_400.0, gt=0, description="Age to which that is believed: later it has forgotten."
    )

    @property
    def sender_type(self) -> tuple[int, int]:
        """Type of number and numbering plan of the sender (SMPP 3.4, 5.2.5 and 5.2.6)."""
        if not self.sender:
            guessed = (0, 0)
        elif not _BY_DIGITS.fullmatch(self.sender):
            guessed = (5, 0)  # a name
        else:
            guessed = (1, 1) if self.sender.startswith("+") else (0, 1)
        ton = guessed[0] if self.sender_ton is None else self.sender_ton
        return ton, guessed[1] if self.sender_npi is None else self.sender_npi


def smpp_profile(options: Mapping[str, str]) -> SmppProfile:
    """Check the options, together with the profile that they may name.

    Parameters
    ----------
    options : any field of `SmppProfile`, ``password_file`` for the password, and ``profile``, a
        TOML file with the same names; an option goes before the file

    Raises
    ------
    BadOption
        The file cannot be read, or there are faults: all of them.
    """
    given: dict[str, object] = dict(options)
    path = options.get("profile")
    if path is None:
        return _checked(given, Path(), None)
    del given["profile"]
    try:
        written = tomllib.loads(Path(path).read_text("utf-8"))
    except (OSError, ValueError) as error:
        raise BadOption(_NAME, "profile", path, f"a TOML file ({error})") from error
    if "password_file" in options:
        given["password_file"] = str(Path(options["password_file"]).absolute())
    return _checked(written | given, Path(path).parent, path)


def _checked(given: Mapping[str, object], folder: Path, path: str | None) -> SmppProfile:
    try:
        return SmppProfile.model_validate(dict(given), context={"folder": folder})
    except ValidationError as error:
        details = error.errors(include_url=False, include_input=False)
        faults = "; ".join(map(_fault, details))
    # Not chained: the validator's own error shows what was typed, perhaps a secret.
    if path is not None:
        raise BadOption(_NAME, "profile", path, f"a profile without faults, it has {faults}")
    names = _names(details)
    values = ", ".join(str(given.get(name, "")) for name in names if name != "password")
    raise BadOption(_NAME, ", ".join(names), values, f"options without faults, they have {faults}")


def _names(details: Sequence[ErrorDetails]) -> list[str]:
    return list(dict.fromkeys(str(detail["loc"][0]) for detail in details))


def _fault(detail: ErrorDetails) -> str:
    said = detail["msg"].removeprefix("Value error, ")
    if detail["type"] == "extra_forbidden":
        said = "no such option is known"
    return f"{'.'.join(map(str, detail['loc']))}: {said}"
