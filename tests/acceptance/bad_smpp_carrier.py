"""An SMPP carrier on its bad day; called with a seed and the shares as JSON.

It is an independent package's server behind lines that throttle, swallow, spoil and cut. No
reference exists here: each submit that is taken is a text of its own.
"""

import asyncio
import json
import socket
import sys
from contextlib import suppress

import smpp34
import whims
from gsmmodem.pdu import decodeGsm7
from whims import Ledger, Whims, answer_questions

LATE_S = 0.8
"""When an answer comes that comes too late; above the gateway's time limit."""


class SmppCarrier:
    """What all lines share: the ledger, and the fate of each submit that goes to the server."""

    def __init__(self, chance: Whims) -> None:
        self.chance = chance
        self.ledger = Ledger()
        self.late_answers = 0
        self._throttled: set[tuple[str, bytes]] = set()

    async def run(self) -> int:
        """Start; answers the port of the lines."""
        self._server_port = _free_port()
        self._server = smpp34.Server(host="127.0.0.1", port=self._server_port, system_id="carrier")
        await self._server.start()
        self._pump = asyncio.create_task(self._work())
        lines = await asyncio.start_server(self._line, "127.0.0.1", 0)
        return lines.sockets[0].getsockname()[1]

    def throttle(self, submit: smpp34.SubmitSm) -> None:
        self._throttled.add(_key(submit))

    async def _line(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        there, back = await asyncio.open_connection("127.0.0.1", self._server_port)
        line = Line(self, back, writer)
        ways = [
            asyncio.create_task(line.carry(reader, line.up)),
            asyncio.create_task(line.carry(there, line.down)),
        ]
        ended, others = await asyncio.wait(ways, return_when=asyncio.FIRST_COMPLETED)
        line.cut()
        for way in others:
            way.cancel()
        await asyncio.gather(*others, return_exceptions=True)
        for way in ended:
            way.result()  # what went wrong in here stands in the log

    async def _work(self) -> None:
        while True:
            event = await self._server.next()
            if not isinstance(event, smpp34.SubmitSmEvent):
                continue
            if _key(event) in self._throttled:
                self._throttled.remove(_key(event))
                event.reject(smpp34.ESME_RTHROTTLED)
                continue
            number = str(len(self.ledger.texts) + 1)
            event.accept(self.ledger.take(number, f"+{event.destination_addr}", _body(event)).id)


class Line:
    """One link, and what befalls the submits on it."""

    def __init__(self, carrier: SmppCarrier, back, writer) -> None:
        self._carrier = carrier
        self._back = back
        self._writer = writer
        self._fates: dict[int, str] = {}

    async def carry(self, reader: asyncio.StreamReader, handle) -> None:
        """Hand on each message that comes, until the link ends or is cut."""
        with suppress(ConnectionError, asyncio.IncompleteReadError):
            while not self._writer.is_closing():
                length = await reader.readexactly(4)
                handle(length + await reader.readexactly(int.from_bytes(length, "big") - 4))

    def up(self, frame: bytes) -> None:
        """Carry one message of the gateway's to the server, or not."""
        pdu = smpp34.decode(frame)
        if isinstance(pdu, smpp34.SubmitSm):
            fate = self._carrier.chance.fate()
            if fate == whims.DROPPED:
                self.cut()
            elif fate == whims.GARBAGE:
                self._spoil(pdu.sequence_number)
            elif fate == whims.THROTTLED:
                self._carrier.throttle(pdu)
            elif fate != whims.SILENT:
                self._fates[pdu.sequence_number] = fate
            if fate in (whims.DROPPED, whims.GARBAGE, whims.SILENT):
                return
        if not self._back.is_closing():
            self._back.write(frame)

    def down(self, frame: bytes) -> None:
        """Carry one message of the server's to the gateway, or not."""
        sequence = int.from_bytes(frame[12:16], "big")
        is_answer = frame[4:8] == b"\x80\x00\x00\x04"
        match self._fates.pop(sequence, whims.WELL) if is_answer else whims.WELL:
            case whims.WELL:
                self._writer.write(frame)
            case whims.SILENT_TAKEN if self._carrier.chance.rng.random() < 0.5:
                asyncio.get_running_loop().call_later(LATE_S, self._answer_late, frame)
            case whims.GARBAGE_TAKEN:
                self._spoil(sequence)
            case whims.CUT:
                self._writer.write(frame[: self._carrier.chance.rng.randrange(1, len(frame))])
                self._writer.close()
            case whims.DROPPED_TAKEN:
                self.cut()

    def cut(self) -> None:
        """End the link at once."""
        self._writer.transport.abort()
        self._back.transport.abort()

    def _answer_late(self, frame: bytes) -> None:
        if not self._writer.is_closing():
            self._carrier.late_answers += 1
            self._writer.write(frame)

    def _spoil(self, sequence: int) -> None:
        """Answer with something that is no answer."""
        spoiled = [
            (0x8000ABCD, sequence, b"\xff" * 7),  # a command that nobody knows
            (0x80000004, sequence + 0x40000000, b"c-0\0"),  # an answer to what was never asked
            (0x80000021, 0, b""),  # the answer to a submit_multi
        ]
        command, number, body = self._carrier.chance.rng.choice(spoiled)
        header = (16 + len(body), command, 0, number)
        self._writer.write(b"".join(part.to_bytes(4, "big") for part in header) + body)


def _key(submit: smpp34.SubmitSm | smpp34.SubmitSmEvent) -> tuple[str, bytes]:
    """What tells a submit from others: no two of the same are under way at once."""
    return submit.destination_addr, _units(submit)


def _units(submit: smpp34.SubmitSm | smpp34.SubmitSmEvent) -> bytes:
    payload = [tlv.value for tlv in submit.tlvs if tlv.tag == smpp34.TLV_MESSAGE_PAYLOAD]
    return submit.short_message or payload[0]


def _body(submit: smpp34.SubmitSmEvent) -> str:
    units = _units(submit)
    if submit.data_coding == 8:
        return units.decode("utf-16-be")
    return decodeGsm7(bytearray(units))


def _free_port() -> int:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        return taken.getsockname()[1]


async def main(seed: str, shares: str) -> None:
    carrier = SmppCarrier(Whims(int(seed), json.loads(shares)))
    print(await carrier.run(), flush=True)
    await answer_questions(
        {
            "ledger": carrier.ledger.rows,
            "counts": lambda: carrier.chance.counts,
            "late answers": lambda: carrier.late_answers,
        }
    )


if __name__ == "__main__":
    asyncio.run(main(*sys.argv[1:]))
