"""An SMPP carrier on this machine: an independent package's server, behind a line one can cut."""

import asyncio
import itertools
import socket
import struct
from contextlib import suppress
from threading import Event, Thread

import smpp34
from gsmmodem.pdu import decodeGsm7

NUMBER = "447700900001"
SENDER = "447700900999"
QUERY_SM = 0x00000003


class SmppCarrier:
    """Takes every submit under a growing id unless a test decides otherwise.

    The gateway is given the line's port: what it sends is read there once more by the other
    package's own reader, and there the link can be cut or fall silent.
    """

    def __init__(self):
        self.submits = []  # as the line saw them, with all fields
        self.binds = 0
        self.heard = []  # (command, sequence number) of all that the line saw
        self.refuse_binds = 0  # the status that the line puts into answers to a bind
        self.ids = map(str, itertools.count(1))
        self.decide = lambda event: event.accept(next(self.ids))
        self.queries = []  # bodies of query_sm, as the line saw them
        self.answer_query = None  # gives (status, body); without it the server answers itself
        self.esme = None
        self._lines = []
        self._ready = Event()
        self._loop = asyncio.new_event_loop()
        self._thread = Thread(target=self._loop.run_until_complete, args=(self._run(),))
        self._thread.start()
        assert self._ready.wait(10)

    def options(self, folder, **more):
        """Options of a gateway that is bound to this carrier."""
        secret = folder / "password"
        secret.write_text("rainfall\n")
        given = {
            "host": "127.0.0.1",
            "port": str(self.port),
            "system_id": "tandaluwe",
            "password_file": str(secret),
            "sender": f"+{SENDER}",
            "connect_s": "3",
            "answer_s": "3",
            "reconnect_s": "0.05",
        }
        return given | more

    def deliver(self, body=b"", **fields):
        """Send one deliver_sm; answers the status that it was answered with."""
        return self.deliver_all([{"short_message": body, **fields}])[0]

    def deliver_all(self, deliveries):
        """Send several before any is answered."""
        return self.later(self.deliver_soon(deliveries)).result(10)

    def later(self, awaited):
        """Let the carrier do something on its own thread."""
        return asyncio.run_coroutine_threadsafe(awaited, self._loop)

    def at_once(self, answer):
        """A way to decide that takes its time: ``answer`` is awaited for each submit."""
        tasks = set()

        def decide(event):
            task = self._loop.create_task(answer(event))
            tasks.add(task)
            task.add_done_callback(tasks.discard)

        return decide

    def cut(self):
        """Cut every open link."""
        self.on_loop(self._cut)

    def fall_silent(self):
        """Let nothing of the carrier's reach any link that is open now."""
        self.on_loop(lambda: [line.update(silent=True) for line in self._lines])

    def inject(self, octets):
        """Let octets come to every open link as if the carrier had sent them."""
        self.on_loop(lambda: [line["writer"].write(octets) for line in self._lines])

    def arrived(self):
        """(to, body) of every text, its parts joined, oldest first."""
        texts = {}
        for number, submit in enumerate(self.submits):
            units, key, place = submit.short_message, (number,), 1
            if submit.esm_class & 0x40:
                assert units[:3] == bytes([5, 0, 3])
                key, place, units = (
                    (submit.destination_addr, units[3], units[4]),
                    units[5],
                    units[6:],
                )
            units = units or next(
                (tlv.value for tlv in submit.tlvs if tlv.tag == smpp34.TLV_MESSAGE_PAYLOAD), b""
            )
            texts.setdefault(key, []).append((place, units, submit))
        return [self._text(sorted(parts, key=lambda part: part[0])) for parts in texts.values()]

    def stop(self):
        self._loop.call_soon_threadsafe(self._stopping.set)
        self._thread.join(10)
        self._loop.close()

    @staticmethod
    def _text(parts):
        submit = parts[0][2]
        units = b"".join(part[1] for part in parts)
        body = (
            units.decode("utf-16-be") if submit.data_coding == 8 else decodeGsm7(bytearray(units))
        )
        return f"+{submit.destination_addr}", body

    def on_loop(self, work):
        """Do something on the carrier's own thread."""

        async def run():
            return work()

        self.later(run()).result(5)

    def _cut(self):
        for line in self._lines:
            line["writer"].transport.abort()

    async def deliver_soon(self, deliveries):
        """Send several, once there is a link; answers their statuses."""
        defaults = {"source_addr": NUMBER, "source_addr_ton": 1, "source_addr_npi": 1}
        esme = await self._bound_esme()
        answers = await asyncio.gather(
            *(
                esme.deliver_sm(**(defaults | {"destination_addr": SENDER} | delivery))
                for delivery in deliveries
            )
        )
        return [answer.command_status for answer in answers]

    async def _bound_esme(self):
        async with asyncio.timeout(5):
            while self.esme is None:
                await asyncio.sleep(0.01)
        return self.esme

    async def _run(self):
        self._stopping = asyncio.Event()
        server_port = _free_port()
        server = smpp34.Server(host="127.0.0.1", port=server_port, system_id="carrier")
        await server.start()
        pump = asyncio.create_task(self._pump(server))
        relay = await asyncio.start_server(
            lambda reader, writer: self._line(reader, writer, server_port), "127.0.0.1", 0
        )
        self.port = relay.sockets[0].getsockname()[1]
        self._ready.set()
        await self._stopping.wait()
        relay.close()
        self._cut()
        await relay.wait_closed()
        await asyncio.sleep(0.02)
        pump.cancel()
        with suppress(asyncio.CancelledError):
            await pump
        await server.stop()
        others = asyncio.all_tasks() - {asyncio.current_task()}
        for task in others:
            task.cancel()
        await asyncio.gather(*others, return_exceptions=True)

    async def _pump(self, server):
        while True:
            event = await server.next()
            if isinstance(event, smpp34.Esme):
                self.binds += 1
                self.esme = event
            elif isinstance(event, smpp34.SubmitSmEvent):
                self.decide(event)
            elif self.esme is not None and event.session_id == self.esme.session_id:
                self.esme = None

    async def _line(self, reader, writer, server_port):
        line = {"writer": writer, "silent": False}
        self._lines.append(line)
        there, back = await asyncio.open_connection("127.0.0.1", server_port)
        down = asyncio.create_task(self._carry_down(there, writer, line))
        try:
            await self._carry_up(reader, back, line)
        except ConnectionError:
            pass
        finally:
            down.cancel()
            self._lines.remove(line)
            back.close()
            writer.close()

    async def _carry_down(self, there, writer, line):
        with suppress(ConnectionError):
            while octets := await there.read(65536):
                if self.refuse_binds and octets[4:8] == bytes.fromhex("80000009"):
                    octets = octets[:8] + self.refuse_binds.to_bytes(4, "big") + octets[12:]
                if not line["silent"]:
                    writer.write(octets)
            writer.close()

    async def _carry_up(self, reader, back, line):
        seen = b""
        while octets := await reader.read(65536):
            seen += octets
            while len(seen) >= 4 and len(seen) >= int.from_bytes(seen[:4], "big"):
                length = int.from_bytes(seen[:4], "big")
                frame, seen = seen[:length], seen[length:]
                pdu = smpp34.decode(frame)
                if isinstance(pdu, smpp34.SubmitSm):
                    self.submits.append(pdu)
                self.heard.append((pdu.command_id, pdu.sequence_number))
                if pdu.command_id == QUERY_SM:
                    self.queries.append(pdu.body)
                    if self.answer_query is not None:
                        self._answer_query(line, pdu)
                        continue
                back.write(frame)

    def _answer_query(self, line, pdu):
        """Answer in the server's place: it knows no fates and says so of every text."""
        answer = self.answer_query(pdu.body)
        if answer is not None and not line["silent"]:
            status, body = answer
            head = (16 + len(body), QUERY_SM | 0x80000000, status, pdu.sequence_number)
            line["writer"].write(struct.pack(">LLLL", *head) + body)


def _free_port():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        return taken.getsockname()[1]
