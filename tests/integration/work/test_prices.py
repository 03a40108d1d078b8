"""What a text costs by each route, from its segments there."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from scripted_gateway import ScriptedGateway
from season_cast import a_programme

from gateways.protocol import Abilities
from reminder_service.texts.alphabets import DEFAULT, SHIFT_TABLES
from reminder_service.work.prices import Price, price, prices, savings, tables_of
from reminder_service.work.routes import Route

# Nothing here depends on the engine: one is enough, and fast.
pytestmark = pytest.mark.parametrize("engine_name", ["sqlite"], indirect=True)

CHAT = Abilities(client_reference=False, receipts=False, inbound=False, segmented=False)
PAID = Route(name="paid", gateway="scripted", cost_per_segment="0.010")
TABLES = Route(
    name="tables", gateway="scripted", cost_per_segment="0.015", shift_tables="portuguese"
)
BY_CHAT = Route(name="chat", gateway="scripted", cost_per_segment="0.004")


@pytest.fixture
def services(engine):
    made = a_programme(engine, datetime(2026, 11, 25, 12, tzinfo=UTC)).services
    gateways = {
        "paid": ScriptedGateway(),
        "tables": ScriptedGateway(),
        "chat": ScriptedGateway(abilities=CHAT),
    }
    return replace(made, routes=(PAID, TABLES, BY_CHAT), gateways=gateways)


def test_a_text_is_priced_by_its_segments_on_each_route(services):
    assert prices(services, "ã" * 140) == [
        Price("paid", 3, 30),  # UCS-2
        Price("tables", 1, 15),
        Price("chat", 1, 4),
    ]


def test_an_empty_text_costs_nothing_where_segments_count(services):
    assert price(services, PAID, "") == Price("paid", 0, 0)


def test_a_route_has_the_tables_that_its_carrier_sends_by(services):
    found = [tables_of(services, route) for route in services.routes]
    assert found == [DEFAULT, SHIFT_TABLES["portuguese"], None]


def test_the_saving_is_told_by_route(services):
    before, after = prices(services, "ã" * 140), prices(services, "a" * 140)
    assert savings(before, after) == [
        Price("paid", 2, 20),
        Price("tables", 0, 0),
        Price("chat", 0, 0),
    ]
