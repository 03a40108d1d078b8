"""The SMPP gateway and the bare client library, each with the same window."""

import tempfile
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Protocol

from smpplib.client import Client
from smpplib.consts import SMPP_CLIENT_STATE_OPEN
from smpplib.gsm import make_parts

from gateways.protocol import Answer, Outgoing, Taken
from gateways.smpp.gateway import SmppGateway
from reminder_service.bench.turns import SendAll, Side

WINDOW = 50
CALLERS = 2
"""Threads that each hand a batch as wide as the window over at a time, as the dispatcher does on a
route with two connections: a setting. One alone would leave the link idle between its batches."""

_SENDER = "447700900999"
_NOT_TAKEN = "not taken"


class _Answered(Protocol):
    """What the bare client tells of a submit_sm_resp."""

    sequence: int
    message_id: bytes


def smpp_sides(port: int) -> list[Side]:
    """The gateway by batches, the same text by text, and the bare client.

    Text by text needs as many threads as the window is wide, each of which is woken for each of
    its texts; the bare client needs one.
    """
    return [
        Side("gateway", partial(_batches, port)),
        Side("gateway, one a call", partial(_one_a_call, port)),
        Side("client", partial(_client, port)),
    ]


@contextmanager
def _gateway(port: int) -> Iterator[SmppGateway]:
    with tempfile.TemporaryDirectory() as folder:
        secret = Path(folder) / "password"
        secret.write_text("bench", "utf-8")
        gateway = SmppGateway.from_options(
            {
                "host": "127.0.0.1",
                "port": str(port),
                "system_id": "bench",
                "password_file": str(secret),
                "sender": f"+{_SENDER}",
                "window": str(WINDOW),
            }
        )
    try:
        yield gateway
    finally:
        gateway.close()


@contextmanager
def _batches(port: int) -> Iterator[SendAll]:
    with _gateway(port) as gateway, ThreadPoolExecutor(CALLERS) as pool:

        def send_all(texts: Sequence[Outgoing]) -> list[str]:
            """Share the texts out in batches."""
            batches = [texts[place : place + WINDOW] for place in range(0, len(texts), WINDOW)]
            return [
                _id(answer)
                for answers in pool.map(gateway.send_many, batches)
                for answer in answers
            ]

        yield send_all


@contextmanager
def _one_a_call(port: int) -> Iterator[SendAll]:
    with _gateway(port) as gateway, ThreadPoolExecutor(WINDOW) as pool:
        yield lambda texts: [taken.reference for taken in pool.map(gateway.send, texts)]


@contextmanager
def _client(port: int) -> Iterator[SendAll]:
    client = Client("127.0.0.1", port, timeout=30, allow_unknown_opt_params=True)
    client.connect()
    client.bind_transceiver(system_id="bench", password="bench")  # noqa: S106 # known to all
    try:
        yield partial(_through_client, client)
    finally:
        client.state = SMPP_CLIENT_STATE_OPEN  # hang up without a word: the turn is over
        client.disconnect()


def _through_client(client: Client, texts: Sequence[Outgoing]) -> list[str]:
    """Send from one thread that fills the window and reads answers, as the library is meant.

    Texts are spelled by the library's own function and ids kept for each, as any program must.
    """
    ids = [_NOT_TAKEN] * len(texts)
    waiting: dict[int, int] = {}

    def keep(pdu: _Answered) -> None:
        """Note the id of the text that an answer is for."""
        ids[waiting.pop(pdu.sequence)] = pdu.message_id.decode()

    client.set_message_sent_handler(keep)
    sent = 0
    while waiting or sent < len(texts):
        while sent < len(texts) and len(waiting) < WINDOW:
            waiting[_submit(client, texts[sent])] = sent
            sent += 1
        client.read_once(auto_send_enquire_link=False)
    return ids


def _submit(client: Client, text: Outgoing) -> int:
    """Send a text of one part; answers its sequence number."""
    (part,), coding, esm_class = make_parts(text.body)
    pdu = client.send_message(
        source_addr_ton=1,
        source_addr_npi=1,
        source_addr=_SENDER,
        dest_addr_ton=1,
        dest_addr_npi=1,
        destination_addr=text.to.removeprefix("+"),
        validity_period=f"{text.expires_at:%y%m%d%H%M%S}000+",
        registered_delivery=1,
        data_coding=coding,
        esm_class=esm_class,
        short_message=part,
    )
    return int(pdu.sequence)


def _id(answer: Answer) -> str:
    return answer.reference if isinstance(answer, Taken) else _NOT_TAKEN
