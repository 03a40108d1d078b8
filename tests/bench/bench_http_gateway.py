"""How fast the HTTP gateway is beside bare ``requests``: same server, same threads, same run.

``python tests/bench/bench_http_gateway.py [--messages N] [--threads N] [--rounds N]`` prints one
JSON document. Both sides post the same JSON over connections that are kept and read the id in the
answer. They take turns, in the other order every round, since the machine's speed drifts.

``ratio`` is to the usual `requests` session, which looks for proxies in the environment at every
request. The gateway never does, so two stricter ratios stand beside it: to sessions told not to
look, and to the bare adapter, without any session at all.
"""

import argparse
import asyncio
import json
import multiprocessing
import statistics
import tempfile
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from datetime import UTC, datetime, timedelta
from multiprocessing.connection import Connection
from pathlib import Path
from time import perf_counter

import requests
from requests.adapters import HTTPAdapter

from gateways.http.gateway import HttpGateway
from gateways.protocol import Outgoing

EXPIRES_AT = datetime.now(UTC) + timedelta(hours=4)
PROFILE = """
allow_private_addresses = true
allow_unencrypted = true
[abilities]
client_reference = true
[request]
address = "{address}"
format = "json"
fields = {{ to = "{{to}}", text = "{{body}}", ref = "{{reference}}" }}
[answer]
reference = "id"
"""

Send = Callable[[Outgoing], str]


async def _answer(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    """Take every text on one connection, each with an id of its own: its reference."""
    try:
        while True:
            head = (await reader.readuntil(b"\r\n\r\n")).lower()
            length = int(head.split(b"content-length:")[1].split(b"\r\n")[0])
            reference = json.loads(await reader.readexactly(length))["ref"]
            body = json.dumps({"id": f"c-{reference}"}).encode()
            writer.write(
                b"HTTP/1.1 200 OK\r\nContent-Type: application/json\r\n"
                b"Content-Length: %d\r\n\r\n%s" % (len(body), body)
            )
            await writer.drain()
    except (asyncio.IncompleteReadError, ConnectionError):
        writer.close()


def _serve(port_to: Connection) -> None:
    async def forever() -> None:
        server = await asyncio.start_server(_answer, "127.0.0.1", 0)
        port_to.send(server.sockets[0].getsockname()[1])
        await server.serve_forever()

    asyncio.run(forever())


@contextmanager
def carrier() -> Iterator[str]:
    """Address of a carrier in a process of its own, so that it shares no interpreter with us."""
    spawning = multiprocessing.get_context("spawn")
    port_from, port_to = spawning.Pipe(duplex=False)
    process = spawning.Process(target=_serve, args=(port_to,), daemon=True)
    process.start()
    try:
        yield f"http://127.0.0.1:{port_from.recv()}/texts"
    finally:
        process.terminate()
        process.join()


@contextmanager
def gateway_sender(address: str) -> Iterator[Send]:
    """Send by the gateway."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "bench.toml"
        path.write_text(PROFILE.format(address=address))
        gateway = HttpGateway.from_options({"profile": str(path)})
    yield lambda message: gateway.send(message).reference
    gateway.close()


def _body(message: Outgoing) -> dict[str, str]:
    return {"to": message.to, "text": message.body, "ref": message.reference}


@contextmanager
def session_sender(address: str, look_around: bool) -> Iterator[Send]:
    """Send by bare `requests`, one session a thread."""
    local = threading.local()
    sessions: list[requests.Session] = []

    def send(message: Outgoing) -> str:
        if not hasattr(local, "session"):
            local.session = requests.Session()
            local.session.trust_env = look_around
            sessions.append(local.session)
        with local.session.post(address, json=_body(message), timeout=(5, 30)) as response:
            response.raise_for_status()
            return str(response.json()["id"])

    yield send
    for session in sessions:
        session.close()


@contextmanager
def adapter_sender(address: str) -> Iterator[Send]:
    """Send by the adapter of `requests` alone, one for all threads."""
    adapter = HTTPAdapter(pool_maxsize=64)

    def send(message: Outgoing) -> str:
        request = requests.Request("POST", address, json=_body(message)).prepare()
        with adapter.send(request, timeout=(5, 30)) as response:
            response.raise_for_status()
            return str(response.json()["id"])

    yield send
    adapter.close()


def per_second(send: Send, threads: int, messages: int) -> float:
    """Messages that some threads hand over in a second; every id is checked."""
    texts = [
        Outgoing("+447700900001", "Thin your plot to two plants", f"r{number}", EXPIRES_AT)
        for number in range(messages)
    ]
    with ThreadPoolExecutor(threads) as pool:
        list(pool.map(send, texts[: 4 * threads]))  # connections are open from here
        began = perf_counter()
        ids = list(pool.map(send, texts))
        took_s = perf_counter() - began
    if ids != [f"c-{text.reference}" for text in texts]:
        raise RuntimeError("the carrier's ids came back wrong: what was measured is no sending")
    return messages / took_s


def figures(messages: int, threads: int, rounds: int) -> dict[str, float]:
    """Median rates of every side, and the medians of the gateway's ratios to them by round."""
    with ExitStack() as stack:
        address = stack.enter_context(carrier())
        sides: dict[str, Send] = {
            "gateway": stack.enter_context(gateway_sender(address)),
            "requests": stack.enter_context(session_sender(address, look_around=True)),
            "plain_session": stack.enter_context(session_sender(address, look_around=False)),
            "adapter": stack.enter_context(adapter_sender(address)),
        }
        rates: dict[str, list[float]] = {name: [] for name in sides}
        order = list(sides)
        for _ in range(rounds):
            for name in order:
                rates[name].append(per_second(sides[name], threads, messages))
            order.reverse()

    def ratios(name: str) -> list[float]:
        return [ours / other for ours, other in zip(rates["gateway"], rates[name], strict=True)]

    return {
        "threads": threads,
        "messages": messages,
        "rounds": rounds,
        **{f"{name}_per_s": round(statistics.median(rates[name]), 1) for name in rates},
        "ratio": round(statistics.median(ratios("requests")), 3),
        "lowest_ratio": round(min(ratios("requests")), 3),
        "ratio_to_plain_session": round(statistics.median(ratios("plain_session")), 3),
        "ratio_to_adapter": round(statistics.median(ratios("adapter")), 3),
    }


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description="HTTP gateway beside bare requests")
    parser.add_argument("--messages", type=int, default=2_000)
    parser.add_argument("--threads", type=int, default=8)
    parser.add_argument("--rounds", type=int, default=6)
    print(json.dumps(figures(**vars(parser.parse_args()))))


if __name__ == "__main__":
    main()
