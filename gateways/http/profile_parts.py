"""Parts that every table of an HTTP profile is made of."""

import re
from pathlib import Path
from typing import Annotated, Any
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    SecretStr,
    ValidationInfo,
)
from requests import Request, RequestException

from gateways.http.fields import word
from gateways.http.times import READ_FORMS, WRITTEN_FORMS


class Strict(BaseModel):
    """What all tables share: frozen, no unknown keys, no silent conversions."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


def _secret(given: object, info: ValidationInfo) -> SecretStr:
    """Read a secret's file; the path is relative to the profile's folder."""
    if not isinstance(given, str) or not given:
        raise ValueError("expected the path of a file")
    folder: Path = (info.context or {}).get("folder", Path())
    try:
        secret = (folder / given).read_text("utf-8").rstrip("\r\n")
    except (OSError, UnicodeDecodeError) as error:
        raise ValueError(f"{given} cannot be read: {type(error).__name__}") from error
    if not secret or not secret.isascii() or not secret.isprintable():
        raise ValueError(f"{given}: expected one line of printable ASCII letters in it")
    return SecretStr(secret)


def _address(given: str) -> str:
    """Check what an address is made of; whether it may be reached is seen when connecting."""
    try:
        parts = urlsplit(given)
        port = parts.port
    except ValueError as error:
        raise ValueError(f"expected a web address ({error})") from error
    if parts.scheme not in ("http", "https") or not parts.hostname:
        raise ValueError("expected an address that begins with https://")
    if parts.username is not None or parts.password is not None or parts.fragment:
        raise ValueError("expected no user, password or fragment in the address")
    if "{" in parts.netloc or port == 0 or re.search(r"[\s\x00-\x1f\\]", given):
        raise ValueError("expected a fixed host and no spaces in the address")
    try:
        Request("POST", given).prepare()
    except RequestException as error:
        raise ValueError(f"expected a web address ({error})") from error
    return given


def _as_word(given: Any) -> Any:
    return word(given) if isinstance(given, int | str) else given


def _time_to_read(form: str) -> str:
    if form not in READ_FORMS and "%" not in form:
        raise ValueError(f"expected {', '.join(READ_FORMS)} or a pattern such as %Y%m%d%H%M")
    return form


def _time_to_write(form: str) -> str:
    if form not in WRITTEN_FORMS and "%" not in form:
        raise ValueError(f"expected {', '.join(WRITTEN_FORMS)} or a pattern such as %Y%m%d%H%M")
    return form


def _zone(given: Any) -> Any:
    if not isinstance(given, str):
        return given
    try:
        return ZoneInfo(given)
    except (ZoneInfoNotFoundError, ValueError) as error:
        raise ValueError("expected a time zone such as Africa/Harare") from error


def one_group(pattern: str) -> str:
    """The pattern, if it can be searched for and has one group.

    Raises
    ------
    ValueError
        It is no pattern, or has none or several groups.
    """
    try:
        groups = re.compile(pattern).groups
    except re.error as error:
        raise ValueError(f"{pattern!r} is no pattern: {error}") from error
    if groups != 1:
        raise ValueError(f"{pattern!r}: expected one group in round brackets, it has {groups}")
    return pattern


def is_header_name(name: str) -> bool:
    """Whether a header may be called so (RFC 9110, section 5.1)."""
    return re.fullmatch(r"[!#$%&'*+.^_`|~0-9A-Za-z-]+", name) is not None


def _header_name(name: str) -> str:
    if not is_header_name(name):
        raise ValueError("expected the name of a header")
    return name


def _printable(text: str) -> str:
    if not text.isprintable() or text != text.strip():
        raise ValueError("expected printable letters, and no blank at either end")
    return text


Text = Annotated[str, Field(min_length=1)]
HeaderName = Annotated[str, AfterValidator(_header_name)]
Printable = Annotated[str, AfterValidator(_printable)]
Secret = Annotated[SecretStr, BeforeValidator(_secret)]
Address = Annotated[str, AfterValidator(_address)]
Word = Annotated[str, BeforeValidator(_as_word)]
Words = Annotated[tuple[Word, ...], Field(strict=False)]
TimeToRead = Annotated[str, AfterValidator(_time_to_read)]
TimeToWrite = Annotated[str, AfterValidator(_time_to_write)]
Zone = Annotated[ZoneInfo, BeforeValidator(_zone)]


class When(Strict):
    """Which events are meant: those whose field holds one of the words."""

    field: Text = Field(description="Dotted path.")
    words: Words = Field(min_length=1)
