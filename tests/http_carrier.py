"""A carrier with a web interface on 127.0.0.1, whose answers a test scripts."""

import json
import socket
import threading
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from ssl import SSLContext

from gateways.http.profile import Profile
from gateways.protocol import Outgoing

Waiting = Callable[[float], bool]
"""Waits some seconds, less if the carrier is closed; answers whether it was closed."""


@dataclass(frozen=True)
class Received:
    """One request as it came."""

    method: str
    target: str
    headers: Mapping[str, str]
    body: bytes

    @property
    def json(self):
        return json.loads(self.body)


@dataclass(frozen=True)
class Reply:
    """What the carrier answers; ``raw`` yields the bytes themselves, then the line is cut."""

    status: int = 200
    body: bytes = b"{}"
    headers: Mapping[str, str] = field(default_factory=dict)
    raw: Callable[[Waiting], Iterable[bytes]] | None = None


class HttpCarrier:
    """Takes texts; each takes the next answer of the script, then an id of its own.

    ``key`` finds our reference in a request: a reference seen before gets the same id and is not
    counted again.
    """

    def __init__(self, *script: Reply, tls: SSLContext | None = None) -> None:
        self.script = list(script)
        self.received: list[Received] = []
        self.taken: dict[str, Received] = {}
        self.connections = 0
        self._lock = threading.Lock()
        self._closing = threading.Event()
        self._sockets: list[socket.socket] = []
        self._server = _server(self, tls)
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.02,))
        self._thread.start()

    @property
    def port(self) -> int:
        return self._server.server_address[1]

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}/texts"

    def __enter__(self) -> "HttpCarrier":
        return self

    def __exit__(self, *_error: object) -> None:
        self.close()

    def close(self) -> None:
        """Cut every connection and end every thread."""
        self._closing.set()
        self._server.shutdown()
        for each in self._sockets:
            try:
                each.shutdown(socket.SHUT_RDWR)
            except OSError:
                continue  # it is gone already
        self._thread.join()
        self._server.server_close()

    def cut_connections(self) -> None:
        """Close what is idle, as carriers do after a while."""
        for each in self._sockets:
            each.shutdown(socket.SHUT_RDWR)

    def opened(self, connection: socket.socket) -> None:
        with self._lock:
            self.connections += 1
            self._sockets.append(connection)

    def answer(self, request: Received) -> Reply:
        with self._lock:
            self.received.append(request)
            if self.script:
                return self.script.pop(0)
            return Reply(body=json.dumps({"id": self._id(request)}).encode())

    def wait(self, seconds: float) -> bool:
        return self._closing.wait(seconds)

    def _id(self, request: Received) -> str:
        reference = request.json["ref"] if request.body.startswith(b"{") else request.target
        self.taken.setdefault(reference, request)
        return f"c-{list(self.taken).index(reference) + 1}"


def _server(carrier: HttpCarrier, tls: SSLContext | None) -> ThreadingHTTPServer:
    class Server(ThreadingHTTPServer):
        daemon_threads = False
        request_queue_size = 128

        def get_request(self):
            connection, peer = super().get_request()
            if tls is not None:
                connection = tls.wrap_socket(
                    connection, server_side=True, do_handshake_on_connect=False
                )
            carrier.opened(connection)
            return connection, peer

        def handle_error(self, request, client_address):
            """Say nothing: clients of these tests hang up on purpose."""

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"
        disable_nagle_algorithm = True

        def log_message(self, *_args):
            """Say nothing."""

        def _take(self):
            length = int(self.headers.get("Content-Length") or 0)
            body = self.rfile.read(length)
            reply = carrier.answer(Received(self.command, self.path, dict(self.headers), body))
            if reply.raw is not None:
                for part in reply.raw(carrier.wait):
                    self.wfile.write(part)
                    self.wfile.flush()
                self.close_connection = True
                return
            self.send_response(reply.status)
            for name, value in {"Content-Length": len(reply.body), **reply.headers}.items():
                self.send_header(name, str(value))
            self.end_headers()
            self.wfile.write(reply.body)

        do_GET = do_POST = do_PUT = do_DELETE = _take

    return Server(("127.0.0.1", 0), Handler)


EXPIRES_AT = datetime(2026, 12, 12, 16, 0, tzinfo=UTC)


def text(reference: str, body: str = "Thin your plot") -> Outgoing:
    """One text for a phone that nobody owns."""
    return Outgoing(to="+447700900001", body=body, reference=reference, expires_at=EXPIRES_AT)


FIELDS = {"number": "{to}", "text": "{body}", "ref": "{reference}"}


def http_profile(address: str, folder: Path | None = None, **tables: object) -> Profile:
    """A profile for a carrier of tests; tables replace or add keys of its own tables."""
    data: dict[str, object] = {
        "allow_private_addresses": True,
        "allow_unencrypted": True,
        "abilities": {"client_reference": True},
        "request": {"address": address, "format": "json", "fields": FIELDS},
        "answer": {"reference": "id"},
        "limits": {"connect_s": 2.0, "read_s": 2.0, "total_s": 4.0},
    }
    for name, given in tables.items():
        known = data.get(name)
        merge = isinstance(known, dict) and isinstance(given, dict)
        data[name] = {**known, **given} if merge else given
    return Profile.model_validate(data, context={"folder": folder or Path()})
