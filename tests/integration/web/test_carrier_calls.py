"""Calls by carriers: kept before they are answered, refused when forged, bounded in size."""

from dataclasses import replace

import pytest
from page_cast import NOW
from scripted_gateway import ScriptedGateway

from gateways.errors import Forged, TryLater, Unreadable
from gateways.protocol import Callback, Incoming, Receipt, ReceiptState
from reminder_service.records import tables
from reminder_service.web.app import create_app
from reminder_service.work.routes import Route

pytestmark = pytest.mark.parametrize("engine_name", ["sqlite"], indirect=True)


class Carrier(ScriptedGateway):
    """A gateway whose carrier calls us; its answers to a call are set by the test."""

    def __init__(self) -> None:
        super().__init__(name="carrier")
        self.calls: list[Callback] = []
        self.brings: list | Exception = []

    def events(self, callback: Callback):
        self.calls.append(callback)
        if isinstance(self.brings, Exception):
            raise self.brings
        return self.brings


@pytest.fixture
def carrier(app) -> Carrier:
    return Carrier()


@pytest.fixture
def client(app, carrier):
    services = app.extensions["reminder_service"]
    routes = (Route(name="carrier", gateway="carrier"), *services.routes)
    gateways = {"carrier": carrier, **services.gateways}
    return create_app(replace(services, gateways=gateways, routes=routes)).test_client()


def rows(engine, name: str) -> list:
    with engine.connect() as c:
        return c.execute(tables.metadata.tables[name].select()).all()


def test_what_a_call_brings_is_kept_when_it_is_answered(client, carrier, cast):
    carrier.brings = [
        Incoming("m-9", "+447700900001", b"GERM 21/11", NOW),
        Receipt("c-9", None, ReceiptState.DELIVERED, NOW),
    ]
    before = len(rows(cast, "inbound"))
    answer = client.post("/carrier/carrier?to=1", data=b"{}", headers={"X-Sign": "abc"})
    assert (answer.status_code, answer.data) == (204, b"")
    assert len(rows(cast, "inbound")) == before + 1
    assert [row.reference for row in rows(cast, "receipts")] == ["c-9"]
    (call,) = carrier.calls
    assert (call.method, call.query, call.body) == ("POST", "to=1", b"{}")
    assert call.headers["x-sign"] == "abc"


@pytest.mark.parametrize(
    "fault, status",
    [
        pytest.param(Forged("wrong signature"), 401, id="forged"),
        pytest.param(Unreadable("no JSON"), 400, id="unreadable"),
    ],
)
def test_a_call_that_is_not_the_carriers_keeps_nothing(client, carrier, cast, fault, status):
    carrier.brings = fault
    before = len(rows(cast, "inbound"))
    answer = client.post("/carrier/carrier")
    assert answer.status_code == status
    assert str(fault) not in answer.text
    assert (len(rows(cast, "inbound")), rows(cast, "receipts")) == (before, [])


@pytest.mark.parametrize("path", ["/carrier/nobody", "/carrier/scripted"])
def test_only_gateways_that_are_called_back_have_an_address(client, path):
    assert client.post(path).status_code == 404


def test_a_call_that_is_too_large_is_refused_unread(client, carrier):
    assert client.post("/carrier/carrier", data=b"x" * 70_000).status_code == 413
    assert carrier.calls == []


@pytest.mark.parametrize("method", ["HEAD", "PUT", "DELETE"])
def test_other_methods_are_refused(client, carrier, method):
    assert client.open("/carrier/carrier", method=method).status_code == 405
    assert carrier.calls == []


def test_routes_show_how_they_fare(lead, coordinator):
    assert "no trouble on record" in lead.client.get("/routes").text
    assert "Send a test text" not in coordinator.client.get("/routes").text


def test_a_lead_sends_a_test_text_and_it_is_on_record(app, lead, cast):
    answer = lead.send("/routes", "/routes/scripted/test", number="+447700900001")
    assert "taken under" in answer.text
    gateway = app.extensions["reminder_service"].gateways["scripted"]
    assert [message.to for message in gateway.offered] == ["+447700900001"]
    assert rows(cast, "audit")[-1].what == "test text"


def test_a_test_text_that_is_not_taken_says_why(app, lead):
    app.extensions["reminder_service"].gateways["scripted"]._answers.append(TryLater("no credit"))
    assert "no credit" in lead.send("/routes", "/routes/scripted/test", number="+447700900001").text
    assert "no phone number" in lead.send("/routes", "/routes/scripted/test", number="me").text


def test_only_a_lead_sends_test_texts(coordinator):
    answer = coordinator.send("/routes", "/routes/scripted/test", number="+447700900001")
    assert answer.status_code == 403
