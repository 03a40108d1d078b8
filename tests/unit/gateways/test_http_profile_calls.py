"""What an HTTP profile may say of asking and polling, and how its faults are told."""

import re
from pathlib import Path

import pytest

from gateways.errors import BadOption
from gateways.http.gateway import HttpGateway
from gateways.http.profile_asking import Asking, AskingRequest, NeverHeard, Told
from gateways.http.profile_polling import Done, Polling, PollingRequest

EXAMPLE = Path(__file__).parents[3] / "deploy" / "profiles" / "example-http.toml"

GOOD = """
[abilities]
client_reference = true
[request]
address = "https://api.carrier.example/texts"
format = "json"
fields = { to = "{to}", text = "{body}", ref = "{reference}" }
[answer]
reference = "id"
"""

ASKED = """
[asking.request]
address = "https://api.carrier.example/texts/{reference}"
[asking.answer]
state = "state"
states = { delivered = ["ok"], undelivered = ["bad"] }
"""

POLLED = """
[[polling]]
cursor = "next"
[polling.request]
address = "https://api.carrier.example/waiting"
fields = { after = "{cursor}" }
[polling.inbound]
message_id = "id"
sender = "from"
body = "text"
"""


@pytest.fixture
def faults_of(tmp_path):
    """What is said of a profile; an empty text if it has no fault."""

    def told(text):
        path = tmp_path / "carrier.toml"
        path.write_text(GOOD + text)
        try:
            HttpGateway.from_options({"profile": str(path)}).close()
        except BadOption as error:
            return error.expected
        return ""

    return told


def asked(old="", new=""):
    assert old in ASKED
    return ASKED.replace(old, new)


def polled(old="", new=""):
    assert old in POLLED
    return POLLED.replace(old, new)


def done(rest):
    return f'{POLLED}\n[polling.done]\naddress = "https://api.carrier.example/done"\n{rest}'


class TestExample:
    @pytest.mark.parametrize(
        "table", [Asking, AskingRequest, Told, NeverHeard, Polling, PollingRequest, Done]
    )
    def test_every_key_is_explained(self, table):
        told = EXAMPLE.read_text()
        told = told[told.index("[asking.request]") :]

        assert not [
            name
            for name in table.model_fields
            if not re.search(rf"^(# )?{name} = |^\[+\w+(\.\w+)*\.{name}\]", told, re.M)
        ]


class TestAsking:
    def test_the_shortest_table_has_no_fault(self, faults_of):
        assert faults_of(ASKED) == ""

    @pytest.mark.parametrize(
        ("text", "fault"),
        [
            pytest.param(
                asked("{reference}", "{to}"),
                "asking.request: expected {reference} or {carrier_reference}",
                id="no reference",
            ),
            pytest.param(
                asked("{reference}", "{body}"), "{body} is no placeholder", id="unknown name"
            ),
            pytest.param(
                asked("https", "http"),
                "asking.request.address: expected https:, or allow_unencrypted",
                id="not encrypted",
            ),
            pytest.param(
                asked("[asking.answer]", 'format = "json"\n[asking.answer]'),
                "asking.request: format: expected query with method GET",
                id="GET with a body",
            ),
            pytest.param(
                asked("[asking.answer]", "fields = { a = [1] }\n[asking.answer]"),
                "fields: expected no list or table with format query",
                id="list in a query",
            ),
            pytest.param(
                asked("[asking.answer]", 'headers = { a = "{to}" }\n[asking.answer]'),
                "headers: expected no placeholder",
                id="placeholder in a header",
            ),
            pytest.param(asked('state = "state"'), "asking.answer.state: ", id="no state"),
            pytest.param(
                asked('state = "state"', 'state = "state"\nformat = "text"'),
                "expected one group",
                id="text without patterns",
            ),
            pytest.param(
                f'{ASKED}\nformat = "text"\ntexts = "t"'.replace('"state"', '"(a)"'),
                "texts: expected none with format text",
                id="list in a text",
            ),
            pytest.param(
                f'{ASKED}\nlater = ["busy"]',
                "code: expected its place, codes are given",
                id="codes without a place",
            ),
            pytest.param(
                f'{ASKED}\nnot_known = {{ codes = ["none"] }}',
                "code: expected its place, codes are given",
                id="code of not known without a place",
            ),
            pytest.param(
                f"{ASKED}\nnot_known = {{ empty = true }}",
                "texts: expected the path of a list with not_known.empty = true",
                id="empty without a list",
            ),
            pytest.param(
                f"{ASKED}\nnot_known = {{}}",
                "not_known: expected statuses, codes, or empty = true",
                id="not known by nothing",
            ),
            pytest.param(
                f"{ASKED}\nnot_known = {{ statuses = [200] }}",
                "codes: expected some, a status of 2xx",
                id="not known by a good status",
            ),
            pytest.param(
                f"{ASKED}\nnot_known = {{ statuses = [503] }}",
                "not_known.statuses.0: ",
                id="not known by a failure",
            ),
            pytest.param(
                f"{ASKED}\nnot_known = {{ statuses = [404], from_s = 60.0, until_s = 60.0 }}",
                "until_s: expected more than from_s",
                id="never believed",
            ),
            pytest.param(f"{ASKED}\nwhen = 1", "asking.answer.when: no such key", id="extra key"),
        ],
    )
    def test_a_fault_is_told(self, faults_of, text, fault):
        assert fault in faults_of(text)


