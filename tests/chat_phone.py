"""A farmer's phone with a chat client."""

import asyncio
from threading import Event, Thread

from own_prosody import DOMAIN, PASSWORD, US, OwnProsody
from slixmpp import JID, ClientXMPP


class ChatPhone:
    """Signed in as one phone; keeps what comes and says what is asked.

    ``confirms`` tells whether it confirms delivery to who asks for it.
    """

    def __init__(self, server: OwnProsody, phone: str = "+447700900001", confirms: bool = True):
        self.messages: list = []
        self.receipts: list[str] = []
        self._loop = asyncio.new_event_loop()
        self._client: ClientXMPP | None = None
        self._up, self._end = Event(), asyncio.Event()
        name = phone.removeprefix("+")
        self._thread = Thread(
            target=lambda: self._loop.run_until_complete(self._stay(server, name, confirms)),
            name="chat phone",
        )
        self._thread.start()
        assert self._up.wait(10), server.said()

    def arrived(self) -> list[tuple[str, str]]:
        """What has come, after all that the server had for us."""
        self._ask(self._ping())
        return [(f"+{message['to'].local}", message["body"]) for message in self.messages]

    def say(self, body: str, name: str | None = None, asks: bool = False) -> None:
        """Send a text to the programme."""
        self._ask(self._say(body, name, asks))

    def send_back(self, name: str) -> None:
        """Say that a message cannot be shown here after all."""
        self._ask(self._send_back(name))

    def close(self) -> None:
        self._loop.call_soon_threadsafe(self._end.set)
        self._thread.join()
        self._loop.close()

    def _ask(self, what) -> None:
        asyncio.run_coroutine_threadsafe(what, self._loop).result(10)

    async def _ping(self) -> None:
        await self._client.plugin["xep_0199"].send_ping(JID(DOMAIN), timeout=5)

    async def _say(self, body: str, name: str | None, asks: bool) -> None:
        message = self._client.make_message(mto=f"{US}@{DOMAIN}", mbody=body, mtype="chat")
        if name is not None:
            message["id"] = name
        message["request_receipt"] = asks
        message.send()
        await self._ping()

    async def _send_back(self, name: str) -> None:
        message = self._client.make_message(mto=f"{US}@{DOMAIN}", mtype="error")
        message["id"] = name
        message["error"]["condition"] = "not-acceptable"
        message["error"]["type"] = "modify"
        message["to"] = self.messages[-1]["from"]
        message.send()
        await self._ping()

    async def _stay(self, server: OwnProsody, name: str, confirms: bool) -> None:
        client = ClientXMPP(
            f"{name}@{DOMAIN}",
            PASSWORD,
            plugin_config={
                "feature_mechanisms": {"unencrypted_scram": True},
                "xep_0184": {"auto_ack": confirms},
            },
            loop=self._loop,
        )
        client.enable_direct_tls = client.enable_starttls = False
        client.enable_plaintext = True
        for plugin in ("xep_0184", "xep_0199"):
            client.register_plugin(plugin)
        client.add_event_handler("message", self.messages.append)
        client.add_event_handler("receipt_received", lambda m: self.receipts.append(m["receipt"]))
        client.connect("127.0.0.1", server.port)
        await client.wait_until("session_start", 10)
        client.send_presence()
        self._client = client
        await self._ping()
        self._up.set()
        await self._end.wait()
        await client.disconnect()
        others = asyncio.all_tasks() - {asyncio.current_task()}
        for task in others:
            task.cancel()
        await asyncio.gather(*others, return_exceptions=True)
