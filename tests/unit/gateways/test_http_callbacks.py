"""Calls that an HTTP carrier makes to us: whose they are, and what they bring."""

import base64
import hashlib
import hmac
import json
import logging
from datetime import UTC, datetime, timedelta
from urllib.parse import urlencode

import pytest
from http_carrier import http_profile
from hypothesis import given
from hypothesis import strategies as st

from gateways.errors import Forged, Unreadable
from gateways.http.gateway import HttpGateway
from gateways.protocol import Callback, Incoming, Receipt, ReceiptState

NOW = datetime(2026, 12, 12, 12, 0, tzinfo=UTC)
SENT = "2026-12-12T13:58:00+02:00"
SENT_AT = datetime(2026, 12, 12, 11, 58, tzinfo=UTC)

# The worked example of the Standard Webhooks specification and its libraries.
EXAMPLE_KEY = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
EXAMPLE = {
    "webhook-id": "msg_p5jXN8AQM9LWM0D4loKWxJek",
    "webhook-timestamp": "1614265330",
    "webhook-signature": "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=",
}
EXAMPLE_BODY = b'{"test": 2432232314}'

RECEIPTS = {
    "reference": "id",
    "client_reference": "ref",
    "state": "state",
    "states": {"delivered": ["DELIVRD", 1], "undelivered": ["failed"], "underway": ["queued"]},
    "at": "at",
    "reason": "why",
}
INBOUND = {"message_id": "id", "sender": "from", "body": "text", "at": "at"}
RECEIPT = {"id": "c-1", "ref": "r1", "state": "delivrd", "at": SENT, "why": "000"}
TEXT = {"id": "m1", "from": "+447700900001", "text": "RAIN 12 NOV", "at": SENT}


def called(body=b"", headers=None, query="", at=NOW):
    method = "GET" if query else "POST"
    return Callback(method, {"x-token": "new", **(headers or {})}, query, body, at)


def made_in(folder, **table):
    """A gateway by its callbacks table; the token is ``new`` or ``old``. It opens nothing."""
    for name in ("new", "old"):
        (folder / name).write_text(name)
    callbacks = {
        "format": "json",
        "check": {"scheme": "token", "header": "X-Token", "secret_files": ["new", "old"]},
        "receipts": RECEIPTS,
        "inbound": INBOUND,
        **table,
    }
    given_parts = {name: value for name, value in callbacks.items() if value is not None}
    return HttpGateway(http_profile("http://127.0.0.1/", folder, callbacks=given_parts))


@pytest.fixture
def gateway_of(tmp_path):
    return lambda **table: made_in(tmp_path, **table)


@pytest.fixture(scope="module")
def one_gateway(tmp_path_factory):
    """The same for every generated call."""
    return made_in(tmp_path_factory.mktemp("http"))


@pytest.fixture
def events(gateway_of):
    """Events of one JSON body."""

    def read(value, **table):
        body = value if isinstance(value, bytes) else json.dumps(value).encode()
        return gateway_of(**table).events(called(body))

    return read


class TestReceipts:
    def test_every_part_is_read(self, events):
        assert events(RECEIPT) == [Receipt("c-1", "r1", ReceiptState.DELIVERED, SENT_AT, "000")]

    @pytest.mark.parametrize(
        ("word", "state"),
        [
            ("DELIVRD", ReceiptState.DELIVERED),
            (1, ReceiptState.DELIVERED),
            ("Failed", ReceiptState.UNDELIVERED),
            ("queued", ReceiptState.UNDERWAY),
        ],
    )
    def test_a_word_means_a_state(self, events, word, state):
        assert events({**RECEIPT, "state": word})[0].state is state

    def test_an_unknown_word_is_under_way_and_named(self, events):
        [receipt] = events({**RECEIPT, "state": "PARKED"})

        assert (receipt.state, receipt.reason) == (
            ReceiptState.UNDERWAY,
            'unknown state "PARKED" 000',
        )

    def test_either_reference_will_do(self, events):
        ours, theirs = ({n: v for n, v in RECEIPT.items() if n != gone} for gone in ("id", "ref"))

        assert [(r.reference, r.client_reference) for r in events([ours, theirs])] == [
            (None, "r1"),
            ("c-1", None),
        ]

    def test_without_a_place_of_time_it_is_when_the_call_came(self, events):
        receipts = {name: place for name, place in RECEIPTS.items() if name != "at"}

        assert events(RECEIPT, receipts=receipts)[0].at == NOW

    def test_ids_that_are_numbers_are_words(self, events):
        assert events({**RECEIPT, "id": 77})[0].reference == "77"


