"""Asking an HTTP carrier on loopback what became of a text."""

import json
import logging
from datetime import UTC, datetime, timedelta
from urllib.parse import parse_qsl, urlsplit

import pytest
from http_carrier import HttpCarrier, Reply, http_profile
from hypothesis import given, settings
from hypothesis import strategies as st

from gateways.errors import TryLater, Unsure
from gateways.http.gateway import HttpGateway
from gateways.protocol import Asking, NotKnown, Polled, Question, Receipt, ReceiptState

NOW = datetime(2026, 12, 12, 12, 0, tzinfo=UTC)
SENT_AT = NOW - timedelta(minutes=10)
DONE_AT = datetime(2026, 12, 12, 11, 58, tzinfo=UTC)
QUESTION = Question("+447700900001", "c-1", "r1", SENT_AT)
LOST = Question("+447700900001", None, "r1", SENT_AT)

STATES = {"delivered": ["DELIVRD"], "undelivered": ["failed"], "underway": ["queued"]}
ANSWER = {
    "reference": "id",
    "client_reference": "ref",
    "state": "state",
    "states": STATES,
    "at": "at",
    "reason": "why",
    "code": "code",
    "later": ["busy"],
    "not_known": {"statuses": [404]},
}
TOLD = {"id": "c-1", "ref": "r1", "state": "delivrd", "at": "2026-12-12T13:58:00+02:00"}
DELIVERED = Receipt("c-1", "r1", ReceiptState.DELIVERED, DONE_AT)


def asking(address, request=None, **answer):
    """The table; a key of the answer that is None is left out."""
    told = {name: value for name, value in {**ANSWER, **answer}.items() if value is not None}
    asked = {"address": address, "fields": {"ref": "{reference}"}, **(request or {})}
    return {"request": asked, "answer": told}


def json_reply(value, status=200, **headers):
    return Reply(status, json.dumps(value).encode(), headers)


@pytest.fixture
def carrier():
    with HttpCarrier() as made:
        yield made


@pytest.fixture
def gateway_of(tmp_path):
    """Make a gateway by its table [asking]; all are closed at the end."""
    made = []
    (tmp_path / "key").write_text("k3y-of-the-programme\n")

    def make(table, **tables):
        profile = http_profile("http://127.0.0.1:9/texts", tmp_path, asking=table, **tables)
        made.append(HttpGateway(profile, now=lambda: NOW))
        return made[-1]

    yield make
    for each in made:
        each.close()


@pytest.fixture
def asked(carrier, gateway_of):
    """The request that one question makes."""

    def ask(question=QUESTION, request=None, tables=None):
        carrier.script.append(json_reply(TOLD))
        gateway = gateway_of(asking(carrier.address, request), **(tables or {}))
        assert gateway.ask(question) == DELIVERED
        return carrier.received[-1]

    return ask


@pytest.fixture
def fate(carrier, gateway_of):
    """What one reply makes of a question."""

    def answer(reply, question=QUESTION, **parts):
        carrier.script.append(reply if isinstance(reply, Reply) else json_reply(reply))
        try:
            return gateway_of(asking(carrier.address, **parts)).ask(question)
        except (TryLater, Unsure) as error:
            return error

    return answer


class TestAbility:
    def test_with_the_table_it_can_be_asked(self, gateway_of):
        gateway = gateway_of(asking("http://127.0.0.1:9/"))

        assert isinstance(gateway, Asking) and gateway.abilities.asking
        assert not isinstance(gateway, Polled) and not gateway.abilities.polled

    def test_without_it_it_cannot(self):
        gateway = HttpGateway(http_profile("http://127.0.0.1:9/"))

        assert not isinstance(gateway, Asking) and not gateway.abilities.asking


