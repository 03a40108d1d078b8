"""Which route serves a text, and what is wrong with a routes file."""

from collections import Counter
from math import sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reminder_service.settings import Settings
from reminder_service.texts.alphabets import DEFAULT, SHIFT_TABLES
from reminder_service.work.routes import (
    BadRoutes,
    Choose,
    Route,
    parsed_routes_file,
    routes_file,
    serving,
)

NUMBER = "+447700900001"
TEXTS = [f"text-{n}" for n in range(1500)]


def names(routes, number=NUMBER, ward="Olmara", language="en", **how) -> list[str]:
    return [route.name for route in serving(routes, number, ward, language, **how)]


def a_route(name: str, **fields) -> Route:
    return Route(name=name, gateway="console", **fields)


def test_a_route_without_bounds_serves_everybody():
    assert names([a_route("all")], ward=None, language=None) == ["all"]


@pytest.mark.parametrize(
    "fields, serves",
    [
        pytest.param({"prefixes": ["+4477"]}, True, id="its prefix"),
        pytest.param({"prefixes": ["+260"]}, False, id="another prefix"),
        pytest.param({"wards": ["Olmara"]}, True, id="its ward"),
        pytest.param({"wards": ["Setiwe"]}, False, id="another ward"),
        pytest.param({"languages": ["en"]}, True, id="its language"),
        pytest.param({"languages": ["sw"]}, False, id="another language"),
    ],
)
def test_bounds_are_kept(fields, serves):
    assert names([a_route("some", **fields)]) == (["some"] if serves else [])


def test_what_is_made_for_the_text_goes_first_then_the_order():
    routes = [
        a_route("late", order=2),
        a_route("soon"),
        a_route("ward", wards=["Olmara"], order=9),
        a_route("short", prefixes=["+44"]),
        a_route("long", prefixes=["+447700"], order=9),
    ]
    assert names(routes) == ["long", "short", "ward", "soon", "late"]


WEIGHTS = st.lists(st.integers(1, 1000), min_size=2, max_size=4)


def weighted(weights) -> list[Route]:
    return [a_route(f"r{place}", weight=weight) for place, weight in enumerate(weights)]


@given(WEIGHTS)
def test_shares_follow_the_weights(weights):
    routes = weighted(weights)
    carried = Counter(names(routes, reference=text)[0] for text in TEXTS)
    for route in routes:
        share = route.weight / sum(weights)
        # Six standard deviations of the binomial: chance alone never gets there.
        bound = 6 * sqrt(len(TEXTS) * share * (1 - share)) + 1
        assert abs(carried[route.name] - share * len(TEXTS)) <= bound


@given(WEIGHTS, st.text(), st.randoms())
def test_a_text_always_goes_the_same_way(weights, text, chance):
    routes = weighted(weights)
    shuffled = list(routes)
    chance.shuffle(shuffled)
    assert names(routes, reference=text) == names(shuffled, reference=text)


@given(WEIGHTS, st.text())
def test_when_a_route_is_out_only_its_own_texts_move(weights, text):
    routes = weighted(weights)
    ranked = names(routes, reference=text)
    without_first = [route for route in routes if route.name != ranked[0]]
    without_last = [route for route in routes if route.name != ranked[-1]]
    assert names(without_first, reference=text) == ranked[1:]
    assert names(without_last, reference=text)[:1] == ranked[:1]


def test_failover_spreads_the_texts_over_all_others():
    routes = weighted([5, 1, 1])
    second = {names(routes, reference=text)[1] for text in TEXTS[:100]}
    assert second == {"r0", "r1", "r2"}


def test_weight_never_goes_before_order_or_what_is_made_for_the_text():
    routes = [
        a_route("heavy", weight=1000),
        a_route("late", order=2, weight=1000),
        a_route("ours", prefixes=["+4477"]),
    ]
    ranked = {tuple(names(routes, reference=text)) for text in TEXTS[:100]}
    assert ranked == {("ours", "heavy", "late")}


def test_without_a_text_the_heavier_route_stands_first():
    assert names(weighted([1, 3, 3])) == ["r1", "r2", "r0"]


def test_cost_puts_the_cheapest_of_one_order_first():
    routes = [
        a_route("dear", cost_per_segment="0.9", weight=1000),
        a_route("cheap", cost_per_segment="0.035"),
        a_route("gift", order=2),
    ]
    for text in TEXTS[:50]:
        assert names(routes, reference=text, choose=Choose.COST) == ["cheap", "dear", "gift"]


def test_equal_costs_are_shared_by_weight():
    routes = [a_route("a", cost_per_segment=1), a_route("b", cost_per_segment=1)]
    first = Counter(names(routes, reference=text, choose=Choose.COST)[0] for text in TEXTS)
    assert min(first["a"], first["b"]) > len(TEXTS) / 3


@pytest.mark.parametrize(
    "given_as, thousandths",
    [
        pytest.param(0, 0, id="free"),
        pytest.param(0.035, 35, id="a TOML float"),
        pytest.param("12.5", 12_500, id="a text"),
        pytest.param(10_000, 10_000_000, id="the dearest"),
    ],
)
def test_costs_are_exact(given_as, thousandths):
    assert a_route("paid", cost_per_segment=given_as).segment_cost == thousandths


