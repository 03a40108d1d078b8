"""A carrier on loopback that takes every text as JSON: ``python -m`` this module runs it."""

import asyncio
import json

from reminder_service.bench.carrier import end_with_parent, tell_port


def id_of(reference: str) -> str:
    """The carrier's id of a text, by our reference of it."""
    return f"c-{reference}"


async def _answer(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    """Take every text that comes over one connection."""
    try:
        while True:
            head = (await reader.readuntil(b"\r\n\r\n")).lower()
            length = int(head.split(b"content-length:")[1].split(b"\r\n")[0])
            reference = json.loads(await reader.readexactly(length))["ref"]
            body = json.dumps({"id": id_of(reference)}).encode()
            writer.write(
                b"HTTP/1.1 200 OK\r\nContent-Type: application/json\r\n"
                b"Content-Length: %d\r\n\r\n%s" % (len(body), body)
            )
            await writer.drain()
    except (asyncio.IncompleteReadError, ConnectionError):  # the side hung up: its turn is over
        writer.close()


async def _serve() -> None:
    server = await asyncio.start_server(_answer, "127.0.0.1", 0)
    tell_port(server.sockets[0].getsockname()[1])
    await server.serve_forever()


if __name__ == "__main__":
    end_with_parent()
    asyncio.run(_serve())
