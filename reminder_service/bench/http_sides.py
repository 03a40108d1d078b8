"""The HTTP gateway and bare ``requests``, each over the same number of kept connections."""

import tempfile
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from functools import partial
from pathlib import Path

import requests
from requests.adapters import HTTPAdapter

from gateways.http.gateway import HttpGateway
from gateways.protocol import Outgoing
from reminder_service.bench.turns import SendAll, Side

CONNECTIONS = 8

_LIMITS_S = (5, 30)
"""To connect, and of silence."""
_PROFILE = """
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


def http_sides(port: int) -> list[Side]:
    """The gateway; threads with a session each; threads that share an adapter, without any session.

    A session looks for proxies and passwords of the machine at every request, which the gateway
    never does: so the adapter is the stricter measure.
    """
    address = f"http://127.0.0.1:{port}/texts"
    return [
        Side("gateway", partial(_gateway, address)),
        Side("requests", partial(_sessions, address)),
        Side("adapter", partial(_adapter, address)),
    ]


@contextmanager
def _threads(send: Callable[[Outgoing], str]) -> Iterator[SendAll]:
    with ThreadPoolExecutor(CONNECTIONS) as pool:
        yield lambda texts: list(pool.map(send, texts))


@contextmanager
def _gateway(address: str) -> Iterator[SendAll]:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "bench.toml"
        path.write_text(_PROFILE.format(address=address), "utf-8")
        gateway = HttpGateway.from_options({"profile": str(path)})
    try:
        with _threads(lambda text: gateway.send(text).reference) as send_all:
            yield send_all
    finally:
        gateway.close()


@contextmanager
def _sessions(address: str) -> Iterator[SendAll]:
    local = threading.local()
    sessions: list[requests.Session] = []

    def send(text: Outgoing) -> str:
        """Post one text over this thread's session."""
        if not hasattr(local, "session"):
            local.session = requests.Session()
            sessions.append(local.session)
        with local.session.post(address, json=_body(text), timeout=_LIMITS_S) as response:
            return _id(response)

    try:
        with _threads(send) as send_all:
            yield send_all
    finally:
        for session in sessions:
            session.close()


@contextmanager
def _adapter(address: str) -> Iterator[SendAll]:
    adapter = HTTPAdapter(pool_maxsize=CONNECTIONS)

    def send(text: Outgoing) -> str:
        """Post one text over the shared adapter."""
        request = requests.Request("POST", address, json=_body(text)).prepare()
        with adapter.send(request, timeout=_LIMITS_S) as response:
            return _id(response)

    try:
        with _threads(send) as send_all:
            yield send_all
    finally:
        adapter.close()


def _body(text: Outgoing) -> dict[str, str]:
    return {"to": text.to, "text": text.body, "ref": text.reference}


def _id(response: requests.Response) -> str:
    response.raise_for_status()
    return str(response.json()["id"])
