"""What every gateway must keep to, whoever ships it: tests for pytest that a package joins.

Install the extra ``contract``, say how your gateway is tried, and let pytest run over it::

    from gateways.contract import Bench, GatewayContract
    from gateways.registry import make_gateway

    def my_bench(folder):
        carrier = MyCarrierOnThisMachine(folder)
        return Bench(make_gateway("mine", {"port": carrier.port}), carrier.arrived)

    class TestMine(GatewayContract):
        bench = staticmethod(my_bench)

A gateway that needs more than to be closed after a test overrides the fixture ``bench_here``.
``pytest.register_assert_rewrite("gateways.contract")`` in your ``conftest.py`` lets a broken
promise show its values.

What a gateway's `gateways.protocol.Abilities` do not promise is not asked of it; what they do
promise is. No text of these tests may reach a real phone: their numbers are set aside for fiction.
"""

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from gateways.errors import Refused, TryLater, Unsure
from gateways.protocol import (
    Abilities,
    Answer,
    Asking,
    Batching,
    Event,
    Gateway,
    NotKnown,
    Outgoing,
    Polled,
    Question,
    Receipt,
    Taken,
)

PLAIN, TWO_LINES = "Thin your plot", "Plot 12\nThin"
BEYOND_GSM = "Raleia a tua machamba até 12/12 ✓"
LONG = "x" * 400
"""Three segments of GSM 7-bit letters, by arithmetic of 153 letters each."""

_THREADS, _TEXTS_OF_THREADS = 8, 40
_MOST_TEXTS = 100
"""A full batch is tried up to so many texts; all three are settings."""
_LONG_AGO = timedelta(hours=1)
"""Age at which no text is still on its way to the carrier: a setting."""


@dataclass(frozen=True, slots=True)
class Bench:
    """A gateway and the carrier that it is tried with.

    Attributes
    ----------
    gateway : with its options set, not closed
    arrived : answers what the carrier has got so far as (to, body), oldest first; long texts whole
    """

    gateway: Gateway
    arrived: Callable[[], list[tuple[str, str]]]


def message(reference: str, body: str = PLAIN, to: str = "+447700900001") -> Outgoing:
    """One text for a phone that nobody owns, good for a day.

    Parameters
    ----------
    reference : our own id of it
    body : the text
    to : E.164 number with its plus sign
    """
    return Outgoing(to, body, reference, datetime.now(UTC) + timedelta(days=1))