class TestQuestion:
    def test_our_reference_may_stand_in_the_query(self, asked):
        received = asked(LOST)

        assert (received.method, received.target) == ("GET", "/texts?ref=r1")

    def test_the_carriers_id_may_stand_in_the_address(self, asked, carrier):
        address = carrier.address + "/{carrier_reference}"

        assert asked(request={"address": address, "fields": {}}).target == "/texts/c-1"

    def test_what_stands_in_the_address_is_quoted(self, fate, carrier):
        question = Question("+447700900001", "../c?1&x", "r1", SENT_AT)
        address = carrier.address + "/{carrier_reference}"
        fate({}, question, request={"address": address, "fields": {}})

        assert carrier.received[-1].target == "/texts/..%2Fc%3F1%26x"

    def test_a_body_of_json_holds_fields(self, asked):
        fields = {"of": [{"id": "{carrier_reference}", "to": "{to}", "digits": "{to_digits}"}]}
        received = asked(request={"method": "POST", "format": "json", "fields": fields})

        assert received.json == {
            "of": [{"id": "c-1", "to": "+447700900001", "digits": "447700900001"}]
        }

    def test_a_form_holds_fields(self, asked):
        received = asked(request={"method": "POST", "format": "form"})

        assert dict(parse_qsl(received.body.decode())) == {"ref": "r1"}

    def test_headers_are_the_profiles(self, asked):
        assert asked(request={"headers": {"Accept": "text/x"}}).headers["Accept"] == "text/x"

    def test_it_is_not_asked_by_an_id_that_never_came(self, carrier, gateway_of):
        table = asking(carrier.address, {"fields": {"id": "{carrier_reference}"}})
        with pytest.raises(Unsure, match="never came"):
            gateway_of(table).ask(LOST)

        assert carrier.received == []

    @pytest.mark.parametrize(
        ("credential", "found"),
        [
            pytest.param({"in": "header", "name": "X-Key"}, "X-Key", id="header"),
            pytest.param({"in": "basic", "user": "olmara"}, "Authorization", id="basic"),
        ],
    )
    def test_credentials_of_headers_are_those_of_texts(self, asked, credential, found):
        tables = {"credentials": ({"secret_file": "key", **credential},)}

        assert asked(tables=tables).headers[found] in (
            "k3y-of-the-programme",
            "Basic b2xtYXJhOmszeS1vZi10aGUtcHJvZ3JhbW1l",
        )

    @pytest.mark.parametrize("place", ["query", "field"])
    def test_credentials_of_query_and_field_are_in_the_query(self, asked, place):
        tables = {"credentials": ({"secret_file": "key", "in": place, "name": "key"},)}
        query = dict(parse_qsl(urlsplit(asked(tables=tables).target).query))

        assert query == {"ref": "r1", "key": "k3y-of-the-programme"}


class TestReceipt:
    def test_every_part_is_read(self, fate):
        assert fate({**TOLD, "why": "000"}) == Receipt(
            "c-1", "r1", ReceiptState.DELIVERED, DONE_AT, "000"
        )

    @pytest.mark.parametrize(
        ("word", "state"),
        [
            ("DELIVRD", ReceiptState.DELIVERED),
            ("Failed", ReceiptState.UNDELIVERED),
            ("queued", ReceiptState.UNDERWAY),
        ],
    )
    def test_a_word_means_a_state(self, fate, word, state):
        assert fate({**TOLD, "state": word}).state is state

    def test_an_unknown_word_is_under_way_and_named(self, fate):
        receipt = fate({**TOLD, "state": "PARKED", "why": "x"})

        assert (receipt.state, receipt.reason) == (
            ReceiptState.UNDERWAY,
            'unknown state "PARKED" x',
        )

    def test_the_carriers_id_is_learnt(self, fate):
        assert fate(TOLD, LOST) == DELIVERED

    def test_an_id_too_long_to_keep_is_not_learnt(self, fate):
        assert fate({**TOLD, "id": "c" * 201}, LOST).reference is None

    @pytest.mark.parametrize(
        "written", [pytest.param(None, id="null"), pytest.param("", id="empty")]
    )
    def test_without_a_time_it_is_the_moment_of_asking(self, fate, written):
        assert fate({**TOLD, "at": written}).at == NOW

    def test_times_are_read_in_their_form_and_zone(self, fate):
        form = {"time": "%d/%m/%Y %H:%M", "zone": "Africa/Harare"}

        assert fate({**TOLD, "at": "12/12/2026 13:58"}, **form) == DELIVERED

    def test_a_plain_text_is_read_by_patterns(self, fate):
        answer = {
            "format": "text",
            "reference": r"<id>(.+?)</id>",
            "client_reference": None,
            "state": r"<state>(.+?)</state>",
            "at": r"<at>(.+?)</at>",
            "reason": None,
            "code": r"<code>(.+?)</code>",
        }
        body = b"<t><id>c-1</id><state>DELIVRD</state><at>2026-12-12T11:58:00Z</at></t>"

        assert fate(Reply(body=body), **answer) == DELIVERED

    def test_of_a_list_ours_is_taken(self, fate):
        other = {**TOLD, "id": "c-2", "ref": "r2", "state": "failed"}

        assert fate({"texts": [other, TOLD]}, texts="texts") == DELIVERED

    def test_the_reason_is_on_one_line_and_names_no_number(self, fate):
        assert fate({**TOLD, "why": "no\nphone 447700900001"}).reason == "no phone …"


