"""What the table [batch] of an HTTP profile may say, and how its faults are told."""

import shutil
from pathlib import Path

import pytest

from gateways.errors import BadOption
from gateways.http.gateway import HttpGateway
from gateways.protocol import Abilities, Batching

EXAMPLE = Path(__file__).parents[3] / "deploy" / "profiles" / "example-http-batch.toml"

GOOD = """
[abilities]
client_reference = true
[request]
address = "https://api.carrier.example/texts"
format = "json"
fields = { to = "{to}", text = "{body}", ref = "{reference}" }
[answer]
reference = "id"
[batch]
size = 100
messages = "texts"
each = { to = "{to}", text = "{body}", ref = "{reference}" }
[batch.answer]
answers = "results"
match = "reference"
key = "ref"
reference = "id"
"""

IN_FIELD = '[[credentials]]\nin = "field"\nname = "texts"\nsecret_file = "key"\n'


@pytest.fixture
def gateway_of(tmp_path):
    """The gateway by the text of a profile."""

    def make(text):
        (tmp_path / "key").write_text("k3y\n")
        path = tmp_path / "carrier.toml"
        path.write_text(text)
        return HttpGateway.from_options({"profile": str(path)})

    return make


@pytest.fixture
def faults_of(gateway_of):
    """What is said of a profile with faults."""

    def told(text):
        with pytest.raises(BadOption) as error:
            gateway_of(text)
        return error.value.expected

    return told


def test_the_shipped_example_has_no_fault(tmp_path):
    shutil.copy(EXAMPLE, tmp_path)
    (tmp_path / "secrets").mkdir()
    (tmp_path / "secrets" / "carrier-key").write_text("k3y")
    gateway = HttpGateway.from_options({"profile": str(tmp_path / EXAMPLE.name)})

    assert gateway.abilities == Abilities(
        client_reference=True, receipts=False, inbound=False, batch=100
    )


def test_the_size_is_an_ability(gateway_of):
    gateway = gateway_of(GOOD)

    assert gateway.abilities.batch == 100 and isinstance(gateway, Batching)


def test_without_the_table_a_call_takes_one(gateway_of):
    assert gateway_of(GOOD[: GOOD.index("[batch]")]).abilities.batch == 1


@pytest.mark.parametrize(
    ("right", "wrong", "told"),
    [
        pytest.param("size = 100", "size = 1", "batch.size", id="one text"),
        pytest.param("size = 100", "size = 1001", "batch.size", id="too many"),
        pytest.param("size = 100", "", "batch.size", id="no size"),
        pytest.param("size = 100", "size = 300", "expected 76800 or more", id="answer too long"),
        pytest.param('[batch.answer]\nanswers = "results"', "[other]", "batch.answer", id="answer"),
        pytest.param('match = "reference"', "", "batch.answer.match", id="no match"),
        pytest.param('match = "reference"', 'match = "order"', "key: expected none", id="key"),
        pytest.param('key = "ref"', 'colour = "red"', "answer.colour: no such key", id="unknown"),
        pytest.param('reference = "id"\n', "\n", "answer: reference: expected", id="no id"),
        pytest.param('"{body}"', '"text"', "each: expected {body} in", id="no text"),
        pytest.param('"{to}"', '"all"', "each: expected {to} or", id="no number"),
        pytest.param('"{to}"', '"{phone}"', "{phone} is no placeholder", id="placeholder"),
        pytest.param('"{to}"', '"{to}{sender}"', "request.sender: expected a value", id="sender"),
        pytest.param('"{to}"', '"{to}{coding}"', "request.coding: expected", id="coding"),
        pytest.param('"{reference}"', '"1"', "each: expected {reference}", id="reference"),
        pytest.param('messages = "texts"', "fields = {a=1}", "messages: expected the", id="path"),
        pytest.param(
            'messages = "texts"',
            'messages = "texts"\nfields = {texts={a=1}}',
            "messages: expected a path at which no field stands",
            id="path is taken",
        ),
        pytest.param(
            'messages = "texts"',
            'messages = "texts.all"\nfields = {texts=1}',
            "messages: expected a path at which no field stands",
            id="path through a word",
        ),
        pytest.param('messages = "texts"', 'messages = "a..b"', "messages: expected", id="gap"),
        pytest.param(
            'messages = "texts"',
            'messages = "texts"\nfields = {to="{to}"}',
            "fields: expected no placeholder but {sender}",
            id="a number for all",
        ),
        pytest.param(
            'messages = "texts"',
            'messages = "texts"\nheaders = {X="{reference}"}',
            "headers: expected no placeholder but {sender}",
            id="a reference in a header",
        ),
        pytest.param(
            'messages = "texts"',
            'messages = "texts"\naddress = "http://api.carrier.example/"',
            "batch.address: expected https:",
            id="not encrypted",
        ),
        pytest.param(
            'messages = "texts"',
            'messages = "texts"\naddress = "https://api.carrier.example/{to}"',
            "batch.address: expected one without placeholders",
            id="a number in the address",
        ),
        pytest.param(
            'messages = "texts"', 'messages = "texts"\nhalve = ["500"]', "batch.halve", id="halve"
        ),
        pytest.param("[batch]", f"{IN_FIELD}[batch]", "batch.messages: expected", id="secret"),
    ],
)
def test_a_fault_is_told(faults_of, right, wrong, told):
    one, many = GOOD[: GOOD.index("[batch]")], GOOD[GOOD.index("[batch]") :]
    assert right in many

    assert told in faults_of(one + many.replace(right, wrong, 1))


@pytest.mark.parametrize(
    ("keys", "told"),
    [
        pytest.param('match = "order"', "answers: expected a pattern", id="no pattern"),
        pytest.param('answers = "x"\nmatch = "order"', "expected one group", id="no group"),
        pytest.param(
            'answers = "<t>(.*?)</t>"\nmatch = "number"', "expected one group", id="no key"
        ),
    ],
)
def test_a_text_is_taken_apart_by_patterns(faults_of, keys, told):
    head = GOOD[: GOOD.index('answers = "results"')]

    assert told in faults_of(f'{head}format = "text"\n{keys}\nreference = "<id>(.*?)</id>"\n')


def test_an_address_with_placeholders_does_not_serve_a_batch(faults_of):
    text = GOOD.replace("carrier.example/texts", "carrier.example/{reference}")

    assert "batch.address: expected one without placeholders" in faults_of(text)


def test_headers_with_placeholders_do_not_serve_a_batch(faults_of):
    text = GOOD.replace("[answer]", '[request.headers]\nX-Once = "{reference}"\n[answer]', 1)

    assert "batch.headers: expected no placeholder" in faults_of(text)
