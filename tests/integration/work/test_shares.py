"""Routes that serve alike share the texts, by weight or by cost: on both engines."""

import json
from collections import Counter
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from scripted_gateway import ScriptedGateway
from season_cast import AMINA, a_programme

from gateways.errors import TryLater
from reminder_service.kinds import PhoneNumber, Stage
from reminder_service.records.engine import writing
from reminder_service.records.queue import ClaimedNotice
from reminder_service.settings import Settings
from reminder_service.work.bundles import Bundle
from reminder_service.work.routes import Choose, Route
from reminder_service.work.routing import note_route, routed
from reminder_service.work.services import make_services

NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)
HEAVY = Route(name="heavy", gateway="scripted", weight=3, cost_per_segment="0.02")
LIGHT = Route(name="light", gateway="scripted", cost_per_segment="0.01")


def services_with(engine, *routes: Route, choose=Choose.WEIGHT):
    gateways = {route.name: ScriptedGateway() for route in routes}
    known = a_programme(engine, NOW).services
    return replace(known, routes=routes, gateways=gateways, choose=choose)


def texts(many: int, tries: int = 1) -> list[Bundle]:
    return [a_text(n, tries) for n in range(many)]


def a_text(number: int, tries: int) -> Bundle:
    notice = ClaimedNotice(
        id=number,
        phone_id=1,
        number=PhoneNumber(AMINA),
        body="Thin now",
        segments=1,
        stage=Stage.OPENS,
        importance=2,
        send_at=NOW,
        expires_at=NOW + timedelta(days=2),
        tries=tries,
        zone=None,
        attempt_id=None,
        client_reference=None,
    )
    return Bundle((notice,), notice.body, f"reference-{number}")


def ways(services, made) -> dict[str, str]:
    with writing(services.engine) as c:
        letters, _, _ = routed(c, services, made, NOW)
    return {letter.bundle.reference: letter.route for letter in letters}


def test_texts_are_shared_by_weight(engine):
    shares = Counter(ways(services_with(engine, HEAVY, LIGHT), texts(400)).values())
    assert shares["heavy"] == pytest.approx(300, abs=45)
    assert shares["light"] == 400 - shares["heavy"]


def test_a_text_goes_the_same_way_again(engine):
    services = services_with(engine, HEAVY, LIGHT)
    assert ways(services, texts(50)) == ways(services, reversed(texts(50)))


def test_a_further_try_goes_by_another_route(engine):
    services = services_with(engine, HEAVY, LIGHT)
    first, second = ways(services, texts(50)), ways(services, texts(50, tries=2))
    assert all(first[text] != second[text] for text in first)


def test_the_texts_of_a_route_that_rests_go_by_the_others(engine):
    services = services_with(engine, HEAVY, LIGHT)
    with writing(engine) as c:
        for _ in range(5):
            note_route(c, services, "heavy", NOW, str(TryLater("down", 1)))
    assert set(ways(services, texts(50)).values()) == {"light"}


def test_the_cheapest_route_carries_all_when_cost_decides(engine):
    services = services_with(engine, HEAVY, LIGHT, choose=Choose.COST)
    assert set(ways(services, texts(50)).values()) == {"light"}


def test_a_letter_knows_what_the_budget_asks(engine):
    services = services_with(engine, HEAVY)
    important, reply = a_text(1, 1).notices[0], a_text(2, 1).notices[0]
    made = [
        Bundle((replace(important, importance=4), important), "two", "reference-1"),
        Bundle((replace(reply, stage=Stage.REPLY, importance=1),), "one", "reference-2"),
    ]
    with writing(engine) as c:
        letters, _, _ = routed(c, services, made, NOW)
    assert [(letter.importance, letter.is_reply) for letter in letters] == [(2, False), (1, True)]


def test_services_are_made_with_what_the_routes_file_says(tmp_path):
    path = tmp_path / "routes.toml"
    path.write_text(
        'choose = "cost"\n'
        '[[routes]]\nname = "a"\ngateway = "console"\ncost_per_segment = 0.03\n'
        f"options = {{ record = {json.dumps(str(tmp_path / 'sent.jsonl'))} }}\n"
        '[budget]\ncurrency = "ZMW"\nper_season = 5000\n'
    )
    settings = Settings(database_url=f"sqlite:///{tmp_path / 'a.sqlite3'}", routes=str(path))
    services = make_services(settings)
    try:
        assert services.budget is not None and services.budget.currency == "ZMW"
        assert services.choose is Choose.COST
        assert [route.segment_cost for route in services.routes] == [30]
    finally:
        services.gateways["a"].close()
        services.engine.dispose()