class TestNotKnown:
    def test_by_a_status(self, fate):
        assert fate(Reply(404)) == NotKnown()

    def test_by_a_code(self, fate):
        heard = {"codes": ["none"]}

        assert fate({"code": "none"}, not_known=heard) == NotKnown()

    def test_by_a_status_only_with_its_code_where_both_are_given(self, fate):
        heard = {"statuses": [404], "codes": ["none"]}
        fates = [
            fate(json_reply({"code": code}, status), not_known=heard)
            for status, code in ((404, "none"), (404, "route"), (200, "none"))
        ]

        assert [type(each) for each in fates] == [NotKnown, Unsure, Unsure]

    @pytest.mark.parametrize("found", [[], None], ids=["empty list", "null for it"])
    def test_by_an_empty_list(self, fate, found):
        assert fate({"texts": found}, texts="texts", not_known={"empty": True}) == NotKnown()

    def test_not_by_an_empty_list_of_a_bad_answer(self, fate):
        told = fate(json_reply({"texts": []}, 400), texts="texts", not_known={"empty": True})

        assert type(told) is Unsure

    def test_an_empty_list_says_nothing_where_the_profile_does_not_say_so(self, fate):
        assert type(fate({"texts": []}, texts="texts")) is Unsure

    def test_a_missing_list_is_not_an_empty_one(self, fate):
        told = fate({"found": []}, texts="texts", not_known={"empty": True})

        assert type(told) is Unsure

    def test_a_404_says_nothing_where_the_profile_does_not_say_so(self, fate):
        assert type(fate(Reply(404), not_known=None)) is Unsure

    def test_it_is_not_believed_of_a_text_that_may_be_on_its_way(self, fate):
        young = Question("+447700900001", None, "r1", NOW - timedelta(seconds=20))
        told = fate(Reply(404), young)

        assert type(told) is TryLater and told.after_s == 40.0

    def test_it_is_not_believed_of_a_text_that_may_be_forgotten(self, fate):
        old = Question("+447700900001", "c-1", "r1", NOW - timedelta(hours=25))

        assert type(fate(Reply(404), old)) is Unsure


