"""One request to a carrier and its answer, or what became of it without one."""

import logging
from typing import Protocol

import requests
from requests import PreparedRequest, RequestException
from urllib3.exceptions import HTTPError, MaxRetryError

from gateways.http.answers import Reply
from gateways.http.connection import BoundedAdapter, Bounds, NotConnected
from gateways.http.profile import Limits

# What those loggers tell holds addresses, and one may hold a secret, a number or a text.
logging.getLogger("urllib3").setLevel(logging.CRITICAL)


class Reach(Protocol):
    """Which addresses may be reached and how long and large an exchange may get."""

    @property
    def limits(self) -> Limits:
        """Bounds of time and size."""

    @property
    def ca_file(self) -> str | None:
        """Certificates to trust in place of the usual ones."""

    @property
    def allow_private_addresses(self) -> bool:
        """Whether addresses of a private network may be reached."""


class Unanswered(Exception):
    """No answer came that can be read; ``reason`` holds no part of the request."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason


class NotSent(Unanswered):
    """No connection came about, so the carrier got nothing."""


class AnswerLost(Unanswered):
    """The request went out, at least in part."""


class Exchange:
    """Puts requests to one carrier over a pool of connections, from any number of threads.

    No redirect is followed, no proxy, cookie or password of the machine is used, and
    certificates are always checked.
    """

    def __init__(self, profile: Reach) -> None:
        self._limits = limits = profile.limits
        self._verify = profile.ca_file or True
        self._adapter = BoundedAdapter(
            Bounds(
                profile.allow_private_addresses,
                limits.read_s,
                limits.total_s,
                limits.answer_bytes,
            )
        )

    def __call__(self, request: PreparedRequest) -> Reply:
        """Send a request and read its answer.

        Raises
        ------
        NotSent
            There is no connection.
        AnswerLost
            The answer is missing, cut, too late or too long.
        """
        try:
            response = self._adapter.send(
                request,
                stream=True,
                timeout=(self._limits.connect_s, self._limits.read_s),
                verify=self._verify,
            )
            with response:
                content = _content(response, self._limits.answer_bytes)
        except (RequestException, HTTPError, OSError) as error:
            lost = error
        else:
            return Reply(response.status_code, response.headers.get("Retry-After"), content)
        # Raised out here, since the libraries' own words hold the request's address.
        unconnected = _unconnected(lost)
        if unconnected is not None:
            raise NotSent(f"no connection to the carrier: {unconnected.why}")
        raise AnswerLost("the carrier's answer was lost, cut, too late or too long")

    def close(self) -> None:
        """Let go of all connections."""
        self._adapter.close()


def _content(response: requests.Response, most_bytes: int) -> bytes:
    """The body of an answer.

    Raises
    ------
    OSError
        It is longer than the bound.
    """
    content: bytes = response.raw.read(most_bytes + 1, decode_content=True)
    if len(content) > most_bytes:
        raise OSError("the answer is too long")
    return content


def _unconnected(error: Exception) -> NotConnected | None:
    """The failure to connect that an error comes from, if it does."""
    inner = error.args[0] if isinstance(error, RequestException) and error.args else error
    reason = inner.reason if isinstance(inner, MaxRetryError) else inner
    return reason if isinstance(reason, NotConnected) else None
