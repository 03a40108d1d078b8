"""The chat gateway: messages by XMPP, the open standard of RFC 6120 and RFC 6121."""

import asyncio
import hashlib
import logging
import queue
from collections.abc import Callable, Mapping
from concurrent.futures import CancelledError
from concurrent.futures import TimeoutError as NotInTime
from dataclasses import dataclass
from datetime import UTC, datetime
from threading import Event as Signal
from threading import Lock, Thread

from slixmpp.stanza import Message

from gateways.chat.options import ChatOptions, chat_options
from gateways.chat.session import ChatSession, NoSession
from gateways.errors import Refused, TryLater, Unsure
from gateways.protocol import (
    Abilities,
    Event,
    Incoming,
    Outgoing,
    Receipt,
    ReceiptState,
    Taken,
)

_log = logging.getLogger(__name__)

_FIRST_WAIT_S, _LONGEST_WAIT_S = 1.0, 60.0
"""Waits before signing in again, or handing on again: doubled each time; `setting`."""

_SLACK_S = 5.0
"""What a message may take beyond the server's time to answer; `setting`."""


@dataclass(frozen=True, slots=True)
class _Arrival:
    """One message, whom to tell that it is kept, and as which number."""

    event: Event
    message: Message
    session: ChatSession
    number: int


