"""The Routes page: how each route stands, what is left of the money, and the test text."""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest
from page_cast import AUDITOR, COORDINATOR, LEAD, NOW, PASSWORD, Visitor, statements
from scripted_gateway import NO_PROMISES, ScriptedGateway
from sqlalchemy import insert, select, update

from gateways.errors import Refused, TryLater, Unsure
from reminder_service.records import tables as t
from reminder_service.rules.shipped import shipped_rulebook
from reminder_service.settings import Settings
from reminder_service.web.app import create_app
from reminder_service.work.money import Budget
from reminder_service.work.routes import Route
from reminder_service.work.services import Services

# The statements are tested on both engines with the records: one is enough here, and fast.
pytestmark = pytest.mark.parametrize("engine_name", ["sqlite"], indirect=True)

NAUGHTY = "<script>alert('x')</script>"
MAIN = Route(
    name="main",
    gateway="scripted",
    per_day=100,
    per_second=5,
    prefixes=("+44",),
    order=2,
    weight=3,
    cost_per_segment=Decimal("0.015"),
)
CHAT = Route(name="chat", gateway="scripted", cost_per_segment=Decimal("0.2"))


@pytest.fixture
def main() -> ScriptedGateway:
    return ScriptedGateway(abilities=replace(NO_PROMISES, receipts=True))


@pytest.fixture
def services(cast, clock, main) -> Services:
    """A route that costs by the segment and one by the text, and a budget for both."""
    settings = Settings(
        secret_key="s" * 40, routes="routes.toml", database_url="sqlite:///unused.sqlite3"
    )
    chat = ScriptedGateway(abilities=replace(NO_PROMISES, segmented=False))
    budget = Budget(currency="ZMW", per_day=Decimal(10), per_season=Decimal(1000))
    gateways = {"main": main, "chat": chat}
    return Services(cast, settings, shipped_rulebook(), clock, gateways, (MAIN, CHAT), budget)


@pytest.fixture
def as_(services) -> Callable[[str], Visitor]:
    """Log somebody in where these routes are."""

    def log_in(login: str, services: Services = services) -> Visitor:
        visitor = Visitor(create_app(services).test_client())
        visitor.send("/login", "/login", login=login, password=PASSWORD)
        return visitor

    return log_in


@pytest.fixture
def lead(as_) -> Visitor:
    return as_(LEAD)


def a_try(engine, outcome="taken", state=None, ago=timedelta(hours=1), route="main", **fields):
    with engine.begin() as c:
        at = NOW - ago
        known = {"gateway": route, "client_reference": "r", "started_at": at, "outcome": outcome}
        tried = insert(t.attempts).values(**known, ended_at=at + timedelta(seconds=2), **fields)
        attempt_id = c.execute(tried.returning(t.attempts.c.id)).scalar_one()
        if state is not None:
            stands = {"state": state, "attempt_id": attempt_id}
            c.execute(update(t.notices).where(t.notices.c.id == 1).values(stands))


def spent(engine):
    with engine.connect() as c:
        return [tuple(row) for row in c.execute(select(t.spending.c["route", "texts", "cost"]))]


def words(page: str) -> str:
    """A page's text with its line ends and spaces evened out."""
    return " ".join(page.split())


def test_a_route_tells_what_it_serves_carries_and_costs(lead):
    text = words(lead.see("/routes"))
    assert "serves +44 · order 2 · weight 3 · at most 5 a second · at most 100 a day" in text
    assert "ZMW 0.015 a segment" in text
    assert "serves everybody · ZMW 0.20 a text" in text


def test_a_route_tells_what_is_left_of_its_day(lead, cast):
    with cast.begin() as c:
        known = {"next_at": NOW, "day": NOW.date(), "failures": 0}
        c.execute(insert(t.route_health).values(route="main", **known, texts_that_day=37))
        given = {"texts": 37, "segments": 40, "cost": 600}
        c.execute(insert(t.spending).values(day=NOW.date(), route="main", **given))
    text = lead.see("/routes")
    assert "at most 100 a day, 63 of them left today · 37 given today for ZMW 0.60" in text


def test_trouble_stands_out_with_what_happens_then(lead, cast):
    rests = {"failures": 5, "rests_until": NOW + timedelta(minutes=2), "reason": "throttled"}
    with cast.begin() as c:
        known = {"next_at": NOW, "day": NOW.date(), "texts_that_day": 0}
        c.execute(insert(t.route_health).values(route="main", **known, **rests))
    text = lead.see("/routes")
    assert "<strong>Rests until Sun 6 Dec, 09:02 UTC after 5 failures in a row: throttled." in text
    assert text.count("Well: no trouble on record.") == 1


def test_figures_of_a_day_and_a_week_stand_beside_each_other(lead, cast):
    a_try(cast, "taken", "delivered")
    a_try(cast, "later", ago=timedelta(days=3))
    text = lead.see("/routes")
    assert '<th scope="row">tried</th><td>1</td><td>2</td>' in text
    assert '<th scope="row">put off</th><td>0</td><td>1</td>' in text
    assert '<th scope="row">delivered</th><td>1</td><td>1</td>' in text
    assert '<th scope="row">none yet</th>' not in text
    assert "half of them within 2.0 s, 95 of 100 within 2.0 s" in text


