"""A carrier with a web interface on its bad day; called with a seed and the shares as JSON."""

import asyncio
import json
import sys
from collections import Counter
from contextlib import suppress

import whims
from whims import Ledger, Text, Whims, answer_questions

NO_JSON = (b"<html>Bad gateway</html>", b"", b"\x00\xff\xfe{", b"null", b'{"id": ', b'{"di": 1}')


class HttpCarrier:
    """Takes texts, honours their reference, and has receipts fetched."""

    def __init__(self, chance: Whims) -> None:
        self.chance = chance
        self.ledger = Ledger()
        self.receipts = Receipts(chance)

    async def serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        with suppress(ConnectionError, asyncio.IncompleteReadError):
            while await self._answered(reader, writer):
                await writer.drain()
        writer.close()

    async def _answered(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> bool:
        """Whether the connection goes on after one request."""
        first = await reader.read(1)
        if not first:
            return False
        fate = self.chance.fate()
        if fate == whims.DROPPED:
            writer.transport.abort()
            return False
        request = json.loads(await _body(reader))
        text = None
        if fate == whims.WELL or fate.endswith("taken"):
            text = self.ledger.take(request["ref"], request["number"], request["text"])
            if text.seen == 1:
                self.receipts.write(text)
        return await self._befalls(fate, text, reader, writer)

    async def _befalls(self, fate, text, reader, writer) -> bool:
        if fate in (whims.GARBAGE, whims.GARBAGE_TAKEN):
            return self._garble(writer)
        if fate in (whims.SILENT, whims.SILENT_TAKEN):
            await reader.read(1)  # until the other side has had enough
            return False
        if fate == whims.THROTTLED:
            wait = self.chance.rng.choice((b"1", b"5", b"90"))
            writer.write(_answer(b"slow down", b"429 Too Many Requests", b"Retry-After: " + wait))
            return True
        answer = _answer(json.dumps({"id": text.id}).encode())
        if fate == whims.WELL:
            writer.write(answer)
            return True
        if fate == whims.CUT:
            writer.write(answer[: self.chance.rng.randrange(1, len(answer))])
            await writer.drain()
        writer.transport.abort()
        return False

    def _garble(self, writer) -> bool:
        garbled = self.chance.rng.choice(("body", "status", "encoding", "failure"))
        body = self.chance.rng.choice(NO_JSON)
        match garbled:
            case "body":
                writer.write(_answer(body))
            case "encoding":
                writer.write(_answer(b"no gzip", header=b"Content-Encoding: gzip"))
            case "failure":
                writer.write(_answer(body, b"502 Bad Gateway"))
            case "status":
                writer.write(b"\x15\x03\x01 no answer of any protocol\r\n\r\n")
        return garbled in ("body", "failure")


class Receipts:
    """Receipts in any order: at once or late, twice, by either id, some of texts nobody sent."""

    def __init__(self, chance: Whims) -> None:
        self._rng = chance.rng
        self._waiting: list[tuple[int, dict]] = []
        self._fetched = 0
        self.counts: Counter[str] = Counter()

    def write(self, text: Text) -> None:
        if self._rng.random() < 0.1:
            return
        names = {"id": text.id, "our_id": text.reference}
        if self._rng.random() < 0.5:
            del names[self._rng.choice(tuple(names))]
        if self._rng.random() < 0.2:
            self._send("under way", names | {"state": "buffered"})
        text.final = "undelivered" if self._rng.random() < 0.06 else "delivered"
        final = names | {"state": text.final}
        self._send("final", final)
        if self._rng.random() < 0.1:
            self._send("repeated", final)
        if self._rng.random() < 0.01:
            self._send("unknown", {"id": f"x-{text.id}", "state": "delivered"})

    def fetch(self) -> list[dict]:
        """What is ready now; each fetch brings the late ones nearer."""
        self._fetched += 1
        ready = [receipt for at, receipt in self._waiting if at <= self._fetched]
        self._waiting = [each for each in self._waiting if each[0] > self._fetched]
        return ready

    def counted(self) -> dict[str, int]:
        return dict(self.counts) | {"waiting": len(self._waiting)}

    def _send(self, kind: str, receipt: dict) -> None:
        self.counts[kind] += 1
        self._waiting.append((self._fetched + self._rng.choice((0, 0, 0, 1, 5, 20)), receipt))


async def _body(reader: asyncio.StreamReader) -> bytes:
    head = await reader.readuntil(b"\r\n\r\n")
    lengths = [line for line in head.lower().split(b"\r\n") if line.startswith(b"content-length:")]
    return await reader.readexactly(int(lengths[0].split(b":")[1]))


def _answer(body: bytes, status: bytes = b"200 OK", header: bytes = b"Server: carrier") -> bytes:
    return b"HTTP/1.1 %b\r\n%b\r\nContent-Length: %d\r\n\r\n%b" % (status, header, len(body), body)


async def main(seed: str, shares: str) -> None:
    carrier = HttpCarrier(Whims(int(seed), json.loads(shares)))
    server = await asyncio.start_server(carrier.serve, "127.0.0.1", 0, backlog=128)
    print(server.sockets[0].getsockname()[1], flush=True)
    await answer_questions(
        {
            "ledger": carrier.ledger.rows,
            "counts": lambda: carrier.chance.counts,
            "receipts": carrier.receipts.fetch,
            "receipt counts": carrier.receipts.counted,
        }
    )


if __name__ == "__main__":
    asyncio.run(main(*sys.argv[1:]))
