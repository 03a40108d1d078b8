"""The console gateway: texts go to a stream and come from typed lines, nobody's phone rings."""

import re
import sys
import uuid
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import datetime
from pathlib import Path
from threading import Lock
from typing import TextIO

from gateways.console.record import MessageRecord
from gateways.errors import BadOption, TryLater, Unsure
from gateways.protocol import Abilities, Incoming, Outgoing, Taken

_LINE = re.compile(r"\s*(\+?[0-9]{3,15})(?:\s*:\s*|\s+)(.*)", re.DOTALL)
_EXPECTED = (
    "a phone number, a colon or a space, and the text, for example +447700900001: RAIN 12 NOV"
)


class ConsoleGateway:
    """Prints every text once and remembers it, so that nothing leaves the machine.

    Attributes
    ----------
    sent : the messages this object took, oldest first
    """

    name = "console"
    abilities = Abilities(client_reference=True, receipts=False, inbound=True)

    def __init__(self, out: TextIO | None = None, record: Path | None = None) -> None:
        self.sent: list[Outgoing] = []
        self._out = sys.stdout if out is None else out
        self._record = None if record is None else MessageRecord(record)
        self._references: set[str] = set()
        self._lock = Lock()

    @classmethod
    def from_options(cls, options: Mapping[str, str]) -> "ConsoleGateway":
        """Make one that prints to standard output.

        Parameters
        ----------
        options : ``record``, a file that every message is added to as one line of JSON, and
            that keeps its promise about references across restarts and processes

        Raises
        ------
        BadOption
            An option is unknown, or the record file cannot be written.
        """
        for option, value in options.items():
            if option != "record":
                raise BadOption(cls.name, option, value, "the option record or none")
        path = options.get("record")
        if path is None:
            return cls()
        try:
            return cls(record=Path(path))
        except (OSError, ValueError) as error:
            raise BadOption(cls.name, "record", path, f"a file to write to ({error})") from error

    def send(self, message: Outgoing) -> Taken:
        """Print and record one message; one that it took before is taken again in silence.

        Raises
        ------
        TryLater
            The record file cannot be written: nothing was taken.
        Unsure
            The message was taken, but the stream to print on is broken.
        """
        with self._lock:
            if self._is_new(message):
                self._references.add(message.reference)
                self.sent.append(message)
                self._print(f"to {message.to} [{message.reference}] {_one_line(message.body)}")
        return Taken(f"console-{message.reference}")

    def close(self) -> None:
        """Let go of nothing: the record file is open only while a message is written."""

    def incoming(
        self,
        lines: Iterable[str],
        now: Callable[[], datetime],
        on_bad: Callable[[str], None] | None = None,
    ) -> Iterator[Incoming]:
        """Texts typed one a line, as ``+447700900001: RAIN 12 NOV``; blank lines are passed over.

        Parameters
        ----------
        lines : for example standard input
        now : answers the aware UTC instant at which a line was typed
        on_bad : is told of each line that is not a text and what was expected; without it the
            gateway prints that
        """
        tell = self._tell if on_bad is None else on_bad
        for number, line in enumerate(lines, start=1):
            typed = line.rstrip("\r\n")
            if not typed.strip():
                continue
            found = _LINE.fullmatch(typed)
            if found is None:
                tell(f'line {number}: "{_one_line(typed)}" is not a text: write {_EXPECTED}')
                continue
            yield Incoming(
                message_id=f"console-{uuid.uuid4()}",
                sender=found[1],
                body=found[2].encode("utf-8", "surrogateescape"),
                sent_at=now(),
            )

    def _is_new(self, message: Outgoing) -> bool:
        """Whether no message of that reference was taken before; if so it is on record now."""
        if message.reference in self._references:
            return False
        if self._record is None:
            return True
        try:
            return self._record.add(message)
        except (OSError, ValueError) as error:
            raise TryLater(f"the console's record cannot be written: {error}") from error

    def _tell(self, complaint: str) -> None:
        with self._lock:
            self._print(complaint)

    def _print(self, line: str) -> None:
        encoding = getattr(self._out, "encoding", None) or "utf-8"
        try:
            printable = line.encode(encoding, "backslashreplace").decode(encoding)
            self._out.write(printable + "\n")
            self._out.flush()
        except (OSError, ValueError) as error:
            raise Unsure(f"the console's stream is broken: {error}") from error


def _one_line(text: str) -> str:
    """Show a text on one line: line ends become a bar, what does not print a question mark."""
    joined = " | ".join(text.splitlines())
    return "".join(letter if letter.isprintable() else "?" for letter in joined)