def test_a_week_is_drawn_with_words_for_those_who_do_not_see_it(lead, cast):
    a_try(cast, "taken", "delivered")
    text = lead.see("/routes")
    assert 'role="img" aria-labelledby="week-main words-main"' in text
    assert "Sun 6 Dec: 1 tried, 1 delivered.</desc>" in text
    assert 'class="part arrived"' in text and text.count('class="week"') == 1


def test_a_route_without_texts_says_what_to_do(as_, lead):
    assert lead.see("/routes").count("Send a test text below to see whether it works") == 2
    assert "Send a test text" not in as_(COORDINATOR).see("/routes")
    assert "No text went by this route" in as_(COORDINATOR).see("/routes")


def test_a_carrier_without_receipts_is_said_to_have_none(lead, cast):
    a_try(cast, route="main")
    assert "sends no receipts" not in lead.see("/routes")
    a_try(cast, route="chat")
    assert lead.see("/routes").count("sends no receipts") == 1


def test_the_last_reasons_are_told_without_numbers_of_phones(lead, cast):
    a_try(cast, "refused", reason="+447700900123 is no mobile number")
    a_try(cast, "later", reason=NAUGHTY, ago=timedelta(hours=2))
    text = words(lead.see("/routes"))
    assert '<strong>1</strong> refused: <span class="words">… is no mobile number</span>' in text
    assert "+447700900123" not in text and "<script" not in text


def test_receipts_of_no_known_text_are_told_with_what_to_ask(lead, cast):
    assert "named no text" not in lead.see("/routes")
    receipt = {"reference": "x", "state": "delivered", "at": NOW, "reason": "", "received_at": NOW}
    with cast.begin() as c:
        c.execute(insert(t.receipts).values(gateway="main", **receipt))
    assert "1 receipt of the last 7 days named no text" in lead.see("/routes")


def test_the_money_that_is_left_is_told_by_day_and_season(lead, cast):
    with cast.begin() as c:
        given = {"texts": 1, "segments": 1, "route": "main"}
        c.execute(insert(t.spending).values(day=NOW.date(), cost=2_500, **given))
        yesterday = NOW.date() - timedelta(days=1)
        c.execute(insert(t.spending).values(day=yesterday, cost=100_000, **given))
    text = lead.see("/routes")
    assert 'data-head="Left"><strong>7.50</strong>' in text
    assert 'data-head="Left for other texts">5.50' in text
    assert "This season, since Thu 1 Oct 2026" in text and "<strong>897.50</strong>" in text


@pytest.mark.parametrize(
    ("routes", "advice"),
    [("routes.toml", "into the routes file"), (None, "Name a routes file")],
    ids=["with a routes file", "without"],
)
def test_without_a_budget_the_page_says_how_to_set_one(as_, services, routes, advice):
    settings = services.settings.model_copy(update={"routes": routes})
    text = as_(LEAD, replace(services, budget=None, settings=settings)).see("/routes")
    assert "No budget is set" in text and advice in words(text)


def test_a_test_text_names_its_cost_before_and_is_counted_after(lead, cast, main):
    text = lead.see("/routes")
    assert "Costs 1 segment, ZMW 0.015." in text and "Costs 1 text, ZMW 0.20." in text
    lead.send("/routes", "/routes/main/test", number="+447700900001")
    assert len(main.offered) == 1 and spent(cast) == [("main", 1, 15)]


@pytest.mark.parametrize(
    ("answer", "counted"),
    [
        pytest.param(Refused("barred"), [], id="refused"),
        pytest.param(TryLater("busy"), [], id="put off"),
        pytest.param(Unsure("timed out"), [("main", 1, 15)], id="unsure"),
    ],
)
def test_only_a_test_text_that_may_have_gone_is_counted(as_, services, cast, answer, counted):
    gateways = {**services.gateways, "main": ScriptedGateway([answer])}
    lead = as_(LEAD, replace(services, gateways=gateways))
    told = lead.send("/routes", "/routes/main/test", number="+447700900001").text
    assert "not taken" in told and spent(cast) == counted


@pytest.mark.parametrize("login", [COORDINATOR, AUDITOR])
def test_who_is_no_lead_reads_but_sends_nothing(as_, login, cast):
    visitor = as_(login)
    assert "Send by main" not in visitor.see("/routes")
    answer = visitor.send("/routes", "/routes/main/test", number="+447700900001")
    assert answer.status_code == 403 and spent(cast) == []


def test_the_page_is_light_and_runs_nothing(lead, cast):
    for hour in range(100):
        a_try(cast, "later", ago=timedelta(hours=hour), reason=f"busy {'b' * hour}")
    text = lead.see("/routes")
    with lead.client.get("/static/page.css") as style:
        assert len(text.encode()) + len(style.data) < 100_000
    assert "<script" not in text and " style=" not in text and " onclick" not in text


@pytest.mark.parametrize("more", [0, 50], ids=["few tries", "many tries"])
def test_statements_do_not_grow_with_tries(lead, cast, more):
    for minute in range(more):
        a_try(cast, "refused", ago=timedelta(minutes=minute), reason="barred")
    with statements(cast) as seen:
        lead.see("/routes")
    assert len(seen) <= 12