PAID = '[[routes]]\nname = "a"\ngateway = "console"\ncost_per_segment = 0.035\n'


@pytest.mark.parametrize("name", ["portuguese", "portuguese-single"])
def test_a_route_names_the_tables_of_its_carrier(name):
    text = f'[[routes]]\nname = "some"\ngateway = "http"\nshift_tables = "{name}"\n'
    assert parsed_routes_file(text).routes[0].tables == SHIFT_TABLES[name]


def test_a_route_has_no_national_tables_as_shipped():
    assert a_route("some").tables == DEFAULT


def test_tables_that_nobody_has_are_refused():
    text = '[[routes]]\nname = "some"\ngateway = "http"\nshift_tables = "turkish"\n'
    with pytest.raises(BadRoutes, match=r"shift_tables is 'turkish'.*'portuguese-single'"):
        parsed_routes_file(text)


def test_a_routes_file_holds_the_budget():
    found = parsed_routes_file(
        f'choose = "cost"\n{PAID}[budget]\ncurrency = "ZMW"\nper_day = 250.5\n'
    )
    assert found.choose is Choose.COST
    assert found.budget.currency == "ZMW"
    assert list(found.budget.limits()) == [("per_day", 250_500, 50_100)]


@pytest.mark.parametrize(
    "budget, named",
    [
        pytest.param('currency = "kwacha"\nper_day = 1', "budget.currency", id="currency"),
        pytest.param('currency = "ZMW"\nper_day = 0', "budget.per_day", id="nothing a day"),
        pytest.param('currency = "ZMW"\nper_day = 0.0001', "3 decimal", id="too fine"),
        pytest.param('currency = "ZMW"', "give per_day, per_season or both", id="no limit"),
        pytest.param(
            'currency = "ZMW"\nper_day = 1\nkept_for_important = 0.95',
            "budget.kept_for_important",
            id="too much kept",
        ),
        pytest.param(
            'currency = "ZMW"\nper_day = 1\nimportant_from = 0', "important_from", id="importance"
        ),
        pytest.param('currency = "ZMW"\nper_year = 1', "budget.per_year", id="unknown limit"),
    ],
)
def test_a_budget_that_cannot_be_used_says_why(budget, named):
    with pytest.raises(BadRoutes, match=named):
        parsed_routes_file(f"{PAID}[budget]\n{budget}\n")


def test_a_budget_over_routes_that_cost_nothing_is_refused():
    free = PAID.replace("0.035", "0")
    with pytest.raises(BadRoutes, match="no route costs anything"):
        parsed_routes_file(f'{free}[budget]\ncurrency = "ZMW"\nper_day = 1\n')


def test_faults_of_routes_and_budget_are_named_together():
    with pytest.raises(BadRoutes) as refused:
        parsed_routes_file(
            f'choose = "luck"\n{PAID}weight = 0\n[budget]\ncurrency = "k"\nper_day = 1\n'
        )
    assert [fault.split(" ")[0] for fault in refused.value.faults] == [
        "routes.0.weight",
        "budget.currency",
        "choose",
    ]


def test_every_fault_of_a_routes_file_is_named():
    text = """
        [[routes]]
        name = "North"
        gateway = "console"
        per_second = 0
    """
    with pytest.raises(BadRoutes) as refused:
        parsed_routes_file(text)
    assert len(refused.value.faults) == 2
    assert "routes.0.name" in str(refused.value) and "routes.0.per_second" in str(refused.value)


@pytest.mark.parametrize(
    "text, named",
    [
        pytest.param("routes = []", "at least one", id="none"),
        pytest.param("[[routes", "end of document", id="no TOML"),
        pytest.param(
            '[[routes]]\nname="a"\ngateway="console"\n[[routes]]\nname="a"\ngateway="console"',
            "two routes are called 'a'",
            id="one name twice",
        ),
    ],
)
def test_a_routes_file_that_cannot_be_used_says_why(text, named):
    with pytest.raises(BadRoutes, match=named):
        parsed_routes_file(text)


def test_the_value_of_an_unknown_key_stays_hidden():
    with pytest.raises(BadRoutes) as refused:
        parsed_routes_file('[[routes]]\nname = "a"\ngateway = "http"\npassword = "maize"')
    assert "password" in str(refused.value) and "maize" not in str(refused.value)


def test_without_a_file_there_is_one_route_by_the_settings_gateway():
    found = routes_file(Settings(gateway="console", gateway_options={"record": "sent.jsonl"}))
    (route,) = found.routes
    assert (route.name, route.options) == ("console", {"record": "sent.jsonl"})
    assert found.budget is None


def test_a_file_that_is_not_there_is_named(tmp_path):
    with pytest.raises(BadRoutes, match=r"gone\.toml"):
        routes_file(Settings(routes=str(tmp_path / "gone.toml")))