class GatewayContract:
    """One test for each thing that the protocol promises.

    Attributes
    ----------
    bench : makes a fresh bench in an empty folder; a class that joins sets it
    """

    bench: Callable[[Path], Bench]

    @pytest.fixture
    def bench_here(self, tmp_path: Path) -> Iterator[Bench]:
        """A bench for one test; its gateway is closed afterwards."""
        made = type(self).bench(tmp_path)
        yield made
        made.gateway.close()

    @pytest.fixture
    def gateway(self, bench_here: Bench) -> Gateway:
        """The gateway of `bench_here`."""
        return bench_here.gateway

    @pytest.fixture
    def batching(self, gateway: Gateway) -> Batching:
        """The gateway, if it takes several texts in one call."""
        if gateway.abilities.batch < 2:
            pytest.skip("this gateway takes one text a call")
        assert isinstance(gateway, Batching)
        return gateway

    @pytest.fixture
    def asking(self, gateway: Gateway) -> Asking:
        """The gateway, if its carrier can be asked."""
        if not gateway.abilities.asking:
            pytest.skip("this gateway's carrier cannot be asked")
        assert isinstance(gateway, Asking)
        return gateway

    def test_it_meets_the_protocol(self, gateway: Gateway) -> None:
        """It has a name, abilities, ``send`` and ``close``."""
        assert isinstance(gateway, Gateway)

    def test_it_has_a_short_printable_name(self, gateway: Gateway) -> None:
        """Pages and the log show its name."""
        assert gateway.name.isprintable() and 0 < len(gateway.name) <= 40

    def test_it_says_what_it_can_do(self, gateway: Gateway) -> None:
        """Its abilities are of the protocol's own class, with a batch of at least one text."""
        assert isinstance(gateway.abilities, Abilities) and gateway.abilities.batch >= 1

    def test_it_has_the_methods_of_its_abilities(self, gateway: Gateway) -> None:
        """Whoever promises batches, answers to questions or fetching has the method for it."""
        able = gateway.abilities
        promises = ((Batching, able.batch > 1), (Asking, able.asking), (Polled, able.polled))
        missing = [
            protocol.__name__
            for protocol, promised in promises
            if promised and not isinstance(gateway, protocol)
        ]

        assert missing == []

    def test_a_taken_message_gets_the_carriers_reference(self, gateway: Gateway) -> None:
        """The reference is a text of 1 to 200 letters."""
        answer = gateway.send(message("first"))

        assert isinstance(answer, Taken) and 0 < len(answer.reference) <= 200

    @pytest.mark.parametrize(
        "body",
        [
            pytest.param(PLAIN, id="plain letters"),
            pytest.param(BEYOND_GSM, id="letters beyond GSM"),
            pytest.param(TWO_LINES, id="two lines"),
            pytest.param(LONG, id="three segments long"),
        ],
    )
    def test_the_text_arrives_as_it_was_given(self, bench_here: Bench, body: str) -> None:
        """No letter, line end or part of a text is lost, added or changed."""
        if not _carries(bench_here.gateway.abilities, body):
            pytest.skip("this gateway does not carry such texts")
        bench_here.gateway.send(message("first", body))

        assert bench_here.arrived() == [("+447700900001", body)]

    def test_two_references_are_two_messages(self, bench_here: Bench) -> None:
        """The same text under another reference of ours is another message of the carrier's."""
        answers = {bench_here.gateway.send(message(name)).reference for name in ("one", "two")}

        assert len(answers) == 2 and len(bench_here.arrived()) == 2

    def test_a_reference_tried_again_arrives_once_if_that_is_promised(
        self, bench_here: Bench
    ) -> None:
        """With ``client_reference`` a text may be tried again after a crash."""
        if not bench_here.gateway.abilities.client_reference:
            pytest.skip("this gateway does not promise it")
        same = message("same")
        first = bench_here.gateway.send(same)
        again = bench_here.gateway.send(same)

        assert again == first and len(bench_here.arrived()) == 1

    def test_many_threads_may_send_at_once(self, bench_here: Bench) -> None:
        """Every text arrives once, with the number that it is for."""
        messages = [message(f"thread-{n}", f"text {n}") for n in range(_TEXTS_OF_THREADS)]
        with ThreadPoolExecutor(_THREADS) as pool:
            list(pool.map(bench_here.gateway.send, messages))

        assert sorted(bench_here.arrived()) == _as_given(messages)

    @pytest.mark.parametrize(
        "odd",
        [
            pytest.param(message("odd", to="Olmara"), id="no number"),
            pytest.param(message("odd", to=""), id="an empty number"),
            pytest.param(message("odd", body=""), id="an empty text"),
            pytest.param(message("odd", body="a\x00\x1b\x7f"), id="control letters"),
            pytest.param(message("odd", body="a\ud800"), id="half a letter"),
            pytest.param(message("odd " * 50), id="a long reference"),
        ],
    )
    def test_an_odd_message_is_taken_or_one_of_the_three(
        self, gateway: Gateway, odd: Outgoing
    ) -> None:
        """No other error leaves ``send``, whatever it is given."""
        assert isinstance(_answer_of(gateway, odd), Answer)

    def test_a_batch_arrives_as_it_was_given(self, bench_here: Bench, batching: Batching) -> None:
        """Each text of a mixed batch arrives once, whole, and is for its own number."""
        mixed = _mixed(bench_here.gateway.abilities)
        answers = batching.send_many(mixed)

        assert [type(answer) for answer in answers] == [Taken] * len(mixed)
        assert sorted(bench_here.arrived()) == _as_given(mixed)

    def test_a_full_batch_gets_one_answer_for_each_text(
        self, bench_here: Bench, batching: Batching
    ) -> None:
        """There are as many references as texts, and none twice."""
        size = min(bench_here.gateway.abilities.batch, _MOST_TEXTS)
        messages = [message(f"batch-{n}", f"text {n}") for n in range(size)]
        answers = batching.send_many(messages)

        assert len(answers) == size
        assert len({each.reference for each in answers if isinstance(each, Taken)}) == size
        assert sorted(bench_here.arrived()) == _as_given(messages)

    def test_a_batchs_answers_stand_in_the_order_of_its_texts(
        self, bench_here: Bench, batching: Batching
    ) -> None:
        """Where a reference may be tried again, each alone gets the answer that it got before."""
        if not bench_here.gateway.abilities.client_reference:
            pytest.skip("this gateway does not tell texts apart by our references")
        mixed = _mixed(bench_here.gateway.abilities)
        answers = list(batching.send_many(mixed))

        assert [bench_here.gateway.send(each) for each in mixed] == answers
        assert len(bench_here.arrived()) == len(mixed)

    def test_an_empty_batch_has_no_answers(self, bench_here: Bench, batching: Batching) -> None:
        """Nothing is sent then."""
        assert list(batching.send_many([])) == [] and bench_here.arrived() == []

    def test_an_odd_batch_is_answered_and_not_raised(self, batching: Batching) -> None:
        """One text that cannot be carried takes no answer from the others."""
        odd = [message("one"), message("two", body="a\ud800", to=""), message("three")]
        answers = [batching.send_many(odd[at : at + 2]) for at in range(2)]

        assert [len(each) for each in answers] == [2, 2]
        assert all(isinstance(answer, Answer) for each in answers for answer in each)

    def test_a_text_just_taken_is_known_when_asked_about(
        self, gateway: Gateway, asking: Asking
    ) -> None:
        """Else it would be sent again."""
        sent = message("asked")
        question = _question(sent, gateway.send(sent).reference)
        said = asking.ask(question)

        assert isinstance(said, Receipt) and said.at.tzinfo is not None
        assert question.reference == said.reference or sent.reference == said.client_reference

    def test_an_unknown_text_has_no_receipt(self, asking: Asking) -> None:
        """The carrier does not know it, or cannot say."""
        unknown = _question(message("never sent"), "no-such-text", _LONG_AGO)
        try:
            said: object = asking.ask(unknown)
        except Unsure:
            return

        assert isinstance(said, NotKnown)

    def test_asking_without_the_carriers_reference_is_answered_or_unsure(
        self, asking: Asking
    ) -> None:
        """So it is after a crash: the text was perhaps never handed over."""
        unknown = _question(message("never sent"), None, _LONG_AGO)
        try:
            said: object = asking.ask(unknown)
        except Unsure:
            return

        assert isinstance(said, NotKnown)

    def test_fetching_counts_what_it_hands_over(self, gateway: Gateway) -> None:
        """The answer is the number of events, none included."""
        if not gateway.abilities.polled:
            pytest.skip("this gateway fetches nothing")
        assert isinstance(gateway, Polled)
        gateway.send(message("first"))
        events: list[Event] = []

        assert gateway.poll(events.append) == len(events)
        assert all(isinstance(event, Event) for event in events)

    def test_closing_twice_does_no_harm(self, gateway: Gateway) -> None:
        """Whoever closes need not know whether somebody did before."""
        gateway.close()
        gateway.close()

    def test_a_closed_gateway_takes_a_text_or_raises_one_of_the_three(
        self, bench_here: Bench
    ) -> None:
        """What it says that it took has arrived."""
        bench_here.gateway.send(message("before"))
        bench_here.gateway.close()
        answer = _answer_of(bench_here.gateway, message("after"))

        assert isinstance(answer, Answer)
        assert not isinstance(answer, Taken) or len(bench_here.arrived()) == 2

    def test_a_gateway_closed_before_its_first_text_does_the_same(self, gateway: Gateway) -> None:
        """It may never have connected."""
        gateway.close()

        assert isinstance(_answer_of(gateway, message("after")), Answer)

    def test_a_closed_gateway_answers_a_batch(self, gateway: Gateway, batching: Batching) -> None:
        """Each text has its answer, and nothing is raised."""
        gateway.close()
        answers = batching.send_many([message("one"), message("two")])

        assert len(answers) == 2 and all(isinstance(each, Answer) for each in answers)

    def test_asking_a_closed_gateway_is_for_later_or_unsure(
        self, gateway: Gateway, asking: Asking
    ) -> None:
        """Unless it still can say what became of the text; it is never unknown for that."""
        sent = message("asked")
        question = _question(sent, gateway.send(sent).reference)
        gateway.close()
        try:
            said: object = asking.ask(question)
        except (TryLater, Unsure):
            return

        assert isinstance(said, Receipt)


def _answer_of(gateway: Gateway, one: Outgoing) -> Answer:
    """What ``send`` answers or raises of the three; any other error is the test's failure."""
    try:
        return gateway.send(one)
    except (Refused, TryLater, Unsure) as error:
        return error


def _carries(abilities: Abilities, body: str) -> bool:
    return (abilities.unicode or body != BEYOND_GSM) and (abilities.long_texts or body != LONG)


def _mixed(abilities: Abilities) -> list[Outgoing]:
    """Texts of all kinds for two phones, as many as one batch takes."""
    bodies = [PLAIN, BEYOND_GSM, TWO_LINES, LONG, PLAIN]
    carried = [body for body in bodies if _carries(abilities, body)][: abilities.batch]
    return [message(f"mixed-{n}", body, f"+44770090000{n % 2}") for n, body in enumerate(carried)]


def _as_given(messages: Sequence[Outgoing]) -> list[tuple[str, str]]:
    return sorted((each.to, each.body) for each in messages)


def _question(sent: Outgoing, reference: str | None, age: timedelta = timedelta(0)) -> Question:
    return Question(sent.to, reference, sent.reference, datetime.now(UTC) - age)
