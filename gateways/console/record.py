"""The console gateway's record: a file of messages, one line of JSON each."""

import fcntl
import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from gateways.protocol import Outgoing


class MessageRecord:
    """A file of messages that several processes may add to, each reference once.

    Raises
    ------
    OSError
        The file cannot be written or read.
    ValueError
        The file holds something else.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._references: set[str] = set()
        self._read_to = 0
        path.parent.mkdir(parents=True, exist_ok=True)
        with self._locked():
            pass

    def add(self, message: Outgoing) -> bool:
        """Add a message unless its reference is on record.

        Returns
        -------
        whether it was added

        Raises
        ------
        OSError
            The file cannot be written; the message is not on record.
        ValueError
            Something else was written into the file.
        """
        with self._locked() as file:
            if message.reference in self._references:
                return False
            line = _line(message)
            if os.write(file, line) < len(line):
                raise OSError(f"{self._path} took only part of a line: is the disk full?")
            return True

    @contextmanager
    def _locked(self) -> Iterator[int]:
        """Open the file, lock it against other processes and read what they added."""
        file = os.open(self._path, os.O_RDWR | os.O_CREAT | os.O_APPEND, 0o600)
        try:
            fcntl.flock(file, fcntl.LOCK_EX)
            self._catch_up(file)
            yield file
        finally:
            os.close(file)

    def _catch_up(self, file: int) -> None:
        """Learn the references added since the last look, and cut off a half-written line.

        The lock is ours, so whoever wrote half a line died or failed before it answered: that
        message was not taken.
        """
        size = os.fstat(file).st_size
        if size < self._read_to:  # emptied from outside: start over, what we know stays known
            self._read_to = 0
        fresh = os.pread(file, size - self._read_to, self._read_to)
        whole = fresh.rfind(b"\n") + 1
        self._references.update(self._reference(line) for line in fresh[:whole].splitlines())
        self._read_to += whole
        if whole < len(fresh):
            os.ftruncate(file, self._read_to)

    def _reference(self, line: bytes) -> str:
        """Read the reference out of one line."""
        try:
            return str(json.loads(line)["reference"])
        except (ValueError, KeyError, TypeError) as error:
            raise ValueError(
                f"{self._path} holds a line that is no message ({line[:40]!r}): "
                "name another file or empty this one"
            ) from error


def _line(message: Outgoing) -> bytes:
    """Write one message as one line."""
    fields = {
        "reference": message.reference,
        "to": message.to,
        "body": message.body,
        "expires_at": message.expires_at.isoformat(),
    }
    return json.dumps(fields).encode() + b"\n"