class TestTexts:
    def test_every_part_is_read(self, events):
        assert events(TEXT) == [Incoming("m1", "+447700900001", b"RAIN 12 NOV", SENT_AT)]

    def test_a_plus_sign_is_added_where_numbers_come_without(self, events):
        inbound = {**INBOUND, "add_plus": True}
        texts = [{**TEXT, "from": sender} for sender in ("447700900001", "+447700900001", "INFO")]

        assert [each.sender for each in events(texts, inbound=inbound)] == [
            "+447700900001",
            "+447700900001",
            "INFO",
        ]

    @pytest.mark.parametrize(
        ("text", "raw"),
        [
            pytest.param("", b"", id="empty"),
            pytest.param(" RAIN\n", b" RAIN\n", id="blanks stay"),
            pytest.param("até ✓", "até ✓".encode(), id="other letters"),
            pytest.param("a\x00b", b"a\x00b", id="NUL"),
            pytest.param("\ud83d", b"\xed\xa0\xbd", id="half a letter"),
        ],
    )
    def test_the_body_comes_as_it_is(self, events, text, raw):
        assert events({**TEXT, "text": text})[0].body == raw

    def test_without_ids_the_same_text_has_the_same_id(self, events):
        inbound = {name: place for name, place in INBOUND.items() if name != "message_id"}
        later = {**TEXT, "at": "2026-12-12T12:00:00Z"}
        one, again, other = events([TEXT, TEXT, later], inbound=inbound)

        assert one.message_id == again.message_id != other.message_id


class TestForms:
    def test_a_form_is_read(self, gateway_of):
        body = urlencode({**TEXT, "text": "RAIN + 12 ✓"}).encode()

        assert gateway_of(format="form").events(called(body)) == [
            Incoming("m1", "+447700900001", "RAIN + 12 ✓".encode(), SENT_AT)
        ]

    def test_a_query_is_read(self, gateway_of):
        [receipt] = gateway_of(format="query").events(called(query=urlencode(RECEIPT)))

        assert receipt.reference == "c-1"

    def test_bytes_of_a_form_stay_what_they_are(self, gateway_of):
        body = urlencode({**TEXT, "text": b"\xff\xfe12"}).encode()

        assert gateway_of(format="form").events(called(body))[0].body == b"\xff\xfe12"

    def test_names_of_a_form_may_hold_dots(self, gateway_of):
        inbound = {**INBOUND, "body": "msg.text"}
        body = urlencode({**TEXT, "msg.text": "HELP"}).encode()

        assert gateway_of(format="form", inbound=inbound).events(called(body))[0].body == b"HELP"

    @pytest.mark.parametrize(
        "body",
        [
            pytest.param("text=até".encode(), id="not encoded"),
            pytest.param(b"&".join([b"a=1"] * 5_000), id="too many parts"),
        ],
    )
    def test_a_form_that_is_none_is_unreadable(self, gateway_of, body):
        with pytest.raises(Unreadable, match="the form cannot be read"):
            gateway_of(format="form").events(called(body))


