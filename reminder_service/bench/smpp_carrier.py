"""A carrier on loopback that takes every submit_sm: ``python -m`` this module runs it.

The server is another package's than the client of the gateway, so that both do not agree by
sharing a fault.
"""

import asyncio
import socket
import zlib

import smpp34

from reminder_service.bench.carrier import end_with_parent, tell_port


def id_of(octets: bytes) -> str:
    """The carrier's id of a text, by the octets of its short_message."""
    return f"{zlib.crc32(octets):08x}"


async def _serve() -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port: int = free.getsockname()[1]
    server = smpp34.Server(host="127.0.0.1", port=port, system_id="carrier")
    await server.start()
    tell_port(port)
    while True:
        event = await server.next()
        if isinstance(event, smpp34.SubmitSmEvent):
            event.accept(id_of(event.short_message))


if __name__ == "__main__":
    end_with_parent()
    asyncio.run(_serve())
