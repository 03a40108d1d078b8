"""The door of the benches: its document, its table, and when it has no figures to show."""

import json
import re
import socket
from contextlib import contextmanager

import pytest

from reminder_service.bench import gateway as gateway_bench
from reminder_service.bench import http_carrier, registry
from reminder_service.bench.carrier import carrier
from reminder_service.bench.errors import NoCarrier
from reminder_service.bench.http_sides import http_sides
from reminder_service.bench.turns import Side
from reminder_service.commands import main

TINY = ("bench", "gateway", "--messages", "12", "--rounds", "5")
SIDES = {
    ("HTTP", "gateway"),
    ("HTTP", "requests"),
    ("HTTP", "adapter"),
    ("SMPP", "gateway"),
    ("SMPP", "gateway, one a call"),
    ("SMPP", "client"),
}


@pytest.fixture
def refusal(capsys):
    """Run a command that must be refused; answers its one line."""

    def refused(*arguments):
        with pytest.raises(SystemExit) as stopped:
            main(list(arguments))
        printed = capsys.readouterr()
        assert (stopped.value.code, printed.out) == (2, "")
        assert printed.err.count("\n") == 1
        return printed.err

    return refused


@pytest.fixture
def document(capsys):
    main([*TINY, "--json"])
    return json.loads(capsys.readouterr().out)


def swapping(side):
    """A side that gives two texts each other's ids."""

    @contextmanager
    def opened():
        with side.opened() as send_all:
            yield lambda texts: [*reversed(send_all(texts)[:2]), *send_all(texts[2:])]

    return Side(side.name, opened)


def forgetting(side):
    """A side that leaves the last text out."""

    @contextmanager
    def opened():
        with side.opened() as send_all:
            yield lambda texts: send_all(texts[:-1])

    return Side(side.name, opened)


def test_one_document_holds_both_gateways_and_what_they_were_measured_on(document):
    assert set(document) == {"bench", "machine", "versions", "settings", "figures", "ratios"}
    assert set(document["machine"]) == {"system", "processor", "cores", "load"}
    assert {"python", "requests", "smpplib", "smpp34"} <= set(document["versions"])
    assert document["settings"] == {
        "rounds": 5,
        "http_messages": 12,
        "connections": 8,
        "smpp_messages": 48,
        "window": 50,
        "callers": 2,
    }

    assert {(each["part"], each["side"]) for each in document["figures"]} == SIDES
    for each in document["figures"]:
        assert each["unit"] == "texts/s" and len(each["runs"]) == 5
        assert 0 < each["lowest"] <= each["median"] <= each["highest"]

    asked = {(r["part"], r["side"], r["to"]): r["at_least"] for r in document["ratios"]}
    assert asked == {
        ("HTTP", "gateway", "requests"): 0.9,
        ("HTTP", "gateway", "adapter"): None,
        ("SMPP", "gateway", "client"): 0.9,
        ("SMPP", "gateway, one a call", "client"): None,
    }


def test_ratios_are_of_the_figures_of_the_same_round(document):
    runs = {(each["part"], each["side"]): each["runs"] for each in document["figures"]}
    for ratio in document["ratios"]:
        ours, bare = runs[ratio["part"], ratio["side"]], runs[ratio["part"], ratio["to"]]
        expected = [one / other for one, other in zip(ours, bare, strict=True)]
        assert ratio["runs"] == pytest.approx(expected, rel=0.02, abs=0.001)


def test_people_get_a_table_of_the_same(capsys):
    main(list(TINY))
    printed = capsys.readouterr().out

    rows = [line for line in printed.splitlines() if line.startswith(("HTTP", "SMPP"))]
    assert len(rows) == len(SIDES) + 4
    assert (
        len(re.findall(r"gateway to (?:requests|client) +0\.9: (?:reached|MISSED)", printed)) == 2
    )


@pytest.mark.parametrize(
    ("spoil", "wrong"),
    [pytest.param(swapping, 2, id="two swapped"), pytest.param(forgetting, 1, id="one missing")],
)
def test_wrong_ids_are_no_figures(refusal, monkeypatch, spoil, wrong):
    monkeypatch.setattr(
        gateway_bench, "http_sides", lambda port: [spoil(each) for each in http_sides(port)]
    )

    assert f"HTTP, gateway: {wrong} of 12 texts" in refusal(*TINY)


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        pytest.param(["bench", "moon"], '"moon": choose one of gateway', id="no such bench"),
        pytest.param(["bench"], "NAME", id="no name"),
        pytest.param(["bench", "gateway", "--rounds", "4"], "rounds", id="too few rounds"),
        pytest.param(["bench", "gateway", "--messages", "0"], "messages", id="no texts"),
    ],
)
def test_the_door_refuses_in_one_line(refusal, arguments, named):
    assert named in refusal(*arguments)


def test_without_its_packages_it_says_what_to_install(refusal, monkeypatch):
    found = registry.find_spec
    monkeypatch.setattr(
        registry, "find_spec", lambda name: None if name == "smpp34" else found(name)
    )

    line = refusal(*TINY)
    assert "smpp34" in line and "install reminder-service[bench]" in line


def test_a_carrier_ends_with_its_bench():
    with carrier(http_carrier.__name__) as port:
        socket.create_connection(("127.0.0.1", port), 5).close()

    with pytest.raises(ConnectionRefusedError):
        socket.create_connection(("127.0.0.1", port), 5)


def test_a_carrier_that_does_not_start_is_told():
    with pytest.raises(NoCarrier, match="kinds"), carrier("reminder_service.kinds"):
        pass
