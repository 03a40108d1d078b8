"""The link to a modem: opened when needed, set up, and opened again after it was unplugged."""

import logging
import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from threading import Event, Lock

from gateways.errors import GatewayError, TryLater
from gateways.modem.at import Line
from gateways.modem.options import ModemOptions
from gateways.modem.pin import unlock
from gateways.modem.record import ModemRecord

_log = logging.getLogger(__name__)

_BUSY_S = 60.0
"""Longest wait for other threads' messages; `setting`."""

_FIRST_WAIT_S, _LONGEST_WAIT_S = 1.0, 60.0
"""Waits before a port is opened again: doubled each time; `setting`."""


class ModemLink:
    """Lends the open line to one thread at a time.

    Parameters
    ----------
    on_news : see `gateways.modem.at.Line`

    Attributes
    ----------
    trouble : why the modem cannot be used at present, or None
    """

    def __init__(
        self, options: ModemOptions, record: ModemRecord, on_news: Callable[[str | None], None]
    ) -> None:
        self.trouble: str | None = None
        self._options = options
        self._record = record
        self._on_news = on_news
        self._line: Line | None = None
        self._one_at_a_time = Lock()
        self._closing = Event()
        self._tells = False
        self._wait_s = 0.0
        self._open_at_s = 0.0

    @contextmanager
    def line(self) -> Iterator[Line]:
        """The open line, for the length of a with block.

        Raises
        ------
        TryLater
            It is busy, cannot be opened, or is not to be tried again yet.
        """
        if not self._one_at_a_time.acquire(timeout=_BUSY_S):
            raise TryLater("the modem is busy with other messages", 15)
        try:
            yield self._open()
        finally:
            self._one_at_a_time.release()

    @contextmanager
    def between_messages(self) -> Iterator[None]:
        """No message is under way during the with block."""
        with self._one_at_a_time:
            yield

    def tell(self) -> None:
        """From now on the modem speaks unasked: of texts that came in and of status reports."""
        with self._one_at_a_time:
            self._tells = True
            self._drop()  # when it is opened again, it is told so

    def distrust(self, line: Line, why: str) -> None:
        """Have a line opened afresh, so that no late answer is taken for another question's."""
        self.trouble = why
        line.close()

    def close(self) -> None:
        """Let go of the port; whoever waits for an answer gets `gateways.modem.at.Unplugged`."""
        self._closing.set()
        line = self._line
        if line is not None:
            line.close()
        with self._one_at_a_time:
            self._drop()

    def _open(self) -> Line:
        if self._closing.is_set():
            raise TryLater("the modem's gateway is closed")
        if self._line is not None and not self._line.lost:
            return self._line
        self._drop()
        left_s = self._open_at_s - time.monotonic()
        if left_s > 0:
            raise TryLater(self.trouble or "the modem was unplugged", left_s)
        try:
            self._line = self._set_up()
        except (GatewayError, sqlite3.Error) as error:
            self._wait_s = min(max(_FIRST_WAIT_S, 2 * self._wait_s), _LONGEST_WAIT_S)
            self._open_at_s = time.monotonic() + self._wait_s
            if self.trouble != str(error):
                _log.warning("modem: %s", error)
            self.trouble = str(error)
            raise TryLater(self.trouble, self._wait_s) from error
        self.trouble, self._wait_s = None, 0.0
        return self._line

    def _set_up(self) -> Line:
        """Open the port and bring the modem into PDU mode."""
        line = Line(self._options.port, self._options.baud, self._on_news)
        try:
            line.command("ATE0")
            line.command("AT+CMEE=1")
            unlock(line, self._options.pin_file, self._record)
            line.command("AT+CMGF=0")
            # Texts go into the store and are announced; status reports come at once.
            line.command("AT+CNMI=2,1,0,1,0" if self._tells else "AT+CNMI=0,0,0,0,0")
        except (GatewayError, sqlite3.Error):
            line.close()
            raise
        return line

    def _drop(self) -> None:
        line, self._line = self._line, None
        if line is not None:
            line.close()
