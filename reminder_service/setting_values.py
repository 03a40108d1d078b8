"""How the values of settings are read from text and checked.

Each reader raises a `ValueError` for a value that is not allowed; what is allowed stands with the
setting.
"""

import json
import re
from collections.abc import Mapping
from datetime import date, time
from ipaddress import ip_address
from pathlib import Path

from phonenumbers import SUPPORTED_REGIONS
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError

from reminder_service.rules.quiet_days import WEEKDAYS
from reminder_service.rules.quiet_days import quiet_days as _quiet_days


def database_url(text: str) -> str:
    """Address of a database that we can use; a plain ``postgresql://`` gets our driver.

    Examples
    --------
    >>> database_url("postgresql://db.example/reminder")
    'postgresql+psycopg://db.example/reminder'
    """
    try:
        url = make_url(text)
    except ArgumentError as error:
        raise ValueError("no database address") from error
    if url.drivername in ("postgresql", "postgres"):
        url = url.set(drivername="postgresql+psycopg")
    if not _is_usable(url):
        raise ValueError("no database that this service can use")
    return url.render_as_string(hide_password=False)


def sqlite_file(address: str) -> Path | None:
    """File of an SQLite database; None for PostgreSQL.

    Examples
    --------
    >>> sqlite_file("sqlite:///data/reminder.sqlite3").name
    'reminder.sqlite3'
    """
    url = make_url(address)
    return Path(str(url.database)) if url.drivername == "sqlite" else None


def options(given: object) -> object:
    """Options written as a JSON text; anything else is left for the type to check."""
    return json.loads(given) if isinstance(given, str) else given


def clock_time(given: object) -> object:
    """Time of day written as ``HH:MM``; anything but text is left for the type to check.

    Examples
    --------
    >>> clock_time("08:30")
    datetime.time(8, 30)
    """
    if not isinstance(given, str):
        return given
    if not re.fullmatch(r"[0-9]{2}:[0-9]{2}", given):
        raise ValueError("not HH:MM")
    return time.fromisoformat(given)


def region(text: str) -> str:
    """Region whose phone numbers may be written in their national form; ``ZZ`` is none."""
    if text != "ZZ" and text not in SUPPORTED_REGIONS:
        raise ValueError("no such region")
    return text


def rulebook(text: str) -> str:
    """Name of a shipped rulebook, or path of a file that exists."""
    if not re.fullmatch(r"[a-z0-9-]+", text) and not Path(text).is_file():
        raise ValueError("no such file")
    return text


def month_day(text: str) -> str:
    """Day of every year, as ``MM-DD``; 29 February is not one."""
    if not re.fullmatch(r"[0-9]{2}-[0-9]{2}", text):
        raise ValueError("not MM-DD")
    date.fromisoformat(f"2001-{text}")  # no leap year
    return text


def quiet_days(given: object) -> object:
    """Days named between commas, or a file with one a line; anything else is left for the type.

    Examples
    --------
    >>> sorted(quiet_days("sunday, 12-25").weekdays)
    [6]
    """
    if not isinstance(given, str):
        return given
    words: list[str] = []
    for part in filter(None, map(str.strip, given.split(","))):
        is_day = part.lower() in WEEKDAYS or re.fullmatch(r"[0-9-]+", part)
        words += [part] if is_day else _lines(Path(part))
    return _quiet_days(words)


def _lines(file: Path) -> list[str]:
    """Lines of a text file that say something; what follows a # is a remark."""
    try:
        text = file.read_text("utf-8")
    except OSError as error:
        raise ValueError(f"cannot be read: {error}") from error
    return [line for each in text.splitlines() if (line := each.partition("#")[0].strip())]


def token(given: object) -> object:
    """What a header can carry as it stands: letters, digits and marks of ASCII, no space."""
    if isinstance(given, str) and not re.fullmatch(r"[!-~]+", given):
        raise ValueError("holds what no header carries")
    return given


def is_served_beyond(known: Mapping[str, object]) -> bool:
    """Whether the host among the settings known so far can be reached from other machines."""
    host = str(known.get("host", ""))
    if host == "localhost":
        return False
    try:
        return not ip_address(host).is_loopback
    except ValueError:  # a name: it may mean anything
        return True


def _is_usable(url: URL) -> bool:
    if url.drivername == "sqlite":
        return url.database not in (None, "", ":memory:") and url.host is None
    return url.drivername == "postgresql+psycopg" and bool(url.database)