class TestNoAnswer:
    @pytest.mark.parametrize("status", [401, 402, 403, 407, 408, 425, 429, 500, 502, 503, 504])
    def test_a_status_that_says_nothing_of_the_text_is_later(self, fate, status):
        assert type(fate(json_reply(TOLD, status))) is TryLater

    @pytest.mark.parametrize("status", [301, 302, 400, 405, 409, 410, 422])
    def test_any_other_that_is_not_good_is_unsure(self, fate, status):
        assert type(fate(json_reply(TOLD, status))) is Unsure

    def test_retry_after_is_obeyed(self, fate):
        assert fate(Reply(429, headers={"Retry-After": "17"})).after_s == 17.0

    def test_a_code_may_ask_to_wait(self, fate):
        assert type(fate({**TOLD, "code": "busy"})) is TryLater

    @pytest.mark.parametrize(
        "body",
        [
            pytest.param(b"<html>Login</html>", id="HTML"),
            pytest.param(b"", id="nothing"),
            pytest.param(b'{"state": "DELIVRD"', id="cut JSON"),
            pytest.param(b'{"state": "DELIVRD", "state": "failed"}', id="a name twice"),
        ],
    )
    def test_what_cannot_be_read_is_asked_again(self, fate, body):
        assert type(fate(Reply(body=body))) is TryLater

    @pytest.mark.parametrize(
        "value",
        [
            pytest.param({**TOLD, "ref": "r2"}, id="another text by our id"),
            pytest.param({**TOLD, "id": "c-2"}, id="another text by the carrier's"),
            pytest.param({"state": "DELIVRD"}, id="no id"),
            pytest.param({"id": "c-1", "ref": "r1"}, id="no state"),
            pytest.param({**TOLD, "state": {}}, id="state is a table"),
            pytest.param({**TOLD, "at": "noon"}, id="no time"),
            pytest.param({**TOLD, "why": "\ud800"}, id="half a letter"),
            pytest.param([TOLD], id="another shape"),
        ],
    )
    def test_what_does_not_speak_of_this_text_is_unsure(self, fate, value):
        assert type(fate(value)) is Unsure

    def test_several_texts_that_cannot_be_told_apart_are_unsure(self, fate):
        told = fate([TOLD, TOLD], LOST, texts="texts", client_reference=None)
        same = fate({"texts": [TOLD, TOLD]}, LOST, texts="texts", client_reference=None)

        assert [type(told), type(same)] == [Unsure, Unsure]

    def test_one_text_of_a_list_needs_no_telling_apart(self, fate):
        assert fate({"texts": [TOLD]}, LOST, texts="texts", client_reference=None) == DELIVERED

    @pytest.mark.parametrize(
        "parts",
        [
            pytest.param([], id="at once"),
            pytest.param([b"HTTP/1.1 200 OK\r\nContent-Length: 90\r\n\r\n{"], id="in the body"),
            pytest.param([b"HTTP/1.1 200"], id="in the head"),
        ],
    )
    def test_a_cut_connection_is_later(self, fate, parts):
        assert type(fate(Reply(raw=lambda wait: parts))) is TryLater

    def test_silence_is_later(self, carrier, gateway_of):
        carrier.script.append(Reply(raw=lambda wait: [b""] if wait(5) else []))
        limits = {"read_s": 0.2, "total_s": 0.5}
        with pytest.raises(TryLater):
            gateway_of(asking(carrier.address), limits=limits).ask(QUESTION)

    def test_no_connection_is_later(self, carrier, gateway_of):
        gateway = gateway_of(asking(carrier.address))
        carrier.close()
        with pytest.raises(TryLater, match="no connection"):
            gateway.ask(QUESTION)

    def test_a_private_address_is_not_reached_unless_allowed(self, carrier, gateway_of):
        gateway = gateway_of(asking(carrier.address), allow_private_addresses=False)
        with pytest.raises(TryLater, match="not public"):
            gateway.ask(QUESTION)

        assert carrier.received == []

    def test_a_redirect_is_not_followed(self, fate, carrier):
        told = fate(Reply(302, headers={"Location": carrier.address}))

        assert type(told) is Unsure and len(carrier.received) == 1

    @settings(max_examples=60, deadline=None)
    @given(
        body=st.binary(max_size=60)
        | st.dictionaries(st.sampled_from([*TOLD, "code"]), st.text(max_size=4)).map(
            lambda value: json.dumps(value).encode()
        ),
        status=st.integers(200, 599).filter(lambda each: each not in (204, 304)),
    )
    def test_no_answer_means_more_than_it_says(self, one_gateway, body, status):
        carrier, gateway = one_gateway
        carrier.script.append(Reply(status, body))
        try:
            told = gateway.ask(QUESTION)
        except (TryLater, Unsure):
            return

        assert told == NotKnown() if status == 404 else told.client_reference == "r1"


@pytest.fixture(scope="module")
def one_gateway():
    """The same for every generated answer."""
    with HttpCarrier() as carrier:
        table = asking(carrier.address)
        gateway = HttpGateway(http_profile(carrier.address, asking=table), now=lambda: NOW)
        yield carrier, gateway
        gateway.close()


@pytest.mark.parametrize("place", ["query", "field", "header"])
def test_no_secret_or_number_reaches_logs_errors_or_reasons(carrier, gateway_of, caplog, place):
    caplog.set_level(logging.DEBUG)
    echo = "k3y-of-the-programme for 447700900001"
    carrier.script += [
        json_reply({"why": echo}, 400),
        json_reply({"why": echo}, 503),
        Reply(raw=lambda wait: [b"HTTP/1.1 200 OK\r\nbad header\r\n\r\n" + echo.encode()]),
        Reply(raw=lambda wait: []),
        Reply(body=echo.encode()),
        json_reply({**TOLD, "at": echo}),
    ]
    credentials = ({"secret_file": "key", "in": place, "name": "key"},)
    gateway = gateway_of(asking(carrier.address), credentials=credentials)
    said = []
    for _ in range(len(carrier.script)):
        with pytest.raises((TryLater, Unsure)) as error:
            gateway.ask(QUESTION)
        said.append(f"{error.value!r} {error.value.__cause__!r} {gateway!r}")
    carrier.script.append(json_reply({**TOLD, "why": echo}))
    said.append(repr(gateway.ask(QUESTION).reason))
    carrier.close()
    with pytest.raises(TryLater) as error:
        gateway.ask(QUESTION)
    told = "\n".join([*said, f"{error.value!r} {error.value.__cause__!r}", caplog.text])

    assert not [part for part in ("k3y", "447700900001") if part in told]
