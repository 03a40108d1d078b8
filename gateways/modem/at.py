"""The line to a GSM modem: AT commands one at a time, and what it says unasked."""

import queue
import time
from collections.abc import Callable
from threading import Event, Lock, Thread

import serial

from gateways.errors import GatewayError

_CTRL_Z, _ESCAPE = b"\x1a", b"\x1b"
_PROMPT = ">"
_READ_S, _WRITE_S = 0.2, 10.0
_PROMPT_S = 5.0
_SYNC_TRIES, _SYNC_S = 5, 1.0
_QUIET_S = 0.1
_LONGEST_LINE = 4096
_FAILURES = ("+CMS ERROR:", "+CME ERROR:", "ERROR", "NO CARRIER")
_WITH_PDU = "+CDS:"
_LOOK = ("+CMTI:", "+CDSI:")


class Unplugged(GatewayError):
    """The port is gone, or was never there."""


class NoAnswer(GatewayError):
    """The modem did not answer in time."""

    def __init__(self, command: str, wait_s: float) -> None:
        super().__init__(f"the modem did not answer {command} within {wait_s:.0f} s")


class Failed(GatewayError):
    """The modem answered with an error.

    Attributes
    ----------
    kind : ``CMS`` (3GPP TS 27.005, 3.2.5), ``CME`` (3GPP TS 27.007, 9.2) or ``ERROR``
    code : its number, -1 if it gave none
    """

    def __init__(self, command: str, answer: str) -> None:
        super().__init__(f"the modem answered {command} with {answer}")
        found = answer.removeprefix("+").partition(" ERROR:")
        self.kind = found[0] if found[1] else "ERROR"
        self.code = int(found[2]) if found[2].strip().isdecimal() else -1


class Line:
    """An open port.

    Parameters
    ----------
    port : device file
    baud : bits a second
    on_news : told of what the modem says unasked: the PDU of a status report, or None for
        "look at the store", also when the port is gone; called on the line's own thread

    Raises
    ------
    Unplugged
        The port cannot be opened, or another process has it.
    NoAnswer
        Nothing that speaks AT commands is at its other end.
    """

    def __init__(self, port: str, baud: int, on_news: Callable[[str | None], None]) -> None:
        self._on_news = on_news
        self._said: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        self._one_at_a_time = Lock()
        self._closing = Event()
        self._lost: str | None = None
        try:
            self._serial = serial.Serial(
                port, baud, timeout=_READ_S, write_timeout=_WRITE_S, exclusive=True
            )
        except (OSError, ValueError) as error:
            raise Unplugged(f"the port {port} cannot be opened: {error}") from error
        self._reader = Thread(target=self._read, name=f"modem {port}", daemon=True)
        self._reader.start()
        try:
            self._synchronise()
        except GatewayError:
            self.close()
            raise

    @property
    def lost(self) -> bool:
        """Whether the port went away."""
        return self._lost is not None or self._closing.is_set()

    def command(self, command: str, wait_s: float = 10.0, secret: bool = False) -> list[str]:
        """What the modem answers to one command, without the closing OK.

        Parameters
        ----------
        command : without line end
        wait_s : above 0
        secret : leave what stands behind the equals sign out of errors

        Raises
        ------
        Failed, NoAnswer, Unplugged
        """
        named = command.partition("=")[0] if secret else command
        with self._one_at_a_time:
            self._forget_old_lines()
            self._write(command.encode("ascii") + b"\r")
            return self._answer(named, wait_s)

    def submit(self, octets: int, pdu: str, on_left: Callable[[], None], wait_s: float) -> int:
        """Send one PDU and answer the number that the carrier gave it, 0 to 255.

        Parameters
        ----------
        octets : length without the service centre's address
        pdu : in hex
        on_left : called just before the first byte of the PDU is written
        wait_s : for the carrier's answer

        Raises
        ------
        Failed, NoAnswer, Unplugged
        """
        with self._one_at_a_time:
            self._forget_old_lines()
            self._write(f"AT+CMGS={octets}\r".encode())
            self._await_prompt()
            on_left()
            self._write(pdu.encode("ascii") + _CTRL_Z)
            answer = self._answer("AT+CMGS", wait_s)
        for line in answer:
            number = line.removeprefix("+CMGS:").split(",")[0].strip()
            if line.startswith("+CMGS:") and number.isdecimal():
                return int(number)
        raise NoAnswer("AT+CMGS", wait_s)

    def close(self) -> None:
        """Let go of the port; whoever waits for an answer gets `Unplugged`."""
        self._closing.set()
        self._serial.cancel_read()
        self._reader.join()
        self._serial.close()

    def _synchronise(self) -> None:
        """Get past what a restarted modem, or an earlier talk that broke off, left behind."""
        self._write(_ESCAPE)
        for last in [False] * (_SYNC_TRIES - 1) + [True]:
            try:
                self.command("AT", _SYNC_S)
                break
            except (NoAnswer, Failed):
                if last:
                    raise
        time.sleep(_QUIET_S)

    def _await_prompt(self) -> None:
        try:
            self._answer("AT+CMGS", _PROMPT_S, until=_PROMPT)
        except NoAnswer:
            self._write(_ESCAPE)  # else the next command would be taken for a text
            raise

    def _answer(self, named: str, wait_s: float, until: str = "OK") -> list[str]:
        lines: list[str] = []
        give_up_at = time.monotonic() + wait_s
        while True:
            line = self._next_line(named, give_up_at - time.monotonic(), wait_s)
            if line == until:
                return lines
            if line.startswith(_FAILURES):
                raise Failed(named, line)
            lines.append(line)

    def _next_line(self, named: str, left_s: float, wait_s: float) -> str:
        try:
            line = self._said.get(timeout=max(0.0, left_s))
        except queue.Empty:
            raise NoAnswer(named, wait_s) from None
        if line is None:
            self._said.put(None)  # for the next who asks
            raise Unplugged(self._lost or "the port was closed")
        return line

    def _forget_old_lines(self) -> None:
        while not self._said.empty():
            if self._said.get() is None:
                self._said.put(None)
                raise Unplugged(self._lost or "the port was closed")

    def _write(self, octets: bytes) -> None:
        try:
            self._serial.write(octets)
        except (OSError, TypeError) as error:
            # pyserial answers TypeError where the other thread has closed the port meanwhile.
            raise Unplugged(f"the port broke while writing: {error}") from error

    def _read(self) -> None:
        """Cut what comes into lines until the port is closed or gone."""
        pending = b""
        heading: str | None = None
        try:
            while not self._closing.is_set():
                pending += self._serial.read(max(1, self._serial.in_waiting))
                *lines, pending = pending.replace(b"\r", b"\n").split(b"\n")
                if pending.lstrip() == _PROMPT.encode() + b" ":
                    lines, pending = [*lines, _PROMPT.encode()], b""
                for line in filter(None, (each.decode("latin-1").strip() for each in lines)):
                    heading = self._sort(line, heading)
                pending = pending[-_LONGEST_LINE:]
        except OSError as error:
            self._lost = f"the port was unplugged: {error}"
        self._said.put(None)
        self._on_news(None)

    def _sort(self, line: str, heading: str | None) -> str | None:
        """Hand one line to whom it is for; answer the heading whose PDU comes next."""
        if heading is not None:
            self._on_news(line)
        elif line.startswith(_WITH_PDU):
            return line
        elif line.startswith(_LOOK):
            self._on_news(None)
        else:
            self._said.put(line)
        return None
