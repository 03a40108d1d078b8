"""Connections that reach only addresses they may, and end in a bounded time and size."""

import io
import socket
import ssl
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from http.client import HTTPResponse
from ipaddress import IPv4Address, IPv6Address, IPv6Network, ip_address
from time import monotonic
from typing import Any

from requests.adapters import HTTPAdapter
from urllib3.connection import HTTPConnection, HTTPSConnection
from urllib3.connectionpool import HTTPConnectionPool, HTTPSConnectionPool
from urllib3.exceptions import HTTPError, NewConnectionError
from urllib3.util.connection import create_connection

POOLED = 64
"""Connections that are kept open (setting); more threads get more, closed after use."""

_HEAD_BYTES = 65_536
"""Room for status line and headers beyond the answer's own bound (setting)."""

_NAT64 = IPv6Network("64:ff9b::/96")
"""IPv4 addresses written into IPv6 for a translator (RFC 6052, section 2.1)."""


@dataclass(frozen=True, slots=True)
class Bounds:
    """What a connection keeps to.

    Attributes
    ----------
    private_allowed : whether addresses that are not of the public internet may be reached
    read_s : longest silence, in seconds
    total_s : longest time from request to the answer's last byte, in seconds
    answer_bytes : longest body of an answer
    """

    private_allowed: bool
    read_s: float
    total_s: float
    answer_bytes: int


class NotConnected(NewConnectionError):
    """No connection came about, so nothing was sent; ``why`` holds no part of the request."""

    def __init__(self, connection: HTTPConnection, why: str) -> None:
        super().__init__(connection, why)
        self.why = why


class BoundedAdapter(HTTPAdapter):
    """A pool of such connections, for any number of threads."""

    def __init__(self, bounds: Bounds) -> None:
        self._bounds = bounds
        super().__init__(pool_maxsize=POOLED)

    def init_poolmanager(self, *args: Any, **kwargs: Any) -> None:
        """Put connections of ours into the pools."""
        super().init_poolmanager(*args, **kwargs)
        self.poolmanager.pool_classes_by_scheme = {
            "http": _pool_class(HTTPConnectionPool, _Plain, self._bounds),
            "https": _pool_class(HTTPSConnectionPool, _Encrypted, self._bounds),
        }


def is_public(address: str) -> bool:
    """Whether an IP address is of the public internet and reaches one machine there.

    References
    ----------
    IANA's registries of special-purpose IPv4 and IPv6 addresses, as `ipaddress` has them.

    Examples
    --------
    >>> is_public("169.254.169.254"), is_public("::ffff:127.0.0.1"), is_public("64:ff9b::7f00:1")
    (False, False, False)
    """
    ip = ip_address(address.partition("%")[0])
    if isinstance(ip, IPv6Address):
        if ip.ipv4_mapped is not None:
            return False
        inner = ip.sixtofour or (IPv4Address(int(ip) & 0xFFFFFFFF) if ip in _NAT64 else None)
        if inner is not None:
            return is_public(str(inner))
    return ip.is_global and not (ip.is_multicast or ip.is_reserved)


class _Bounded(HTTPConnection):
    """What plain and encrypted connections share."""

    bounds: Bounds

    def connect(self) -> None:
        """Connect, and tell every failure of it from failures after it."""
        try:
            super().connect()
        except (OSError, HTTPError, UnicodeError) as error:
            self.close()
            raise NotConnected(self, _why(error)) from error

    def _new_conn(self) -> socket.socket:
        """Look the name up once, and connect to what was looked at."""
        found = socket.getaddrinfo(self._dns_host, self.port, type=socket.SOCK_STREAM)
        addresses = list(dict.fromkeys(str(each[4][0]) for each in found))
        allowed = [each for each in addresses if self.bounds.private_allowed or is_public(each)]
        if not allowed:
            raise OSError(
                f"{self.host} stands at {', '.join(addresses)}, which is not public; "
                "see allow_private_addresses"
            )
        return self._connected(allowed)

    def _connected(self, addresses: list[str]) -> socket.socket:
        """Try one address after the other within one time limit."""
        limit_s = float(self.timeout or 0)
        ends_at = monotonic() + limit_s
        failed: OSError = TimeoutError("timed out")
        for address in addresses:
            left_s = ends_at - monotonic()
            if left_s <= 0:
                break
            try:
                # A literal address: nothing is looked up a second time.
                return create_connection(
                    (address, self.port), left_s, socket_options=self.socket_options
                )
            except OSError as error:
                failed = error
        raise failed

    def request(self, *args: Any, **kwargs: Any) -> None:
        """Send the request; the time for its answer runs from here."""
        ends_at = monotonic() + self.bounds.total_s
        made = partial(_BoundedResponse, bounds=self.bounds, ends_at=ends_at)
        self.response_class = made  # type: ignore[assignment] # http.client only calls it
        super().request(*args, **kwargs)


class _Plain(_Bounded):
    """Over http:."""


class _Encrypted(_Bounded, HTTPSConnection):
    """Over https:."""


class _BoundedResponse(HTTPResponse):
    """An answer read through `_BoundedReader`, from its first byte."""

    def __init__(
        self, sock: socket.socket, *, bounds: Bounds, ends_at: float, method: str | None = None
    ) -> None:
        super().__init__(sock, method=method)
        self.fp = io.BufferedReader(_BoundedReader(self.fp, sock, bounds, ends_at))


class _BoundedReader(io.RawIOBase):
    """Reads a socket's file until a moment and a number of bytes."""

    def __init__(
        self, file: io.BufferedReader, sock: socket.socket, bounds: Bounds, ends_at: float
    ) -> None:
        self._file = file
        self._socket = sock
        self._ends_at = ends_at
        self._read_s = bounds.read_s
        self._left = bounds.answer_bytes + _HEAD_BYTES

    def readable(self) -> bool:
        """Yes."""
        return True

    def readinto(self, buffer: Any) -> int:
        """Read what has come, waiting no longer than the time that is left."""
        left_s = self._ends_at - monotonic()
        if left_s <= 0:
            raise TimeoutError("the answer took too long")
        if self._left <= 0:
            raise OSError("the answer is too long")
        self._socket.settimeout(min(left_s, self._read_s))
        count = self._file.raw.readinto(buffer) or 0
        self._left -= count
        return count

    def close(self) -> None:
        """Let go of the socket."""
        self._file.close()
        super().close()


def _pool_class(
    pool: type[HTTPConnectionPool], connection: type[_Bounded], bounds: Bounds
) -> type[HTTPConnectionPool]:
    bounded = type(connection.__name__, (connection,), {"bounds": bounds})
    return type(pool.__name__, (pool,), {"ConnectionCls": bounded})


def _why(error: BaseException) -> str:
    """The innermost cause, in words."""
    causes = list(_causes(error))
    for cause in causes:
        if isinstance(cause, ssl.SSLCertVerificationError):
            return f"its certificate is not valid: {cause.verify_message}"
    innermost = causes[-1]
    return getattr(innermost, "strerror", None) or str(innermost) or type(innermost).__name__


def _causes(error: BaseException | None) -> Iterator[BaseException]:
    while error is not None:
        yield error
        error = error.__cause__ or error.__context__
