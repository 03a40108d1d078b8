"""How many texts a second the SMPP gateway sends, beside the bare client library.

Both fill a window of 50 against the same server, another package's, in a process of its own.
They take turns, and the middle one of the turns' ratios counts, so that a busy machine spoils
neither.

    python tests/bench/bench_smpp_gateway.py --texts 4000 --turns 7
"""

import argparse
import asyncio
import itertools
import json
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from operator import truediv
from pathlib import Path
from statistics import median
from threading import Thread
from typing import Protocol

import smpp34
from smpplib.client import Client
from smpplib.consts import SMPP_CLIENT_STATE_OPEN
from smpplib.exceptions import ConnectionError as ClientConnectionError
from smpplib.gsm import make_parts

from gateways.protocol import Outgoing, Taken
from gateways.smpp.gateway import SmppGateway

WINDOW = 50
BODY = "Thin plot 1 to two plants a station, best on the day after rain. " * 2
EXPIRES_AT = datetime(2026, 12, 12, 16, 0, tzinfo=UTC)


class Answered(Protocol):
    """What the bare client tells of a submit_sm_resp."""

    sequence: int
    message_id: bytes


def measured(texts: int, turns: int) -> dict[str, float | int]:
    """Texts a second both ways, and the gateway's part of the bare client's.

    Parameters
    ----------
    texts : in one turn
    turns : of each
    """
    bare, through = [], []
    with _server() as port:
        for _turn in range(turns):
            bare.append(texts / _bare_client_s(port, texts))
            through.append(texts / _gateway_s(port, texts))
    return {
        "window": WINDOW,
        "texts": texts,
        "turns": turns,
        "bare_per_s": round(median(bare)),
        "gateway_per_s": round(median(through)),
        "ratio": round(median(map(truediv, through, bare)), 3),
    }


def _bare_client_s(port: int, texts: int) -> float:
    """Seconds that the bare client takes: one thread fills the window and reads answers.

    Texts are spelled by the library's own function and ids kept for each, as any program must.
    """
    waiting: dict[int, int] = {}
    taken: dict[int, bytes] = {}

    def keep(pdu: Answered) -> None:
        taken[waiting.pop(pdu.sequence)] = pdu.message_id

    client = Client("127.0.0.1", port, timeout=30, allow_unknown_opt_params=True)
    client.set_message_sent_handler(keep)
    client.connect()
    client.bind_transceiver(system_id="bench", password="bench")
    began_s, sent = time.perf_counter(), 0
    while len(taken) < texts:
        while sent < texts and len(waiting) < WINDOW:
            parts, coding, esm_class = make_parts(BODY)
            for part in parts:
                pdu = client.send_message(
                    source_addr_ton=1,
                    source_addr_npi=1,
                    source_addr="447700900999",
                    dest_addr_ton=1,
                    dest_addr_npi=1,
                    destination_addr="447700900001",
                    validity_period=f"{EXPIRES_AT:%y%m%d%H%M%S}000+",
                    registered_delivery=1,
                    data_coding=coding,
                    esm_class=esm_class,
                    short_message=part,
                )
                waiting[pdu.sequence] = sent
            sent += 1
        client.read_once(auto_send_enquire_link=False)
    took_s = time.perf_counter() - began_s
    try:
        client.unbind()
    except ClientConnectionError:
        print("the server hung up instead of answering unbind", file=sys.stderr)
    client.state = SMPP_CLIENT_STATE_OPEN
    client.disconnect()
    return took_s


def _gateway_s(port: int, texts: int) -> float:
    """Seconds that as many threads as the window is wide take through the gateway."""
    with tempfile.TemporaryDirectory() as folder:
        secret = Path(folder) / "password"
        secret.write_text("bench")
        gateway = SmppGateway.from_options(
            {
                "host": "127.0.0.1",
                "port": str(port),
                "system_id": "bench",
                "password_file": str(secret),
                "sender": "+447700900999",
                "window": str(WINDOW),
            }
        )
    messages = [Outgoing("+447700900001", BODY, str(number), EXPIRES_AT) for number in range(texts)]
    taken: list[Taken] = []

    def send(own: list[Outgoing]) -> None:
        for message in own:
            taken.append(gateway.send(message))

    threads = [Thread(target=send, args=(messages[lane::WINDOW],)) for lane in range(WINDOW)]
    gateway.send(messages[0])  # bound now, as the bare client is
    began_s = time.perf_counter()
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    took_s = time.perf_counter() - began_s
    gateway.close()
    if len({each.reference for each in taken}) != texts:
        raise RuntimeError("some texts were not taken, or taken twice")
    return took_s


@contextmanager
def _server() -> Iterator[int]:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, __file__, "--serve", str(port)]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    try:
        if process.stdout is None or process.stdout.readline() != "ready\n":
            raise RuntimeError("the server did not start")
        yield port
    finally:
        process.kill()
        process.communicate()


async def _serve(port: int) -> None:
    """Take every text."""
    server = smpp34.Server(host="127.0.0.1", port=port, system_id="carrier")
    await server.start()
    print("ready", flush=True)
    ids = itertools.count(1)
    while True:
        event = await server.next()
        if isinstance(event, smpp34.SubmitSmEvent):
            event.accept(str(next(ids)))


def main() -> None:
    """Print one line of JSON."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--texts", type=int, default=4000)
    parser.add_argument("--turns", type=int, default=7)
    parser.add_argument("--serve", type=int, metavar="PORT", help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.serve is not None:
        asyncio.run(_serve(given.serve))
        return
    print(json.dumps(measured(given.texts, given.turns)))


if __name__ == "__main__":
    main()
