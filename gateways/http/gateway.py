"""The HTTP gateway: one carrier with a web interface, described by its profile."""

import logging
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime
from typing import NoReturn

import requests
from requests import PreparedRequest, RequestException
from urllib3.exceptions import HTTPError, MaxRetryError

from gateways.errors import BadOption, Forged, TryLater, Unsure
from gateways.http.answers import Reply, taken_by
from gateways.http.callbacks import events_reader
from gateways.http.connection import BoundedAdapter, Bounds, NotConnected
from gateways.http.profile import Profile, load_profile
from gateways.http.request import request_writer
from gateways.protocol import Abilities, Callback, Event, Outgoing, Taken

# What those loggers tell holds addresses, and one may hold a secret, a number or a text.
logging.getLogger("urllib3").setLevel(logging.CRITICAL)

_SHORTEST_HIDDEN = 4
"""Letters of the shortest part that is hidden from reasons: less stands in every answer."""


class HttpGateway:
    """Puts each text to the carrier as one request, over a pool of connections.

    No redirect is followed, no proxy, cookie or password of the machine is used, and
    certificates are always checked.

    Attributes
    ----------
    abilities : as the profile has them
    """

    name = "http"

    def __init__(self, profile: Profile, now: Callable[[], datetime] | None = None) -> None:
        limits = profile.limits
        callbacks = profile.callbacks
        self.abilities = Abilities(
            client_reference=profile.abilities.client_reference,
            receipts=callbacks is not None and callbacks.receipts is not None,
            inbound=callbacks is not None and callbacks.inbound is not None,
            unicode=profile.abilities.unicode,
            long_texts=profile.abilities.long_texts,
        )
        self._profile = profile
        self._now = now or _utc_now
        self._request = request_writer(profile)
        self._events = None if callbacks is None else events_reader(callbacks)
        self._secrets = [each.secret.get_secret_value() for each in profile.credentials]
        self._adapter = BoundedAdapter(
            Bounds(
                profile.allow_private_addresses,
                limits.read_s,
                limits.total_s,
                limits.answer_bytes,
            )
        )

    @classmethod
    def from_options(cls, options: Mapping[str, str]) -> "HttpGateway":
        """Make one by its profile.

        Parameters
        ----------
        options : ``profile``, the path of a TOML file; `deploy/profiles` has an example

        Raises
        ------
        BadOption
            An option is unknown or missing, or the profile has faults: all of them.
        """
        for option, value in options.items():
            if option != "profile":
                raise BadOption(cls.name, option, value, "the option profile alone")
        if not options.get("profile"):
            raise BadOption(cls.name, "profile", "", "the path of a profile")
        return cls(load_profile(options["profile"]))

    def send(self, message: Outgoing) -> Taken:
        """Put one message to the carrier.

        Raises
        ------
        Refused
            The carrier will never take it.
        TryLater
            It was not taken: no connection, or the carrier asks to wait.
        Unsure
            It went out, and no answer came that the profile knows.
        """
        now = self._now()
        request = self._request(message, now)
        hidden = [message.to.removeprefix("+"), message.body, *self._secrets]
        shown_parts = [each for each in hidden if len(each) >= _SHORTEST_HIDDEN]
        return taken_by(
            self._profile.answer, self._exchange(request), message.reference, now, shown_parts
        )

    def events(self, callback: Callback) -> Sequence[Event]:
        """What a call of the carrier brings.

        Raises
        ------
        Forged
            The call is not the carrier's, or the profile awaits none.
        Unreadable
            Nothing can be made of it.
        """
        if self._events is None:
            raise Forged("the profile has no [callbacks]: no call is awaited")
        return self._events(callback)

    def close(self) -> None:
        """Let go of all connections."""
        self._adapter.close()

    def _exchange(self, request: PreparedRequest) -> Reply:
        """Send a request and read its answer.

        Errors of the libraries are not passed on: their words hold the request's address.
        """
        limits = self._profile.limits
        try:
            response = self._adapter.send(
                request,
                stream=True,
                timeout=(limits.connect_s, limits.read_s),
                verify=self._profile.ca_file or True,
            )
            with response:
                content = _content(response, limits.answer_bytes)
        except (RequestException, HTTPError, OSError) as error:
            lost = error
        else:
            return Reply(response.status_code, response.headers.get("Retry-After"), content)
        self._raise_lost(lost)

    def _raise_lost(self, error: Exception) -> NoReturn:
        """Say what a missing answer means: surely not sent, or nobody knows."""
        unconnected = _unconnected(error)
        usual_s = self._profile.answer.retry_s
        if unconnected is not None:
            raise TryLater(f"no connection to the carrier: {unconnected.why}", usual_s)
        reason = "the carrier's answer was lost, cut, too late or too long"
        if self._profile.answer.lost == "later":
            raise TryLater(reason, usual_s)
        raise Unsure(reason)


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


def _utc_now() -> datetime:
    return datetime.now(UTC)
