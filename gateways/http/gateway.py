"""The HTTP gateway: one carrier with a web interface, described by its profile."""

from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime
from functools import partial

from requests import PreparedRequest

from gateways.errors import BadOption, Forged, TryLater, Unsure
from gateways.http.answers import Reply, hidden_parts, taken_by
from gateways.http.asking import Asker, asker
from gateways.http.batch import BatchSender
from gateways.http.batch_answers import outcome
from gateways.http.callbacks import events_reader
from gateways.http.exchange import AnswerLost, Exchange, NotSent
from gateways.http.polling import Poller, poller
from gateways.http.profile import Profile, load_profile
from gateways.http.request import request_writer
from gateways.protocol import Abilities, Answer, Callback, Event, Outgoing, Taken


class HttpGateway:
    """Puts each text to the carrier as one request, over a pool of connections.

    Attributes
    ----------
    abilities : as the profile has them
    ask : what became of a text; only there where the profile has [asking]
    poll : what waits at the carrier; only there where the profile has [[polling]]
    """

    name = "http"
    ask: Asker
    poll: Poller

    def __init__(self, profile: Profile, now: Callable[[], datetime] | None = None) -> None:
        callbacks = profile.callbacks
        brings = profile.polling if callbacks is None else (callbacks, *profile.polling)
        self.abilities = Abilities(
            client_reference=profile.abilities.client_reference,
            receipts=any(each.receipts is not None for each in brings),
            inbound=any(each.inbound is not None for each in brings),
            unicode=profile.abilities.unicode,
            long_texts=profile.abilities.long_texts,
            batch=1 if profile.batch is None else profile.batch.size,
            asking=profile.asking is not None,
            polled=bool(profile.polling),
        )
        self._profile = profile
        self._now = now or _utc_now
        self._request = request_writer(profile)
        self._events = None if callbacks is None else events_reader(callbacks)
        self._secrets = [each.secret.get_secret_value() for each in profile.credentials]
        self._batch = (
            None
            if profile.batch is None
            else BatchSender(profile, profile.batch, self._exchange, self._now)
        )
        self._put = Exchange(profile)
        # Attributes, so that a gateway meets Asking and Polled only where its profile says how.
        if profile.asking is not None:
            self.ask = asker(profile.asking, profile, self._put, self._now)
        if profile.polling:
            self.poll = poller(profile, self._put, self._now)

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
        hidden = hidden_parts([message], self._secrets)
        return taken_by(
            self._profile.answer, self._exchange(request), message.reference, now, hidden
        )

    def send_many(self, messages: Sequence[Outgoing]) -> Sequence[Answer]:
        """Put several messages to the carrier, in one call where the profile has [batch].

        There may be several calls: a call holds no more than the profile's size, and each number
        or reference once where answers are told apart by it.
        """
        if self._batch is None:
            return [outcome(partial(self.send, each)) for each in messages]
        return self._batch.send_many(messages)

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
        self._put.close()

    def _exchange(self, request: PreparedRequest) -> Reply:
        """Send a request and read its answer; say what a missing one means."""
        try:
            return self._put(request)
        except NotSent as error:
            raise TryLater(error.reason, self._profile.answer.retry_s) from None
        except AnswerLost as error:
            raise Unsure(error.reason) from None


def _utc_now() -> datetime:
    return datetime.now(UTC)
