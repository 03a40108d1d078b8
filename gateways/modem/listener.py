"""What a modem brings in: texts from its store, and status reports as they come."""

import logging
from collections import deque
from collections.abc import Callable
from datetime import UTC, datetime
from threading import Event as Signal
from threading import Thread

from gateways.errors import TryLater
from gateways.modem.at import Failed, Line, NoAnswer, Unplugged
from gateways.modem.link import ModemLink
from gateways.modem.pdu import BadPdu, StatusReport, read_pdu
from gateways.modem.record import ModemRecord
from gateways.modem.store import Stored, status_reports, stored_pdus, texts
from gateways.protocol import Event

_log = logging.getLogger(__name__)

_LOOK_EVERY_S = 30.0
"""The store is looked at so often even if the modem says nothing; `setting`."""

_FIRST_WAIT_S, _LONGEST_WAIT_S = 1.0, 60.0
"""Waits after something went wrong: doubled each time; `setting`."""

_LIST_S = 60.0
"""A full store takes some modems long to show; `setting`."""


class ModemListener:
    """A thread that hands events on and clears the store behind them."""

    def __init__(self, record: ModemRecord) -> None:
        self._record = record
        self._reports: deque[str] = deque()
        self._news = Signal()
        self._stopping = Signal()
        self._thread: Thread | None = None

    @property
    def started(self) -> bool:
        """Whether somebody is there to be told of receipts."""
        return self._thread is not None

    def hear(self, pdu: str | None) -> None:
        """Take what the modem says unasked; see `gateways.modem.at.Line`."""
        if pdu is not None:
            self._reports.append(pdu)
        self._news.set()

    def start(self, link: ModemLink, on_event: Callable[[Event], None]) -> None:
        """Begin to hand events on.

        Raises
        ------
        RuntimeError
            It was started before.
        """
        if self._thread is not None:
            raise RuntimeError("the modem is listened to already: call listen once")
        self._thread = Thread(target=self._run, args=[link, on_event], name="modem listener")
        self._thread.start()

    def stop(self) -> None:
        """Ask the thread to end."""
        self._stopping.set()
        self._news.set()

    def join(self) -> None:
        """Wait until it has ended."""
        if self._thread is not None:
            self._thread.join()

    def _run(self, link: ModemLink, on_event: Callable[[Event], None]) -> None:
        again_s = _FIRST_WAIT_S
        while not self._stopping.is_set():
            self._news.clear()
            try:
                self._bring_reports(link, on_event)
                self._bring_store(link, on_event)
            except TryLater as error:
                self._news.wait(error.after_s)
            except (Failed, NoAnswer, Unplugged) as error:
                _log.warning("modem: %s", error)
                self._stopping.wait(_FIRST_WAIT_S)
            except Exception:
                # Nothing is lost: it stands in the store, or in _reports, and is handed on again.
                _log.exception("modem: what came in could not be kept; it is tried again")
                self._stopping.wait(again_s)
                again_s = min(2 * again_s, _LONGEST_WAIT_S)
            else:
                again_s = _FIRST_WAIT_S
                self._news.wait(_LOOK_EVERY_S)

    def _bring_reports(self, link: ModemLink, on_event: Callable[[Event], None]) -> None:
        while self._reports:
            try:
                report = read_pdu(self._reports[0])
            except BadPdu as error:
                _log.error("modem: a status report is passed over: %s", error)
            else:
                if isinstance(report, StatusReport):
                    self._bring_report(link, report, on_event)
            self._reports.popleft()

    def _bring_report(
        self, link: ModemLink, report: StatusReport, on_event: Callable[[Event], None]
    ) -> None:
        # A report may overtake the answer to the very part that it is about.
        with link.between_messages():
            receipt = self._record.receipt(report)
        on_event(receipt)

    def _bring_store(self, link: ModemLink, on_event: Callable[[Event], None]) -> None:
        """Hand on what stands in the store until nothing is ready."""
        brought = True
        while brought and not self._stopping.is_set():
            line, stored, full = _look(link)
            brought = False
            for report, place in status_reports(stored):
                self._bring_report(link, report, on_event)
                _clear(link, line, (place,))
            for text in texts(stored, datetime.now(UTC), full):
                on_event(text.event)
                _clear(link, line, text.places)
                brought = True


def _look(link: ModemLink) -> tuple[Line, list[Stored], bool]:
    """The line, what stands in the store, and whether no place is left."""
    with link.line() as line:
        try:
            stored = stored_pdus(line.command("AT+CMGL=4", _LIST_S))
            return line, stored, _is_full(line)
        except NoAnswer as error:
            link.distrust(line, str(error))
            raise


def _is_full(line: Line) -> bool:
    try:
        answers = line.command("AT+CPMS?")
    except Failed:
        return False
    for answer in answers:
        places = answer.removeprefix("+CPMS:").split(",")
        if answer.startswith("+CPMS:") and len(places) >= 3:
            return int(places[1]) >= int(places[2])
    return False


def _clear(link: ModemLink, line: Line, places: tuple[int, ...]) -> None:
    """Clear places of the store that was read, not of a SIM that was put in meanwhile."""
    with link.between_messages():
        for place in places:
            line.command(f"AT+CMGD={place}")
