"""A GSM modem played over a pseudo-terminal, its PDUs read and written by another package."""

import os
import re
import select
import tty
from collections import deque
from datetime import UTC, datetime
from pathlib import Path
from threading import Event, RLock, Thread

from gsmmodem import pdu as other

CTRL_Z, ESCAPE = b"\x1a", b"\x1b"


class PlayedModem:
    """Answers AT commands on a port that can be unplugged.

    ``submit_answers`` holds what happens to the next PDUs: an error line, ``silent``, ``unplug``,
    ``no prompt`` or ``take``; without more they are taken.
    """

    def __init__(self, folder: Path) -> None:
        self.port = folder / "modem"
        self.commands: list[str] = []
        self.submitted: list[dict] = []
        self.submit_answers: deque[str] = deque()
        self.report_first = False
        self.report_status: int | None = None
        self.pin: str | None = None
        self.registration = "0,1"
        self.store: dict[int, tuple[int, str]] = {}
        self.places = 5
        self.message = 250
        self._lock = RLock()
        self._thread: Thread | None = None
        self.plug_in()

    def plug_in(self) -> None:
        """Appear, switched off and on: echo is on again."""
        self._master, self._slave = os.openpty()
        tty.setraw(self._slave)
        self.port.unlink(missing_ok=True)
        self.port.symlink_to(os.ttyname(self._slave))
        self._echo, self._reports, self._pending = True, False, b""
        self._in_pdu: int | None = None
        self._gone = Event()
        self._thread = Thread(target=self._play, name="played modem")
        self._thread.start()

    def unplug(self) -> None:
        """Vanish."""
        self._gone.set()
        self._thread.join()

    @property
    def arrived(self) -> list[tuple[str, str]]:
        """Whole texts as a phone would show them."""
        shown, parts = [], {}
        for each in self.submitted:
            place = each.get("udh", [None])[0]
            if place is None:
                shown.append((each["number"], _paired(each["text"])))
                continue
            key = (each["number"], place.reference)
            texts = parts.setdefault(key, {})
            texts[place.number] = each["text"]
            if len(texts) == place.parts:
                whole = "".join(texts[number] for number in sorted(texts))
                shown.append((each["number"], _paired(whole)))
                del parts[key]
        return shown

    def receive(self, pdu: str) -> bool:
        """A text comes in over the air; whether there is room for it."""
        with self._lock:
            free = [index for index in range(1, self.places + 1) if index not in self.store]
            if not free:
                return False
            self.store[free[0]] = (0, pdu)
            if self._reports:
                self._say(f'+CMTI: "SM",{free[0]}')
            return True

    def report(self, message: int, to: str, status: int) -> None:
        """A status report comes in over the air."""
        with self._lock:
            if self._reports:
                octets = status_report_pdu(message, to, status)
                self._say(f"+CDS: {len(octets) // 2 - 1}\r\n{octets}")

    def _play(self) -> None:
        while not self._gone.is_set():
            ready, _, _ = select.select([self._master], [], [], 0.02)
            if ready:
                with self._lock:
                    self._hear(os.read(self._master, 4096))
        os.close(self._slave)
        os.close(self._master)

    def _hear(self, octets: bytes) -> None:
        if self._echo:
            self._write(octets)
        self._pending += octets
        while not self._gone.is_set():
            if self._in_pdu is not None:
                found = re.search(CTRL_Z + b"|" + ESCAPE, self._pending)
            else:
                self._pending = self._pending.lstrip(ESCAPE + b"\r\n")
                found = re.search(b"\r", self._pending)
            if found is None:
                return
            said, self._pending = self._pending[: found.start()], self._pending[found.end() :]
            if self._in_pdu is not None:
                self._take(said.decode(), cancelled=found[0] == ESCAPE)
            else:
                self.commands.append(said.decode())
                self._obey(said.decode())

    def _obey(self, command: str) -> None:
        name, _, value = command.partition("=")
        plain = {
            "AT": [],
            "AT+CMEE": [],
            "AT+CMGF": [],
            "AT+CPIN?": ["+CPIN: READY" if self.pin is None else "+CPIN: SIM PIN"],
            "AT+CREG?": [f"+CREG: {self.registration}"],
            "AT+CPMS?": [f'+CPMS: "SM",{len(self.store)},{self.places},"SM",0,0,"SM",0,0'],
            "AT+CMGL": self._listed(),
        }
        if name in plain:
            self._say(*plain[name], "OK")
        else:
            self._change(name, value)

    def _listed(self) -> list[str]:
        return [
            f"+CMGL: {index},{status},,{len(pdu) // 2 - 1}\r\n{pdu}"
            for index, (status, pdu) in sorted(self.store.items())
        ]

    def _change(self, name: str, value: str) -> None:
        match name:
            case "ATE0":
                self._echo = False
                self._say("OK")
            case "AT+CPIN":
                right = value == f'"{self.pin}"'
                self.pin = None if right else self.pin
                self._say("OK" if right else "+CME ERROR: 16")
            case "AT+CNMI":
                self._reports = value.startswith("2,1")
                self._say("OK")
            case "AT+CMGS":
                self._ask_for_pdu(int(value))
            case "AT+CMGD":
                known = self.store.pop(int(value), None)
                self._say("OK" if known else "+CMS ERROR: 321")
            case _:
                self._say("ERROR")

    def _ask_for_pdu(self, octets: int) -> None:
        if self.submit_answers and self.submit_answers[0] == "no prompt":
            self.submit_answers.popleft()
            return
        self._in_pdu = octets
        self._write(b"\r\n> ")

    def _take(self, pdu: str, *, cancelled: bool) -> None:
        octets, self._in_pdu = self._in_pdu, None
        if cancelled:
            self._say("OK")
            return
        match self.submit_answers.popleft() if self.submit_answers else "take":
            case "silent":
                pass
            case "unplug":
                self._gone.set()
            case "take":
                self._taken(pdu, octets)
            case error:
                self._say(error)

    def _taken(self, pdu: str, octets: int) -> None:
        read = other.decodeSmsPdu(pdu)
        if read["tpdu_length"] != octets:
            self._say("+CMS ERROR: 304")
            return
        self.message = (self.message + 1) % 256
        self.submitted.append(read)
        if self.report_status is not None and self.report_first:
            self.report(self.message, read["number"], self.report_status)
        self._say(f"+CMGS: {self.message}", "OK")
        if self.report_status is not None and not self.report_first:
            self.report(self.message, read["number"], self.report_status)

    def _say(self, *lines: str) -> None:
        for line in lines:
            self._write(f"\r\n{line}\r\n".encode())

    def _write(self, octets: bytes) -> None:
        # In small pieces, as a slow line brings them.
        for start in range(0, len(octets), 20):
            os.write(self._master, octets[start : start + 20])


