"""A gateway in a package of somebody else's, and the contract that it joins in its own tests."""

import os
import subprocess
import sys
from xml.etree import ElementTree

import pytest

DRUM = '''
from datetime import UTC, datetime
from threading import Lock

from gateways.errors import Refused, TryLater, Unsure
from gateways.protocol import Abilities, NotKnown, Receipt, ReceiptState, Taken


class Drum:
    """Keeps what it is given in a list, and says so when asked."""

    name = "drum"
    abilities = Abilities(
        client_reference=True, receipts=False, inbound=False, batch=20, asking=True, polled=True
    )

    def __init__(self, village):
        self.village = village
        self.arrived = []
        self._known = {}
        self._open = True
        self._lock = Lock()

    @classmethod
    def from_options(cls, options):
        return cls(options["village"])

    def send(self, message):
        with self._lock:
            if not self._open:
                raise TryLater("the drum is put away", 60)
            if message.reference not in self._known:
                self.arrived.append((message.to, message.body))
                self._known[message.reference] = f"beat-{len(self.arrived)}"
            return Taken(self._known[message.reference])

    def send_many(self, messages):
        answers = []
        for message in messages:
            try:
                answers.append(self.send(message))
            except (Refused, TryLater, Unsure) as error:
                answers.append(error)
        return answers

    def ask(self, question):
        reference = self._known.get(question.client_reference)
        if reference is None:
            return NotKnown()
        now = datetime.now(UTC)
        return Receipt(reference, question.client_reference, ReceiptState.DELIVERED, now)

    def poll(self, on_event):
        return 0

    def close(self):
        self._open = False
'''

JOINS = """
from gateways.contract import Bench, GatewayContract
from gateways.registry import gateway_names, make_gateway


def drum_bench(folder):
    gateway = make_gateway("drum", {"village": "Olmara"})
    return Bench(gateway, lambda: gateway.arrived)


class TestDrum(GatewayContract):
    bench = staticmethod(drum_bench)


def test_it_is_found_beside_the_gateways_that_are_shipped():
    made = make_gateway("drum", {"village": "Olmara"})

    assert {"console", "drum"} <= set(gateway_names())
    assert (type(made).__module__, made.village) == ("drumpost", "Olmara")
"""


@pytest.fixture
def outcomes(tmp_path):
    """Installs the package with the given module, lets its own tests run: tests by outcome."""

    def run(source):
        site, own = tmp_path / "site", tmp_path / "own tests"
        about = site / "drumpost-1.0.dist-info"
        about.mkdir(parents=True)
        (site / "drumpost.py").write_text(source)
        (about / "METADATA").write_text("Metadata-Version: 2.1\nName: drumpost\nVersion: 1.0\n")
        (about / "entry_points.txt").write_text(
            "[reminder_service.gateways]\ndrum = drumpost:Drum\n"
        )
        own.mkdir()
        (own / "pytest.ini").write_text("[pytest]\nfilterwarnings = error\n")
        (own / "test_drum.py").write_text(JOINS)
        return _outcomes(site, own)

    return run


def _outcomes(site, own):
    environment = {name: value for name, value in os.environ.items() if "PYTEST" not in name}
    # pytest alone, without the plug-ins of this project's own tests
    environment |= {"PYTHONPATH": str(site), "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"}
    ended = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "--junit-xml=report.xml"],
        cwd=own,
        env=environment,
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert ended.returncode in (0, 1), ended.stdout + ended.stderr
    found = {"passed": set(), "failed": set(), "skipped": set()}
    for case in ElementTree.parse(own / "report.xml").iter("testcase"):
        parts = {part.tag for part in case}
        state = "skipped" if "skipped" in parts else "failed" if parts else "passed"
        found[state].add(case.get("name"))
    return found


def test_a_package_of_others_keeps_the_contract(outcomes):
    found = outcomes(DRUM)

    assert (found["failed"], found["skipped"]) == (set(), set())
    assert "test_it_is_found_beside_the_gateways_that_are_shipped" in found["passed"]
    assert "test_a_closed_gateway_answers_a_batch" in found["passed"]


REFERENCES = {
    "test_two_references_are_two_messages",
    "test_a_full_batch_gets_one_answer_for_each_text",
}
ODD = "test_an_odd_message_is_taken_or_one_of_the_three"


@pytest.mark.parametrize(
    ("kept", "broken", "failing"),
    [
        pytest.param(
            'f"beat-{len(self.arrived)}"', '"beat"', REFERENCES, id="one reference for all"
        ),
        pytest.param(
            "        with self._lock:\n",
            "        message.to[0]\n        with self._lock:\n",
            {f"{ODD}[an empty number]", "test_an_odd_batch_is_answered_and_not_raised"},
            id="an error of its own",
        ),
        pytest.param(
            "            if message.reference not in self._known:\n",
            "            if True:\n",
            {
                "test_a_reference_tried_again_arrives_once_if_that_is_promised",
                "test_a_batchs_answers_stand_in_the_order_of_its_texts",
            },
            id="arrives twice when tried again",
        ),
        pytest.param(
            'raise TryLater("the drum is put away", 60)',
            'return Taken("nothing")',
            {"test_a_closed_gateway_takes_a_text_or_raises_one_of_the_three"},
            id="takes what it drops",
        ),
        pytest.param(
            "return answers",
            "return answers[::-1]",
            {"test_a_batchs_answers_stand_in_the_order_of_its_texts"},
            id="answers in another order",
        ),
        pytest.param(
            "(Refused, TryLater, Unsure)",
            "Refused",
            {"test_a_closed_gateway_answers_a_batch"},
            id="raises out of a batch",
        ),
        pytest.param(
            "if reference is None:",
            "if reference != question.client_reference:",
            {
                "test_a_text_just_taken_is_known_when_asked_about",
                "test_asking_a_closed_gateway_is_for_later_or_unsure",
            },
            id="forgets what it took",
        ),
        pytest.param(
            "def poll(",
            "def fetch(",
            {
                "test_it_has_the_methods_of_its_abilities",
                "test_fetching_counts_what_it_hands_over",
            },
            id="promises what it has no method for",
        ),
        pytest.param(
            "message.body))",
            'message.body.replace("\\n", " ")))',
            {
                "test_the_text_arrives_as_it_was_given[two lines]",
                "test_a_batch_arrives_as_it_was_given",
            },
            id="changes a text",
        ),
    ],
)
def test_a_broken_promise_fails_the_test_of_that_promise(outcomes, kept, broken, failing):
    assert DRUM.count(kept) == 1

    assert outcomes(DRUM.replace(kept, broken))["failed"] == failing