class TestPolling:
    @pytest.mark.parametrize(
        "text",
        [
            pytest.param(POLLED, id="a cursor"),
            pytest.param(polled('cursor = "next"', 'last = "id"'), id="the last one's id"),
            pytest.param(done('id = "id"\nfields = { id = "{id}" }'), id="and letting go"),
            pytest.param(POLLED + POLLED, id="two places"),
            pytest.param(
                POLLED + '[polling.receipts]\nreference = "id"\nstate = "s"\n'
                'states = { delivered = ["ok"], undelivered = ["bad"] }',
                id="receipts",
            ),
        ],
    )
    def test_it_has_no_fault_with(self, faults_of, text):
        assert faults_of(text) == ""

    @pytest.mark.parametrize(
        ("text", "fault"),
        [
            pytest.param(
                polled("https", "http"),
                "polling.0.request.address: expected https:, or allow_unencrypted",
                id="not encrypted",
            ),
            pytest.param(
                done('id = "id"\nfields = { id = "{id}" }').replace(
                    "https://api.carrier.example/done", "http://api.carrier.example/done"
                ),
                "polling.0.done.address: expected https:, or allow_unencrypted",
                id="letting go is not encrypted",
            ),
            pytest.param(
                polled('cursor = "next"', 'cursor = "next"\nlast = "id"'),
                "expected cursor or last, not both",
                id="two cursors",
            ),
            pytest.param(
                polled('cursor = "next"'),
                "expected the place of the next {cursor}",
                id="no place of the cursor",
            ),
            pytest.param(
                polled("{cursor}", "0"),
                "expected {cursor} in request or done",
                id="cursor not used",
            ),
            pytest.param(
                polled("{cursor}", "0").replace('cursor = "next"', 'first = "0"'),
                "expected no first and no cursor_file without {cursor}",
                id="first without a cursor",
            ),
            pytest.param(
                polled("/waiting", "/waiting/{cursor}"),
                "first: expected what {cursor} is at the beginning",
                id="cursor in the address",
            ),
            pytest.param(polled("{cursor}", "{to}"), "{to} is no placeholder", id="unknown name"),
            pytest.param(
                polled('cursor = "next"', 'cursor = "next"\ncursor_file = "no/such"'),
                "cursor_file: expected a file in a folder that is there",
                id="no folder of the cursor",
            ),
            pytest.param(
                2 * polled('cursor = "next"', 'cursor = "next"\ncursor_file = "c"'),
                "polling: expected another cursor_file in each table",
                id="one file for two cursors",
            ),
            pytest.param(
                POLLED[: POLLED.index("[polling.inbound]")],
                "expected receipts, inbound or both",
                id="no events",
            ),
            pytest.param(
                done(""), "expected {id}, {ids} or {cursor}", id="letting go of everything"
            ),
            pytest.param(
                done('id = "id"\nfields = { a = "{id}", b = "{ids}" }'),
                "expected {id} or {ids}, not both",
                id="letting go one by one and all at once",
            ),
            pytest.param(
                done('fields = { a = "{id}" }'),
                "id: expected its path in an event",
                id="no place of the id",
            ),
            pytest.param(
                done('id = "id"\nfields = { a = "{cursor}" }'),
                "id: expected its path in an event with {id} or {ids}, and else none",
                id="place of an id that is not used",
            ),
        ],
    )
    def test_a_fault_is_told(self, faults_of, text, fault):
        assert fault in faults_of(text)

    def test_all_faults_are_told_at_once(self, faults_of):
        told = faults_of(asked("{reference}", "{to}") + polled('cursor = "next"'))

        assert "asking.request" in told and "polling.0" in told
