"""Log lines for people or programs: one event a line, numbers masked, nothing of a text's body.

What a message says is escaped, so that no text from outside begins a line of its own. Of an
exception the log keeps its kind, the first line of its message and where it was raised: a
database's later lines repeat the row.
"""

import json
import logging
import re
import sys
import traceback
from contextvars import ContextVar
from datetime import UTC, datetime
from typing import Literal, TextIO

FIELDS = ("notice_ids", "attempt_id", "inbound_id", "route", "tick", "method", "rule", "status")
"""What a caller may hand over by ``extra``, beside ``took_ms``; each is a key of the JSON line."""

LONGEST_MESSAGE = 500
"""Letters of a message that are kept (setting)."""

SHOWN_DIGITS = 3
"""Last digits of a number that stay readable (setting)."""

_request_id: ContextVar[str | None] = ContextVar("request_id", default=None)
_NUMBER = re.compile(r"(?:\+\d{6,15}|(?<![\w.:-])\d{9,15}(?![\w.:-]))")


def request_id() -> str | None:
    """Id of the request that this thread answers; None outside one."""
    return _request_id.get()


def note_request(given: str | None) -> None:
    """Put a request's id on every line that this thread logs; None once it is answered."""
    _request_id.set(given)


def masked(text: str) -> str:
    """A text whose phone numbers keep their last digits alone.

    Examples
    --------
    >>> masked("+447700900001 is not served")
    '***001 is not served'
    """
    return _NUMBER.sub(lambda found: "***" + found[0][-SHOWN_DIGITS:], text)


def one_line(text: str) -> str:
    r"""A text on one line: masked, cut, control characters and marks of direction escaped.

    Examples
    --------
    >>> one_line("first\nsecond")
    'first\\nsecond'
    """
    cut = masked(text)[:LONGEST_MESSAGE]
    return "".join(
        letter
        if letter.isprintable()
        else letter.encode("unicode_escape", "surrogatepass").decode("ascii")
        for letter in cut
    )


class Lines(logging.Formatter):
    """Writes each event as one line: for people, or as JSON."""

    def __init__(self, form: Literal["plain", "json"]) -> None:
        super().__init__()
        self._form = form

    def format(self, record: logging.LogRecord) -> str:
        """One line for one event."""
        known = _fields(record)
        if self._form == "json":
            return json.dumps(known, ensure_ascii=True, default=str)
        words = [str(known.pop(key)) for key in ("at", "level", "logger", "message")]
        rest = [f"{key}={json.dumps(value, default=str)}" for key, value in known.items()]
        return " ".join([*words, *rest])


def _fields(record: logging.LogRecord) -> dict[str, object]:
    """What one event says, in the order shown."""
    at = datetime.fromtimestamp(record.created, UTC)
    known: dict[str, object] = {
        "at": at.isoformat(timespec="milliseconds").replace("+00:00", "Z"),
        "level": record.levelname.lower(),
        "logger": record.name,
        "message": one_line(record.getMessage()),
    }
    if request_id() is not None:
        known["request_id"] = request_id()
    for key in (*FIELDS, "took_ms"):
        value = record.__dict__.get(key)
        if value is not None:
            known[key] = one_line(value) if isinstance(value, str) else value
    if record.exc_info is not None and record.exc_info[1] is not None:
        known["faults"] = _faults(record.exc_info[1])
    return known


def _faults(fault: BaseException) -> list[dict[str, object]]:
    """An exception and what led to it, the first cause last."""
    told: list[dict[str, object]] = []
    seen: set[int] = set()
    current: BaseException | None = fault
    while current is not None and id(current) not in seen:
        seen.add(id(current))
        frames = traceback.extract_tb(current.__traceback__)
        first = str(current).partition("\n")[0]
        told.append(
            {
                "kind": type(current).__name__,
                "message": one_line(first),
                "raised": [f"{frame.filename}:{frame.lineno} {frame.name}" for frame in frames],
            }
        )
        hidden = current.__suppress_context__
        current = current.__cause__ or (None if hidden else current.__context__)
    return told


def write_logs(form: Literal["plain", "json"], out: TextIO | None = None) -> logging.Handler:
    """Send every log line of this process to one place, in one form.

    Parameters
    ----------
    form : ``plain`` for people or ``json`` for programs
    out : where to; standard error if None

    Returns
    -------
    the handler, which replaces those that were set before
    """
    handler = logging.StreamHandler(out or sys.stderr)
    handler.setFormatter(Lines(form))
    root = logging.getLogger()
    root.handlers[:] = [handler]
    root.setLevel(logging.INFO)
    # These tell of each tick and each connection; what fails is told by the ticks themselves.
    for noisy in ("apscheduler", "alembic", "waitress.queue", "slixmpp", "urllib3"):
        logging.getLogger(noisy).setLevel(logging.WARNING)
    return handler
