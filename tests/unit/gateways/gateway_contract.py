"""What every gateway must keep to, whoever ships it.

A gateway joins with one line in its own test file::

    class TestMine(GatewayContract):
        bench = staticmethod(my_bench)
"""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pytest

from gateways.protocol import Abilities, Gateway, Outgoing, Taken

EXPIRES_AT = datetime(2026, 12, 12, 16, 0, tzinfo=UTC)


@dataclass(frozen=True)
class Bench:
    """A gateway and what its carrier got, as (to, body), oldest first."""

    gateway: Gateway
    arrived: Callable[[], list[tuple[str, str]]]


def message(reference: str, body: str = "Thin your plot", to: str = "+447700900001") -> Outgoing:
    """One text for a phone that nobody owns."""
    return Outgoing(to=to, body=body, reference=reference, expires_at=EXPIRES_AT)


class GatewayContract:
    """One test for each thing that the protocol promises."""

    bench: Callable[[Path], Bench]

    @pytest.fixture
    def bench_here(self, tmp_path):
        made = type(self).bench(tmp_path)
        yield made
        made.gateway.close()

    @pytest.fixture
    def gateway(self, bench_here):
        return bench_here.gateway

    def test_it_meets_the_protocol(self, gateway):
        assert isinstance(gateway, Gateway)

    def test_it_has_a_short_printable_name(self, gateway):
        assert gateway.name.isprintable() and 0 < len(gateway.name) <= 40

    def test_it_says_what_it_can_do(self, gateway):
        assert isinstance(gateway.abilities, Abilities)

    def test_a_taken_message_gets_the_carriers_reference(self, gateway):
        answer = gateway.send(message("first"))

        assert isinstance(answer, Taken) and 0 < len(answer.reference) <= 200

    @pytest.mark.parametrize(
        "body",
        [
            pytest.param("Thin your plot", id="plain letters"),
            pytest.param("Raleia a tua machamba até 12/12 ✓", id="letters beyond GSM"),
            pytest.param("Plot 12\nThin", id="two lines"),
            pytest.param("x" * 400, id="three segments long"),
        ],
    )
    def test_the_text_arrives_as_it_was_given(self, bench_here, body):
        bench_here.gateway.send(message("first", body))

        assert bench_here.arrived() == [("+447700900001", body)]

    def test_two_references_are_two_messages(self, bench_here):
        answers = {bench_here.gateway.send(message(name)).reference for name in ("one", "two")}

        assert len(answers) == 2 and len(bench_here.arrived()) == 2

    def test_a_reference_tried_again_arrives_once_if_that_is_promised(self, bench_here):
        if not bench_here.gateway.abilities.client_reference:
            pytest.skip("this gateway does not promise it")
        first = bench_here.gateway.send(message("same"))
        again = bench_here.gateway.send(message("same"))

        assert again == first and len(bench_here.arrived()) == 1

    def test_many_threads_may_send_at_once(self, bench_here):
        messages = [message(f"thread-{number}", f"text {number}") for number in range(40)]
        with ThreadPoolExecutor(8) as pool:
            list(pool.map(bench_here.gateway.send, messages))

        assert sorted(bench_here.arrived()) == sorted((each.to, each.body) for each in messages)

    def test_closing_twice_does_no_harm(self, gateway):
        gateway.close()
        gateway.close()