WRONG_LETTERS = frozenset("§`ÿ")
"""Letters that the other package's GSM 7-bit table has wrong; they are delivered as UCS-2."""


def deliver_pdu(
    sender: str,
    text: str,
    sent_at: datetime = datetime(2026, 12, 1, 10, 0, tzinfo=UTC),
    place: tuple[int, int, int] | None = None,
) -> str:
    """A text as a service centre delivers it; ``place``: id, parts, number."""
    header = b"" if place is None else bytes([5, 0, 3, *place])
    try:
        if set(text) & WRONG_LETTERS:
            raise ValueError("letters that its table has wrong")
        septets = other.encodeGsm7(text)
        coding, skipped = 0, (len(header) * 8 + 6) // 7
        data = header + other.packSeptets(septets, padBits=len(header) * 8 % 7)
        length = skipped + len(septets)
    except ValueError:
        coding, data = 8, header + text.encode("utf-16-be", "surrogatepass")
        length = len(data)
    return _hex(
        other._encodeAddressField("+447700900999", smscField=True),
        bytes([0x44 if place else 0x04]),
        other._encodeAddressField(sender),
        bytes([0, coding]),
        other._encodeTimestamp(sent_at),
        bytes([length]),
        data,
    )


def status_report_pdu(message: int, to: str, status: int) -> str:
    """What the service centre says of a part."""
    at = other._encodeTimestamp(datetime(2026, 12, 1, 10, 5, tzinfo=UTC))
    return _hex(b"\0", bytes([0x06, message]), other._encodeAddressField(to), at, at, [status])


def _hex(*pieces) -> str:
    return b"".join(map(bytes, pieces)).hex().upper()


def _paired(text: str) -> str:
    return text.encode("utf-16", "surrogatepass").decode("utf-16")