class TestTimes:
    @pytest.mark.parametrize(
        ("form", "written"),
        [
            ("iso", "2026-12-12T11:58:00Z"),
            ("iso", "2026-12-12T13:58:00+02:00"),
            ("iso", "2026-12-12 11:58:00"),
            ("epoch-s", 1797076680),
            ("epoch-s", "1797076680.0"),
            ("epoch-ms", 1797076680000),
            ("%y%m%d%H%M", "2612121158"),
            ("%d/%m/%Y %H:%M:%S %z", "12/12/2026 13:58:00 +0200"),
        ],
    )
    def test_a_time_is_read(self, events, form, written):
        assert events({**TEXT, "at": written}, time=form)[0].sent_at == SENT_AT

    def test_a_time_without_a_zone_is_of_the_profiles(self, events):
        [text] = events({**TEXT, "at": "2026-12-12T13:58:00"}, zone="Africa/Harare")

        assert text.sent_at == SENT_AT

    @pytest.mark.parametrize(
        ("form", "written"),
        [
            ("iso", "yesterday"),
            ("iso", "0001-01-01T00:00:00+14:00"),
            ("epoch-s", "NaN"),
            ("epoch-s", "1e999"),
            ("epoch-ms", 10**30),
            ("%Y", "26"),
            ("iso", ""),
            ("iso", None),
        ],
    )
    def test_no_time_is_unreadable(self, events, form, written):
        with pytest.raises(Unreadable, match="event 1: at is"):
            events({**TEXT, "at": written}, time=form)


class TestLists:
    def test_events_of_both_kinds_may_come_together(self, events):
        found = events({"events": [RECEIPT, TEXT]}, events="events")

        assert [type(each) for each in found] == [Receipt, Incoming]

    def test_a_list_alone_is_read(self, events):
        assert len(events([TEXT, TEXT])) == 2

    def test_an_empty_list_brings_nothing(self, events):
        assert events([]) == []

    def test_a_field_may_tell_the_kinds_apart(self, events):
        when = {"field": "type", "words": ["mo"]}
        text = {**TEXT, "type": "mo", "state": "read"}
        receipts = {**RECEIPTS, "when": {"field": "type", "words": ["dlr"]}}
        found = events([text], receipts=receipts, inbound={**INBOUND, "when": when})

        assert [type(each) for each in found] == [Incoming]

    def test_events_of_no_use_are_passed_over(self, events):
        ignore = {"field": "type", "words": ["opened"]}

        assert events([{"type": "opened"}], ignore=ignore) == []

    def test_one_bad_event_keeps_no_other_back(self, events, caplog):
        caplog.set_level(logging.WARNING)
        found = events([{"from": "+447700900001", "text": "RAIN"}, TEXT])

        assert len(found) == 1 and "event 1: id is missing" in caplog.text
        assert "447700900001" not in caplog.text and "RAIN" not in caplog.text

    @pytest.mark.parametrize(
        "body",
        [
            pytest.param(b"", id="nothing"),
            pytest.param(b"{", id="cut"),
            pytest.param(b"null", id="null"),
            pytest.param(b"[1, 2]", id="numbers"),
            pytest.param(b"{}", id="an empty object"),
            pytest.param(b'{"id": 1, "id": 2}', id="a name twice"),
            pytest.param(b"[" * 100_000, id="nested beyond reading"),
            pytest.param(b'{"state": "ok"}', id="a receipt of no message"),
            pytest.param(
                json.dumps({**TEXT, "text": ["RAIN"]}).encode(), id="a body that is a list"
            ),
            pytest.param(json.dumps({**TEXT, "id": "\ud800"}).encode(), id="an id that is no text"),
        ],
    )
    def test_a_call_of_which_nothing_can_be_made_is_unreadable(self, events, body):
        with pytest.raises(Unreadable):
            events(body)

    def test_a_place_without_a_list_is_unreadable(self, events):
        with pytest.raises(Unreadable, match="events is no list"):
            events({"events": TEXT}, events="events")

    @given(body=st.binary(max_size=200))
    def test_any_bytes_are_read_or_unreadable(self, one_gateway, body):
        try:
            assert isinstance(one_gateway.events(called(body)), list)
        except Unreadable as error:
            assert str(error)

    @given(
        value=st.recursive(
            st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
            lambda inner: (
                st.lists(inner, max_size=4)
                | st.dictionaries(st.sampled_from([*TEXT, *RECEIPT]), inner, max_size=6)
            ),
        )
    )
    def test_any_json_is_read_or_unreadable(self, one_gateway, value):
        try:
            found = one_gateway.events(called(json.dumps(value).encode()))
        except Unreadable:
            return
        assert all(isinstance(each, Incoming | Receipt) for each in found)


