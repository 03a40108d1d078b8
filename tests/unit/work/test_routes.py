"""Which route serves a text, and what is wrong with a routes file."""

import pytest

from reminder_service.settings import Settings
from reminder_service.work.routes import BadRoutes, Route, parsed_routes, routes_of, serving

NUMBER = "+447700900001"


def names(routes, number=NUMBER, ward="Olmara", language="en") -> list[str]:
    return [route.name for route in serving(routes, number, ward, language)]


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


def test_every_fault_of_a_routes_file_is_named():
    text = """
        [[routes]]
        name = "North"
        gateway = "console"
        per_second = 0
    """
    with pytest.raises(BadRoutes) as refused:
        parsed_routes(text)
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
        parsed_routes(text)


def test_the_value_of_an_unknown_key_stays_hidden():
    with pytest.raises(BadRoutes) as refused:
        parsed_routes('[[routes]]\nname = "a"\ngateway = "http"\npassword = "maize"')
    assert "password" in str(refused.value) and "maize" not in str(refused.value)


def test_without_a_file_there_is_one_route_by_the_settings_gateway():
    (route,) = routes_of(Settings(gateway="console", gateway_options={"record": "sent.jsonl"}))
    assert (route.name, route.options) == ("console", {"record": "sent.jsonl"})


def test_a_file_that_is_not_there_is_named(tmp_path):
    with pytest.raises(BadRoutes, match=r"gone\.toml"):
        routes_of(Settings(routes=str(tmp_path / "gone.toml")))