class ChatGateway:
    """Sends and brings in chat messages over one account.

    Signed in at the first message or call of ``listen``, and again, with growing waits, after
    the link was lost. Texts are acknowledged to the server after they are kept, if it offers
    stream management (XEP-0198); one that does not may lose what arrives during a crash.

    Attributes
    ----------
    trouble : why the server cannot be used at present, or None
    """

    name = "chat"
    abilities = Abilities(client_reference=False, receipts=True, inbound=True, segmented=False)

    def __init__(self, options: ChatOptions) -> None:
        self.trouble: str | None = "not connected yet"
        self._options = options
        self._arrivals: queue.SimpleQueue[_Arrival | None] = queue.SimpleQueue()
        self._session: ChatSession | None = None
        self._loop: asyncio.AbstractEventLoop | None = None
        self._woken = asyncio.Event()
        self._tried = Signal()
        self._closing = Signal()
        self._starting = Lock()
        self._link: Thread | None = None
        self._keeper: Thread | None = None

    @classmethod
    def from_options(cls, options: Mapping[str, str]) -> "ChatGateway":
        """Make one; the server is reached later.

        Parameters
        ----------
        options : see `gateways.chat.options.chat_options`

        Raises
        ------
        BadOption
            An option is unknown, missing or cannot be used.
        """
        return cls(chat_options(options))

    def send(self, message: Outgoing) -> Taken:
        """Send one message; its reference is the message's id.

        Raises
        ------
        Refused
            The server will never take it, or the recipient is no phone number.
        TryLater
            The server is away or said not now.
        Unsure
            The link was lost, or the server silent, after the message left.
        """
        digits = message.to.removeprefix("+")
        if not digits.isdecimal():
            raise Refused(f'"{message.to}" is no phone number: expected + and digits')
        loop = self._start()
        self._tried.wait(self._options.answer_s)
        session = self._session
        if session is None:
            raise TryLater(self.trouble or "the chat server is away", 5)
        to = f"{digits}@{self._options.domain}"
        sent = asyncio.run_coroutine_threadsafe(
            session.deliver(to, message.reference, message.body), loop
        )
        try:
            sent.result(self._options.answer_s + _SLACK_S)
        except (NotInTime, CancelledError) as error:
            sent.cancel()
            raise Unsure("the chat server did not answer in time") from error
        return Taken(message.reference)

    def listen(self, on_event: Callable[[Event], None]) -> None:
        """Bring in messages and receipts; see `gateways.protocol.Listening`.

        Raises
        ------
        RuntimeError
            It was called before.
        """
        if self._keeper is not None:
            raise RuntimeError("the chat is listened to already: call listen once")
        loop = self._start()
        self._keeper = Thread(target=self._keep, args=[loop, on_event], name="chat keeper")
        self._keeper.start()
        loop.call_soon_threadsafe(self._receive)

    def close(self) -> None:
        """Sign out; a message under way ends as `Unsure`."""
        with self._starting:
            self._closing.set()
            self._arrivals.put(None)
            if self._link is not None and self._loop is not None and not self._loop.is_closed():
                self._loop.call_soon_threadsafe(self._woken.set)
        for thread in (self._keeper, self._link):
            if thread is not None:
                thread.join()
        if self._loop is not None:
            self._loop.close()

    def _start(self) -> asyncio.AbstractEventLoop:
        """The connection's event loop, begun if it was not."""
        with self._starting:
            if self._closing.is_set():
                raise TryLater("the chat's gateway is closed")
            if self._loop is None:
                self._loop = asyncio.new_event_loop()
                self._link = Thread(target=self._run, args=[self._loop], name="chat link")
                self._link.start()
            return self._loop

    def _run(self, loop: asyncio.AbstractEventLoop) -> None:
        """The connection's own thread; the loop is closed by who made it."""
        loop.run_until_complete(self._stay_connected())
        # Messages under way have seen the link go and end by themselves; the rest is cancelled.
        loop.run_until_complete(_ended(_SLACK_S))

    async def _stay_connected(self) -> None:
        wait_s = _FIRST_WAIT_S
        while not self._closing.is_set():
            try:
                await self._one_session()
                wait_s = _FIRST_WAIT_S
            except NoSession as error:
                self._note_trouble(str(error))
            await self._pause(wait_s)
            wait_s = min(2 * wait_s, _LONGEST_WAIT_S)

    async def _one_session(self) -> None:
        """Sign in and stay until the link is lost or the gateway closed."""
        session = ChatSession(self._options, lambda message: self._take(session, message))
        try:
            await session.open()
            self._session, self.trouble = session, None
            self._receive()
            self._tried.set()
            await session.stay(self._woken)
            if session.gone.done():
                self._note_trouble(session.gone.result())
        finally:
            self._session = None
            await session.shut()

    def _note_trouble(self, trouble: str) -> None:
        if trouble != self.trouble:
            _log.warning("chat: %s", trouble)
        self.trouble = trouble
        self._tried.set()

    async def _pause(self, wait_s: float) -> None:
        try:
            await asyncio.wait_for(self._woken.wait(), wait_s)
        except TimeoutError:
            return

    def _receive(self) -> None:
        """Without somebody who keeps them, messages had better wait at the server."""
        if self._session is not None and self._keeper is not None:
            self._session.receive()

    def _take(self, session: ChatSession, message: Message) -> None:
        """Line up what comes in, on the connection's thread."""
        event = self._event(message)
        if event is not None:
            self._arrivals.put(_Arrival(event, message, session, session.unkept()))

    def _event(self, message: Message) -> Event | None:
        now = datetime.now(UTC)
        if message["receipt"]:
            return Receipt(message["receipt"], message["receipt"], ReceiptState.DELIVERED, now)
        if message["type"] == "error":
            condition = message["error"]["condition"]
            named = message["id"] or None
            return Receipt(named, named, ReceiptState.UNDELIVERED, now, condition)
        if message["type"] in ("chat", "normal") and message["body"]:
            sent_at = message["delay"]["stamp"] or now
            body = message["body"].encode("utf-8", "replace")
            return Incoming(_id_of(message), self._sender(message), body, sent_at.astimezone(UTC))
        return None

    def _sender(self, message: Message) -> str:
        jid = message["from"]
        if jid.domain == self._options.domain and jid.local.isdecimal():
            return f"+{jid.local}"
        return str(jid.bare)

    def _keep(self, loop: asyncio.AbstractEventLoop, on_event: Callable[[Event], None]) -> None:
        """Hand on what comes in, each until it is kept."""
        while (arrival := self._arrivals.get()) is not None and not self._closing.is_set():
            wait_s = _FIRST_WAIT_S
            while not self._handed_on(arrival, on_event):
                if self._closing.wait(wait_s):
                    return
                wait_s = min(2 * wait_s, _LONGEST_WAIT_S)
            loop.call_soon_threadsafe(arrival.session.kept, arrival.number, arrival.message)

    def _handed_on(self, arrival: _Arrival, on_event: Callable[[Event], None]) -> bool:
        try:
            on_event(arrival.event)
        except Exception:
            # Not acknowledged, so the server has it still; and it is tried again from here.
            _log.exception("chat: what came in could not be kept; it is tried again")
            return False
        return True


async def _ended(within_s: float) -> None:
    """Every other task of this loop has ended."""
    others = asyncio.all_tasks() - {asyncio.current_task()}
    if others:
        _done, left = await asyncio.wait(others, timeout=within_s)
        for task in left:
            task.cancel()
        await asyncio.gather(*left, return_exceptions=True)


def _id_of(message: Message) -> str:
    """The same for the same message that comes twice: its sender's full address and its id."""
    if not message["id"]:
        # Without an id two messages of the same words cannot be told apart: none is lost then.
        return f"chat-{message['from'].bare[:100]}-{datetime.now(UTC).timestamp()}"
    named = f"{message['from'].full} {message['id']}"
    return f"chat-{hashlib.sha256(named.encode('utf-8', 'replace')).hexdigest()[:40]}"
