"""The figures for Prometheus: who may read them, and what they say."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from page_cast import LEAD, NOW, OLMARA, PASSWORD, Visitor, a_notice, an_inbound, statements
from prometheus_client.openmetrics.parser import (
    text_string_to_metric_families as openmetrics_families,
)
from prometheus_client.parser import text_string_to_metric_families
from scripted_gateway import ScriptedGateway
from sqlalchemy import insert, update

from reminder_service.records import tables as t
from reminder_service.rules.shipped import shipped_rulebook
from reminder_service.settings import Settings
from reminder_service.web.app import create_app
from reminder_service.work.money import Budget
from reminder_service.work.routes import Route
from reminder_service.work.services import Services

# The statements are tested on both engines with the records: one is enough here, and fast.
pytestmark = pytest.mark.parametrize("engine_name", ["sqlite"], indirect=True)

TOKEN = "figures" * 6
BEARER = {"Authorization": f"Bearer {TOKEN}"}
MAIN, SPARE = (
    Route(name="main", gateway="scripted", per_day=100, cost_per_segment=Decimal("0.015")),
    Route(name="spare", gateway="scripted"),
)


@pytest.fixture
def services(cast, clock) -> Services:
    """Two routes with a budget, over the cast of the pages."""
    settings = Settings(
        secret_key="s" * 40, metrics_token=TOKEN, database_url="sqlite:///unused.sqlite3"
    )
    gateways = {"main": ScriptedGateway(), "spare": ScriptedGateway()}
    budget = Budget(currency="ZMW", per_day=Decimal(10))
    rulebook = shipped_rulebook()
    return Services(cast, settings, rulebook, clock, gateways, (MAIN, SPARE), budget)


@pytest.fixture
def prometheus(services):
    """A client that knows no login."""
    return create_app(services).test_client()


def samples(client) -> dict[tuple[str, ...], float]:
    """All figures, by name and the values of their labels, which stand in order of their names."""
    answer = client.get("/metrics", headers=BEARER)
    assert answer.status_code == 200
    return {
        (sample.name.removeprefix("reminder_"), *sample.labels.values()): sample.value
        for family in text_string_to_metric_families(answer.text)
        for sample in family.samples
    }


def test_without_a_token_set_there_are_no_figures(services):
    bare = replace(services, settings=Settings(secret_key="s" * 40))
    assert create_app(bare).test_client().get("/metrics", headers=BEARER).status_code == 404


@pytest.mark.parametrize(
    "headers",
    [
        pytest.param({}, id="none"),
        pytest.param({"Authorization": "Bearer "}, id="an empty token"),
        pytest.param({"Authorization": f"Bearer {TOKEN}x"}, id="another token"),
        pytest.param({"Authorization": "Bearer \N{LATIN SMALL LETTER E WITH ACUTE}"}, id="letters"),
        pytest.param({"Authorization": f"Basic {TOKEN}"}, id="another scheme"),
        pytest.param({"Authorization": "Basic Om5v"}, id="name and password"),
    ],
)
def test_whoever_brings_no_right_token_is_sent_away(prometheus, headers):
    answer = prometheus.get("/metrics", headers=headers)
    assert answer.status_code == 401
    assert answer.headers["WWW-Authenticate"].startswith("Bearer")
    assert "reminder_notices" not in answer.text and TOKEN not in answer.text


def test_a_login_is_no_token(services):
    visitor = Visitor(create_app(services).test_client())
    visitor.send("/login", "/login", login=LEAD, password=PASSWORD)
    assert visitor.client.get("/metrics").status_code == 401


def test_figures_are_well_formed_and_named_alike(prometheus):
    answer = prometheus.get("/metrics", headers=BEARER)
    families = list(text_string_to_metric_families(answer.text))
    assert answer.content_type.startswith("text/plain; version=")
    assert len(families) >= 14
    for family in families:
        assert family.name.startswith("reminder_"), family.name
        assert family.documentation.endswith("."), family.name
        assert family.type == "gauge", family.name


def test_figures_are_well_formed_as_open_metrics(prometheus):
    accept = {"Accept": "application/openmetrics-text; version=1.0.0"}
    answer = prometheus.get("/metrics", headers=BEARER | accept)
    assert answer.content_type.startswith("application/openmetrics-text")
    assert "reminder_notices" in {family.name for family in openmetrics_families(answer.text)}


def test_figures_are_not_stored_on_the_way(prometheus):
    headers = prometheus.get("/metrics", headers=BEARER).headers
    assert headers["Cache-Control"] == "no-store" and "Set-Cookie" not in headers


def test_routes_tell_their_health(prometheus, cast):
    known = {"next_at": NOW, "day": NOW.date()}
    rests = {"failures": 5, "rests_until": NOW + timedelta(minutes=1), "texts_that_day": 40}
    with cast.begin() as c:
        c.execute(insert(t.route_health).values(route="main", **known, **rests))
    told = samples(prometheus)
    assert (told["route_resting", "main"], told["route_resting", "spare"]) == (1, 0)
    assert told["route_failures_in_a_row", "main"] == 5
    assert told["route_texts_left_today", "main"] == 60
    assert ("route_texts_left_today", "spare") not in told


def test_a_rest_that_is_over_is_none(prometheus, cast):
    known = {"next_at": NOW, "day": date(2026, 12, 5), "texts_that_day": 100}
    with cast.begin() as c:
        c.execute(insert(t.route_health).values(route="main", **known, failures=5, rests_until=NOW))
    told = samples(prometheus)
    assert told["route_resting", "main"] == 0
    assert told["route_texts_left_today", "main"] == 100


def test_routes_tell_what_they_were_given_and_what_it_cost(prometheus, cast):
    given = {"texts": 2, "segments": 3, "cost": 2_500}
    with cast.begin() as c:
        c.execute(insert(t.spending).values(day=NOW.date(), route="main", **given))
    told = samples(prometheus)
    assert told["route_texts_today", "main"] == 2
    assert told["route_spent_today", "ZMW", "main"] == 2.5
    assert told["route_spent_today", "ZMW", "spare"] == 0
    assert told["budget_limit", "ZMW", "day"] == 10
    assert told["budget_left", "ZMW", "day"] == 7.5
    assert ("budget_left", "ZMW", "season") not in told


def test_without_a_budget_there_is_no_limit_to_tell(services):
    told = samples(create_app(replace(services, budget=None)).test_client())
    assert not [name for name, *_ in told if name.startswith("budget")]
    assert told["route_spent_today", "", "main"] == 0


def test_tries_are_told_by_answer_and_by_fate(prometheus, cast):
    tried = {"gateway": "main", "client_reference": "r", "started_at": NOW - timedelta(hours=1)}
    with cast.begin() as c:
        for outcome, seconds in (("taken", 2), ("later", 4)):
            ended_at = tried["started_at"] + timedelta(seconds=seconds)
            c.execute(insert(t.attempts).values(**tried, outcome=outcome, ended_at=ended_at))
        c.execute(insert(t.attempts).values(**tried))
    told = samples(prometheus)
    assert told["route_attempts_last_24h", "taken", "main"] == 1
    assert told["route_attempts_last_24h", "under way", "main"] == 1
    assert told["route_attempts_last_24h", "taken", "spare"] == 0
    assert told["route_texts_last_24h", "tried again", "main"] == 1
    assert told["route_texts_last_24h", "no word yet", "main"] == 1
    assert told["route_hand_over_median_seconds", "main"] == 2
    assert told["route_hand_over_p95_seconds", "main"] == 4
    assert ("route_hand_over_median_seconds", "spare") not in told


def test_receipts_of_no_known_text_are_told(prometheus, cast):
    told = {"reference": "x", "state": "delivered", "at": NOW, "reason": "", "received_at": NOW}
    with cast.begin() as c:
        c.execute(insert(t.receipts).values(gateway="spare", **told))
    assert samples(prometheus)["route_unmatched_receipts_last_7d", "spare"] == 1


def test_the_queue_tells_its_states_and_how_late_it_is(prometheus, cast):
    with cast.begin() as c:
        a_notice(c, 20, 1, OLMARA, "waiting", send_at=NOW - timedelta(minutes=3))
        an_inbound(c, 40, 1, b"rain")
        c.execute(update(t.inbound).where(t.inbound.c.id == 40).values(handled_at=None))
    told = samples(prometheus)
    assert told["notices", "planned"] == 3 and told["notices", "in doubt"] == 1
    assert told["notices", "expired"] == 0
    assert told["oldest_due_notice_lateness_seconds",] == 180
    assert told["inbound_unworked",] == 1


def test_a_queue_with_nothing_due_is_not_late(prometheus):
    assert samples(prometheus)["oldest_due_notice_lateness_seconds",] == 0


def test_ticks_tell_their_age_and_whether_they_failed(prometheus, cast):
    with cast.begin() as c:
        at = NOW - timedelta(seconds=30)
        c.execute(insert(t.ticks).values(name="sweep", started_at=at, error="it broke"))
    told = samples(prometheus)
    assert (told["tick_age_seconds", "sweep"], told["tick_failed", "sweep"]) == (30, 1)


@pytest.mark.parametrize("more", [0, 30])
def test_statements_do_not_grow_with_rows(prometheus, cast, more):
    with cast.begin() as c:
        for id_ in range(100, 100 + more):
            a_notice(c, id_, 1, OLMARA)
    with statements(cast) as seen:
        samples(prometheus)
    assert len(seen) <= 12
