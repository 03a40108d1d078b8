"""A bench's carrier, in a process of its own so that it shares no interpreter with the sides."""

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Thread

from reminder_service.bench.errors import NoCarrier

_END_S = 10.0
"""How long a carrier may take to end: a setting."""


@contextmanager
def carrier(module: str) -> Iterator[int]:
    """Run a module whose first line is its port on 127.0.0.1, and answer that port.

    Parameters
    ----------
    module : its full name; it calls `end_with_parent` first and `tell_port` once it listens

    Raises
    ------
    NoCarrier
        It ended instead.
    """
    command = [sys.executable, "-m", module]
    process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)  # noqa: S603 # a module of ours
    try:
        line = process.stdout.readline() if process.stdout is not None else ""
        if not line.strip().isdecimal():
            raise NoCarrier(module)
        yield int(line)
    finally:
        try:
            process.communicate(timeout=_END_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.communicate()


def end_with_parent() -> None:
    """End this process when whoever started it lets go of its standard input, or is killed."""
    Thread(target=_end_after_input, daemon=True).start()


def tell_port(port: int) -> None:
    """Say on standard output that a carrier listens."""
    sys.stdout.write(f"{port}\n")
    sys.stdout.flush()


def _end_after_input() -> None:
    sys.stdin.read()
    os._exit(0)
