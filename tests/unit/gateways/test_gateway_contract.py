"""The gateways that keep to the contract."""

import io
import json
from urllib.parse import parse_qsl, urlsplit

import pytest
from chat_phone import ChatPhone
from http_batch_carrier import BatchCarrier, batch_of
from http_carrier import HttpCarrier, Reply, http_profile
from modem_on_pty import PlayedModem
from own_prosody import OwnProsody, needs_prosody
from scripted_gateway import ScriptedGateway
from smpp_carrier import SmppCarrier

from gateways.chat.gateway import ChatGateway
from gateways.console.gateway import ConsoleGateway
from gateways.contract import Bench, GatewayContract
from gateways.http.gateway import HttpGateway
from gateways.modem.gateway import ModemGateway
from gateways.smpp.gateway import SmppGateway


def console_bench(_folder):
    gateway = ConsoleGateway(io.StringIO())
    return Bench(gateway, lambda: [(each.to, each.body) for each in gateway.sent])


def recording_console_bench(folder):
    record = folder / "record.jsonl"

    def arrived():
        lines = [json.loads(line) for line in record.read_text().splitlines()]
        return [(line["to"], line["body"]) for line in lines]

    return Bench(ConsoleGateway(io.StringIO(), record), arrived)


def scripted_bench(_folder):
    gateway = ScriptedGateway()
    return Bench(gateway, lambda: [(each.to, each.body) for each in gateway.offered])


class TestConsole(GatewayContract):
    bench = staticmethod(console_bench)


class TestRecordingConsole(GatewayContract):
    bench = staticmethod(recording_console_bench)


class TestScripted(GatewayContract):
    bench = staticmethod(scripted_bench)


class TestHttp(GatewayContract):
    @pytest.fixture
    def bench_here(self, tmp_path):
        with HttpCarrier() as carrier:
            gateway = HttpGateway(http_profile(carrier.address, tmp_path))

            def arrived():
                return [(each.json["number"], each.json["text"]) for each in carrier.taken.values()]

            yield Bench(gateway, arrived)
            gateway.close()


class HttpFates(BatchCarrier):
    """Takes several texts a call, says what became of one, and keeps receipts to be fetched."""

    def answer(self, request):
        if request.method != "GET":
            return super().answer(request)
        target = urlsplit(request.target)
        with self._lock:
            fates = [self._fate(reference) for reference in self.kept]
        if target.path == "/waiting":
            return Reply(body=json.dumps(fates).encode())
        asked = dict(parse_qsl(target.query)).get("ref")
        told = [fate for fate in fates if fate["ref"] == asked]
        return Reply(body=json.dumps(told[0]).encode()) if told else Reply(404)

    def _fate(self, reference):
        return {"id": self.id_of(reference), "ref": reference, "state": "done"}


FATE = {
    "reference": "id",
    "client_reference": "ref",
    "state": "state",
    "states": {"delivered": ["done"], "undelivered": ["gone"]},
}


class TestHttpWithAllAbilities(GatewayContract):
    @pytest.fixture
    def bench_here(self, tmp_path):
        with HttpFates() as carrier:
            host = f"http://127.0.0.1:{carrier.port}"
            asking = {
                "request": {"address": f"{host}/fates", "fields": {"ref": "{reference}"}},
                "answer": FATE | {"not_known": {"statuses": [404]}},
            }
            polling = [{"request": {"address": f"{host}/waiting"}, "receipts": FATE}]
            profile = http_profile(
                carrier.address, tmp_path, batch=batch_of(), asking=asking, polling=polling
            )
            gateway = HttpGateway(profile)
            yield Bench(gateway, lambda: carrier.arrived)
            gateway.close()


class TestModem(GatewayContract):
    @pytest.fixture
    def bench_here(self, tmp_path):
        modem = PlayedModem(tmp_path)
        gateway = ModemGateway.from_options(
            {"port": str(modem.port), "record": str(tmp_path / "parts.sqlite3")}
        )
        yield Bench(gateway, lambda: modem.arrived)
        gateway.close()
        modem.unplug()


@pytest.fixture(scope="module")
def chat_server(tmp_path_factory):
    server = OwnProsody(tmp_path_factory.mktemp("prosody"))
    yield server
    server.stop()


@needs_prosody
class TestChat(GatewayContract):
    @pytest.fixture
    def bench_here(self, chat_server, tmp_path):
        phone = ChatPhone(chat_server)
        gateway = ChatGateway.from_options(chat_server.options(tmp_path))
        yield Bench(gateway, phone.arrived)
        gateway.close()
        phone.close()


@pytest.fixture(scope="module")
def smpp_carrier():
    carrier = SmppCarrier()
    yield carrier
    carrier.stop()


class TestSmpp(GatewayContract):
    long_texts = "udh"

    @pytest.fixture
    def bench_here(self, smpp_carrier, tmp_path):
        smpp_carrier.submits.clear()
        options = smpp_carrier.options(tmp_path, long_texts=self.long_texts)
        gateway = SmppGateway.from_options(options)
        yield Bench(gateway, smpp_carrier.arrived)
        gateway.close()


class TestSmppByPayload(TestSmpp):
    long_texts = "payload"


class TestSmppThatIsAsked(GatewayContract):
    @pytest.fixture
    def bench_here(self, smpp_carrier, tmp_path):
        smpp_carrier.submits.clear()
        first = int(next(smpp_carrier.ids))
        smpp_carrier.answer_query = lambda query: _smpp_fate(query, first)
        gateway = SmppGateway.from_options(smpp_carrier.options(tmp_path, asking="true"))
        yield Bench(gateway, smpp_carrier.arrived)
        gateway.close()
        smpp_carrier.answer_query = None


def _smpp_fate(query, first):
    """Delivered, if the id is one that the carrier has given since the first."""
    message_id = query.split(b"\0")[0]
    known = message_id.isdigit() and int(message_id) > first
    return (0, message_id + b"\0\0\2\0") if known else (0x0C, b"")
