"""One connection to a chat server by XMPP (RFC 6120, 6121): signed in, used, and given up."""

import asyncio
import logging
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any, cast

from slixmpp import JID, ClientXMPP
from slixmpp.exceptions import IqError, IqTimeout
from slixmpp.stanza import Message
from slixmpp.xmlstream.handler import Callback
from slixmpp.xmlstream.matcher import MatchXPath

from gateways.chat.options import ChatOptions
from gateways.errors import GatewayError, Refused, TryLater, Unsure

_log = logging.getLogger(__name__)

_NOT_IN_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""What XML 1.0 (2.2, Char) cannot hold; one such character would end the connection."""

_STAY_S = 300.0
"""How often a silent connection is tried; `setting`."""

_SOON_S, _LATER_S = 60.0, 600.0


class NoSession(GatewayError):
    """The server cannot be reached, or does not let us in."""


class ChatSession(ClientXMPP):
    """A connection that is used once: after it broke, another object takes its place.

    Parameters
    ----------
    on_message : is handed each message that comes in, in order

    Attributes
    ----------
    gone : done once the connection is lost, or was never made
    """

    def __init__(self, options: ChatOptions, on_message: Callable[[Message], None]) -> None:
        plain = options.allow_plain
        super().__init__(
            options.jid,
            options.password,
            plugin_config={
                "feature_mechanisms": {"unencrypted_scram": plain},
                # What was not acknowledged is not resumed but sent again: no queue outlives us.
                "xep_0198": {"allow_resume": False, "window": 1_000_000},
                "xep_0184": {"auto_ack": False},
            },
            loop=asyncio.get_running_loop(),
        )
        self._options = options
        self.enable_plaintext = plain
        self.enable_direct_tls = not plain and (options.host is None or options.port == 5223)
        self.enable_starttls = not plain and (options.host is None or options.port != 5223)
        if options.ca_file is not None:
            self.ca_certs = Path(options.ca_file)
        self.gone: asyncio.Future[str] = self.loop.create_future()
        self._ready: asyncio.Future[None] = self.loop.create_future()
        self._refusals: dict[str, asyncio.Future[Refused | TryLater]] = {}
        self._unkept: set[int] = set()
        for plugin in ("xep_0030", "xep_0184", "xep_0198", "xep_0199", "xep_0203", "xep_0359"):
            self.register_plugin(plugin)
        self._management = cast(Any, self.plugin["xep_0198"])
        self._management.send_ack = self._acknowledge
        self._on_message = on_message
        self.register_handler(
            Callback("every message", MatchXPath("{jabber:client}message"), cast(Any, self._take))
        )
        self.add_event_handler("session_start", lambda _event: self._settle(None))
        self.add_event_handler("disconnected", lambda why: self._settle(f"link lost ({why})"))
        self.add_event_handler("failed_all_auth", lambda _why: self._settle("sign-in refused"))
        self.add_event_handler("no_auth", lambda _why: self._settle("no way to sign in safely"))
        self.add_event_handler("ssl_invalid_chain", lambda why: self._settle(f"TLS: {why}"))
        if options.host is not None:
            self.add_event_handler("connection_failed", lambda why: self._settle(str(why)))

    async def open(self) -> None:
        """Connect and sign in.

        Raises
        ------
        NoSession
            That did not work, or took too long.
        """
        host, port = self._options.host, self._options.port
        self.connect(host, port if host is not None else None)
        await _first(self._ready, self.gone, within_s=self._options.answer_s)
        if self.gone.done():
            raise NoSession(f"no session at the chat server: {self.gone.result()}")
        if not self._ready.done():
            raise NoSession(f"no session at the chat server within {self._options.answer_s:.0f} s")

    async def stay(self, closing: asyncio.Event) -> None:
        """Wait until the link is lost or the gateway closing, and see that a dead link is found.

        A link that broke without a word is silent for ever: so the server is asked now and then.
        """
        asked = asyncio.ensure_future(closing.wait())
        try:
            while not (self.gone.done() or closing.is_set()):
                await _first(self.gone, asked, within_s=_STAY_S)
                if not (self.gone.done() or closing.is_set()) and not await self._ping():
                    self._settle("the server answers no more")
        finally:
            asked.cancel()

    async def shut(self) -> None:
        """Say goodbye and let go of the connection."""
        self._settle("closed")
        self.cancel_connection_attempt()
        if self.is_connected():
            await self.disconnect(wait=1.0, ignore_send_queue=True)
        if self._run_out_filters is not None:
            self._run_out_filters.cancel()

    def receive(self) -> None:
        """Tell the server that we are here: what waits for us comes then."""
        self.send_presence()

    async def deliver(self, to: str, reference: str, body: str) -> None:
        """Send one message and wait until the server has dealt with it.

        A server works on what a client sends in order (RFC 6120, 10.1): once it answers the ping
        that follows the message, it has taken the message.

        Raises
        ------
        Refused, TryLater
            The server sent the message back.
        TryLater
            There is no connection.
        Unsure
            It did not answer in time, or the link broke.
        """
        if self.gone.done():
            raise TryLater("the chat server is away", 5)
        refused = self._refusals[reference] = self.loop.create_future()
        self._message(to, reference, body).send()
        ping = asyncio.ensure_future(self._ping())
        try:
            await _first(refused, ping, self.gone)
            if refused.done():
                raise refused.result()
            if not ping.done():
                raise Unsure(f"after a message was sent: {self.gone.result()}")
            if not ping.result():
                raise Unsure(f"no answer to a message within {self._options.answer_s:.0f} s")
        finally:
            ping.cancel()
            self._refusals.pop(reference, None)

    def kept(self, number: int, message: Message) -> None:
        """Acknowledge a message to the server, and to its sender if it asks (XEP-0184)."""
        self._unkept.discard(number)
        if self.gone.done():
            return
        if message["request_receipt"] and message["id"]:
            cast(Any, self.plugin["xep_0184"]).ack(message)
        if self._management.enabled_in:
            self._acknowledge()

    def unkept(self) -> int:
        """Number of the message handed to ``on_message``: it is not acknowledged until `kept`."""
        number = int(self._management.handled)
        self._unkept.add(number)
        return number

    def exception(self, exception: Exception) -> None:
        """Log what a handler of ours did not expect."""
        _log.error("chat: %s", exception, exc_info=exception)

    def _acknowledge(self) -> None:
        """Tell the server how many stanzas it may forget: all before the first not kept."""
        handled = int(self._management.handled)
        first = min(self._unkept, default=handled + 1)
        if self.transport is not None:
            self.send_raw(f"<a xmlns='urn:xmpp:sm:3' h='{min(handled, first - 1)}'/>")

    def _message(self, to: str, reference: str, body: str) -> Message:
        message = self.make_message(mto=to, mbody=_NOT_IN_XML.sub("\ufffd", body), mtype="chat")
        message["id"] = reference
        message["origin_id"]["id"] = reference
        message["request_receipt"] = True
        return message

    async def _ping(self) -> bool:
        """Whether the server answered; that it knows no ping is an answer too."""
        try:
            await self.plugin["xep_0199"].send_ping(
                JID(self.boundjid.domain), timeout=self._options.answer_s
            )
        except IqError:
            return True
        except IqTimeout:
            return False
        return True

    def _take(self, message: Message) -> None:
        if message["type"] == "error" and (refused := self._refusals.get(message["id"])):
            if not refused.done():
                refused.set_result(_refusal(message))
            return
        self._on_message(message)

    def _settle(self, gone: str | None) -> None:
        if gone is None:
            if not self._ready.done():
                self._ready.set_result(None)
        elif not self.gone.done():
            self.gone.set_result(gone)


async def _first(*futures: "asyncio.Future[Any]", within_s: float | None = None) -> None:
    await asyncio.wait(futures, timeout=within_s, return_when=asyncio.FIRST_COMPLETED)


def _refusal(message: Message) -> Refused | TryLater:
    """What a message that came back means (RFC 6120, 8.3.2 and 8.3.3)."""
    kind, condition = message["error"]["type"], message["error"]["condition"]
    reason = f"the chat server sent the message back: {condition}"
    if condition in ("remote-server-not-found", "remote-server-timeout"):
        return TryLater(reason, _LATER_S)
    if kind in ("cancel", "modify"):
        return Refused(reason)
    return TryLater(reason, _SOON_S if kind == "wait" else _LATER_S)
