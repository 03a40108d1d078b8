"""The modem gateway: a GSM modem on a serial port, for an office without a carrier's contract."""

import hashlib
import logging
import re
import sqlite3
import uuid
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from threading import Event as Signal

from gateways.errors import BadOption, Refused, TryLater, Unsure
from gateways.modem.answers import verdict
from gateways.modem.at import Failed, Line, NoAnswer, Unplugged
from gateways.modem.link import ModemLink
from gateways.modem.listener import ModemListener
from gateways.modem.options import ModemOptions, modem_options
from gateways.modem.pdu import Submit, TooLong, submits
from gateways.modem.record import ModemRecord
from gateways.protocol import Abilities, Event, Outgoing, Taken

_log = logging.getLogger(__name__)

_REGISTERED = {"1", "5", "6", "7"}
"""At home or roaming, the last two for texts alone (3GPP TS 27.007, 7.2)."""
_NUMBER = re.compile(r"\+?[0-9]{1,20}")
"""An address has at most 20 semi-octets (3GPP TS 23.040, 9.1.2.5)."""


class ModemGateway:
    """Sends and reads texts by AT commands (3GPP TS 27.005) in PDU mode.

    One modem belongs to one process. It is opened at the first message, and again, with growing
    waits, after it was unplugged. Status reports are asked for only once ``listen`` was called.

    Raises
    ------
    sqlite3.Error
        The record cannot be opened.
    """

    name = "modem"
    abilities = Abilities(client_reference=False, receipts=True, inbound=True)

    def __init__(self, options: ModemOptions) -> None:
        self._options = options
        self._record = ModemRecord(options.record)
        self._listener = ModemListener(self._record)
        self._link = ModemLink(options, self._record, self._listener.hear)

    @classmethod
    def from_options(cls, options: Mapping[str, str]) -> "ModemGateway":
        """Make one; the port itself is opened later.

        Parameters
        ----------
        options : see `gateways.modem.options.modem_options`

        Raises
        ------
        BadOption
            An option is unknown, missing or cannot be used.
        """
        read = modem_options(options)
        try:
            return cls(read)
        except sqlite3.Error as error:
            raise BadOption(
                cls.name, "record", read.record, f"the path of a file to write to ({error})"
            ) from error

    @property
    def trouble(self) -> str | None:
        """Why the modem cannot be used at present, or None."""
        return self._link.trouble

    def send(self, message: Outgoing) -> Taken:
        """Send one text, part by part.

        Raises
        ------
        Refused
            The carrier or the modem will never take it.
        TryLater
            The modem is away, busy, locked, or without network, or the carrier said not now. Parts
            that went out before are sent again then: a phone shows them once, when all are there.
        Unsure
            The modem was unplugged or fell silent after it had got the text.
        """
        if not _NUMBER.fullmatch(message.to):
            raise Refused(f'"{message.to}" is no phone number: expected digits, perhaps after a +')
        with self._link.line() as line:
            self._need_network(line)
            reference = str(uuid.uuid4())
            parts = self._parts(message)
            for number, part in enumerate(parts, start=1):
                given = self._submit(line, part)
                self._note(reference, message, (number, len(parts)), given)
            return Taken(reference)

    def listen(self, on_event: Callable[[Event], None]) -> None:
        """Bring in texts and receipts on a thread of its own; see `gateways.protocol.Listening`."""
        self._link.tell()
        self._listener.start(self._link, on_event)

    def close(self) -> None:
        """Let go of the port and the record; a message under way ends as `Unsure`."""
        self._listener.stop()
        self._link.close()
        self._listener.join()
        self._record.close()

    def _parts(self, message: Outgoing) -> list[Submit]:
        try:
            return submits(
                message.to,
                message.body,
                hashlib.sha256(message.reference.encode()).digest()[0],
                message.expires_at - datetime.now(UTC),
                smsc=self._options.smsc,
                receipt=self._listener.started,
            )
        except TooLong as error:
            raise Refused(str(error)) from error

    def _need_network(self, line: Line) -> None:
        try:
            answers = line.command("AT+CREG?")
        except Failed:
            return  # some modems know no CREG; the carrier's answer tells then
        except (NoAnswer, Unplugged) as error:
            self._link.distrust(line, str(error))
            raise TryLater(str(error), 5) from error
        for answer in answers:
            _mode, _comma, state = answer.removeprefix("+CREG:").partition(",")
            if answer.startswith("+CREG:") and state.split(",")[0].strip() not in _REGISTERED:
                raise TryLater(f"the modem has no network (registration {state.strip()})", 30)

    def _submit(self, line: Line, part: Submit) -> int:
        """Send one part and answer the carrier's number for it."""
        left = Signal()
        try:
            return line.submit(part.octets, part.hex, left.set, self._options.answer_s)
        except Failed as error:
            raise verdict(error) from error
        except (NoAnswer, Unplugged) as error:
            self._link.distrust(line, str(error))
            if left.is_set():
                raise Unsure(str(error)) from error
            raise TryLater(str(error), 5) from error

    def _note(self, reference: str, message: Outgoing, part: tuple[int, int], given: int) -> None:
        try:
            now = datetime.now(UTC)
            self._record.note_part(reference, message.reference, part, given, message.to, now)
        except sqlite3.Error:
            # The carrier has it: that it cannot be matched to its receipt changes nothing of that.
            _log.exception("modem: a part sent cannot be put on record")