class TestToken:
    @pytest.mark.parametrize("token", ["new", "old"], ids=["newer key", "older key"])
    def test_a_known_token_is_taken(self, gateway_of, token):
        body = json.dumps(TEXT).encode()

        assert len(gateway_of().events(called(body, {"x-token": token}))) == 1

    @pytest.mark.parametrize("token", ["", "ne", "newer", "NEW", "né"])
    def test_any_other_is_forged(self, gateway_of, token):
        with pytest.raises(Forged, match="X-Token holds no token of ours"):
            gateway_of().events(called(json.dumps(TEXT).encode(), {"x-token": token}))

    def test_a_prefix_belongs_to_it(self, gateway_of):
        check = {
            "scheme": "token",
            "header": "Authorization",
            "prefix": "Bearer ",
            "secret_files": ["new"],
        }
        gateway = gateway_of(check=check)
        body = json.dumps(TEXT).encode()

        assert gateway.events(called(body, {"authorization": "Bearer new"}))
        with pytest.raises(Forged):
            gateway.events(called(body, {"authorization": "new"}))

    def test_it_may_stand_in_the_query(self, gateway_of):
        check = {"scheme": "token", "query": "key", "secret_files": ["new"]}
        gateway = gateway_of(check=check, format="query")
        parts = urlencode(TEXT)

        assert gateway.events(called(query=f"{parts}&key=new"))
        for query in (parts, f"{parts}&key=no", "&".join(["a=1"] * 500)):
            with pytest.raises(Forged):
                gateway.events(called(query=query))

    def test_a_forged_call_is_not_read(self, gateway_of):
        with pytest.raises(Forged):
            gateway_of().events(called(b"{", {"x-token": "no"}))


class TestBodySignature:
    BODY = json.dumps(TEXT).encode()

    @pytest.fixture
    def gateway(self, gateway_of):
        check = {
            "scheme": "hmac-sha256",
            "header": "X-Signature",
            "prefix": "sha256=",
            "secret_files": ["new", "old"],
        }
        return gateway_of(check=check)

    def signed(self, key=b"new", body=BODY):
        return f"sha256={hmac.new(key, body, hashlib.sha256).hexdigest()}"

    @pytest.mark.parametrize("key", [b"new", b"old"], ids=["newer key", "older key"])
    def test_a_right_signature_is_taken(self, gateway, key):
        assert gateway.events(called(self.BODY, {"x-signature": self.signed(key)}))

    def test_large_letters_are_digits_too(self, gateway):
        given_digits = "sha256=" + self.signed().removeprefix("sha256=").upper()

        assert gateway.events(called(self.BODY, {"x-signature": given_digits}))

    @pytest.mark.parametrize(
        "change",
        [
            pytest.param(lambda right: "", id="none"),
            pytest.param(lambda right: right[:-1], id="cut"),
            pytest.param(lambda right: right.removeprefix("sha256="), id="without its prefix"),
            pytest.param(lambda right: right + "é", id="other letters"),
            pytest.param(lambda right: "sha256=" + "0" * 64, id="wrong"),
        ],
    )
    def test_another_is_forged(self, gateway, change):
        with pytest.raises(Forged):
            gateway.events(called(self.BODY, {"x-signature": change(self.signed())}))

    def test_a_key_of_others_is_forged(self, gateway):
        with pytest.raises(Forged):
            gateway.events(called(self.BODY, {"x-signature": self.signed(b"other")}))

    def test_a_body_that_was_changed_is_forged(self, gateway):
        with pytest.raises(Forged):
            gateway.events(called(self.BODY + b" ", {"x-signature": self.signed()}))


class TestStandardWebhooks:
    @pytest.fixture
    def gateway(self, gateway_of, tmp_path):
        (tmp_path / "webhook").write_text(EXAMPLE_KEY)
        (tmp_path / "webhook-new").write_text("whsec_" + base64.b64encode(b"n" * 32).decode())
        files = ["webhook-new", "webhook"]
        inbound = {"message_id": "test", "sender": "test", "body": "text"}
        check = {"scheme": "standard-webhooks", "secret_files": files}
        return gateway_of(check=check, receipts=None, inbound=inbound)

    def call(self, gateway, body=EXAMPLE_BODY, after_s=0, **changes):
        """The standard's example, some seconds after it was signed; it is no text of ours."""
        headers = {**EXAMPLE, **{f"webhook-{name}": value for name, value in changes.items()}}
        at = datetime.fromtimestamp(1614265330, UTC) + timedelta(seconds=after_s)
        with pytest.raises((Forged, Unreadable)) as error:
            gateway.events(called(body, headers, at=at))
        return type(error.value)

    def test_the_standards_own_example_is_taken(self, gateway):
        assert self.call(gateway) is Unreadable

    @pytest.mark.parametrize("after_s", [300, -300])
    def test_five_minutes_are_borne(self, gateway, after_s):
        assert self.call(gateway, after_s=after_s) is Unreadable

    @pytest.mark.parametrize("after_s", [301, -301])
    def test_a_second_more_is_forged(self, gateway, after_s):
        assert self.call(gateway, after_s=after_s) is Forged

    def test_one_right_signature_among_several_will_do(self, gateway):
        several = f"v1a,xyz v1,AAAA {EXAMPLE['webhook-signature']}"

        assert self.call(gateway, signature=several) is Unreadable

    @pytest.mark.parametrize(
        ("name", "value"),
        [
            pytest.param("signature", "", id="no signature"),
            pytest.param("signature", "v1,", id="an empty one"),
            pytest.param("signature", EXAMPLE["webhook-signature"][:-2], id="a cut one"),
            pytest.param(
                "signature", EXAMPLE["webhook-signature"].replace("v1", "v2"), id="version"
            ),
            pytest.param("id", "", id="no id"),
            pytest.param("id", "msg_other", id="another id"),
            pytest.param("timestamp", "", id="no time"),
            pytest.param("timestamp", "1614265331", id="another time"),
            pytest.param("timestamp", "-1614265330", id="a negative time"),
            pytest.param("timestamp", "16142653\uff130", id="other digits"),
            pytest.param("timestamp", "9" * 400, id="a time beyond counting"),
        ],
    )
    def test_a_wrong_header_is_forged(self, gateway, name, value):
        assert self.call(gateway, **{name: value}) is Forged

    def test_a_body_that_was_changed_is_forged(self, gateway):
        assert self.call(gateway, body=EXAMPLE_BODY + b" ") is Forged

    def test_the_newer_key_is_taken_too(self, gateway):
        digest = hmac.new(b"n" * 32, b"m1.1614265330." + EXAMPLE_BODY, hashlib.sha256).digest()
        signature = f"v1,{base64.b64encode(digest).decode()}"

        assert self.call(gateway, id="m1", signature=signature) is Unreadable


def test_without_a_table_every_call_is_forged():
    gateway = HttpGateway(http_profile("http://127.0.0.1/"))
    with pytest.raises(Forged, match="no call is awaited"):
        gateway.events(called(b"{}"))
    gateway.close()
