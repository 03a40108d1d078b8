"""The HTTP gateway against a carrier on loopback: what is sent, what answers mean, what fails."""

import json
import logging
import socket
import ssl
import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from time import monotonic
from urllib.parse import parse_qs, parse_qsl, urlsplit

import pytest
import trustme
from http_carrier import HttpCarrier, Reply, http_profile, text
from hypothesis import given, settings
from hypothesis import strategies as st

from gateways.errors import Refused, TryLater, Unsure
from gateways.http.gateway import HttpGateway
from gateways.protocol import Taken

NOW = datetime(2026, 12, 12, 12, 0, tzinfo=UTC)
BODY = "Raleia: 50% & mais + {hoje} ✓"


@pytest.fixture
def carrier():
    with HttpCarrier() as made:
        yield made


@pytest.fixture
def gateway_of(tmp_path):
    """Make a gateway by a profile; all are closed at the end."""
    made = []

    def make(address, **tables):
        gateway = HttpGateway(http_profile(address, tmp_path, **tables), now=lambda: NOW)
        made.append(gateway)
        return gateway

    (tmp_path / "key").write_text("k3y-of-the-programme\n")
    yield make
    for gateway in made:
        gateway.close()


@pytest.fixture
def sent(carrier, gateway_of):
    """Send one text by a profile and answer the request that the carrier got."""

    def send(body=BODY, **tables):
        gateway_of(carrier.address, **tables).send(text("r1", body))
        return carrier.received[-1]

    return send


@pytest.fixture
def outcome(gateway_of):
    """What one reply of the carrier makes of a message, and after how long."""

    def answer(reply, **tables):
        with HttpCarrier(reply) as carrier:
            try:
                return gateway_of(carrier.address, **tables).send(text("r1"))
            except (Refused, TryLater, Unsure) as error:
                return error

    return answer


def credential(**parts):
    return {"credentials": ({"secret_file": "key", **parts},)}


class TestRequest:
    def test_a_json_body_may_be_nested(self, sent):
        fields = {"messages": [{"to": ["{to}"], "content": {"text": "{body}"}}], "test": False}

        assert sent(request={"fields": {**fields, "ref": "{reference}"}}).json == {
            "messages": [{"to": ["+447700900001"], "content": {"text": BODY}}],
            "test": False,
            "ref": "r1",
        }

    def test_a_form_holds_the_text_as_it_was(self, sent, carrier):
        carrier.script.append(Reply(body=b'{"id": 1}'))
        received = sent(request={"format": "form"})

        assert dict(parse_qsl(received.body.decode())) == {
            "number": "+447700900001",
            "text": BODY,
            "ref": "r1",
        }
        assert received.headers["Content-Type"] == "application/x-www-form-urlencoded"

    def test_a_query_holds_the_text_as_it_was(self, sent):
        received = sent(request={"method": "GET", "format": "query"})

        assert (received.method, parse_qs(urlsplit(received.target).query)["text"]) == (
            "GET",
            [BODY],
        )

    def test_a_query_of_the_address_is_kept(self, sent, carrier):
        request = {"format": "query", "address": carrier.address + "?version=2"}

        assert "/texts?version=2&number=%2B44" in sent(request=request).target

    def test_the_address_may_hold_our_reference(self, sent, carrier):
        address = carrier.address + "/{reference}"

        assert sent(request={"method": "PUT", "address": address}).target == "/texts/r1"

    @pytest.mark.parametrize(
        ("template", "value"),
        [
            pytest.param("{to_digits}", "447700900001", id="number without plus"),
            pytest.param("{sender}", "FARM", id="sender"),
            pytest.param("{expires_at}", "2026-12-12T16:00:00Z", id="expiry"),
            pytest.param("until {expires_at}", "until 2026-12-12T16:00:00Z", id="inside a text"),
            pytest.param("{{body}}", "{body}", id="braces themselves"),
            pytest.param(7, 7, id="a number"),
        ],
    )
    def test_a_placeholder_stands_for_its_value(self, sent, template, value):
        fields = {"text": "{body}", "to": "{to}", "ref": "{reference}", "extra": template}

        assert sent(request={"sender": "FARM", "fields": fields}).json["extra"] == value

    @pytest.mark.parametrize(
        ("form", "value"),
        [
            ("epoch-s", 1797091200),
            ("epoch-ms", 1797091200000),
            ("seconds-left", 14400),
            ("minutes-left", 240),
            ("%d/%m/%Y %H:%M", "12/12/2026 16:00"),
        ],
    )
    def test_the_expiry_is_written_as_the_carrier_wants_it(self, sent, form, value):
        fields = {"text": "{body}", "to": "{to}", "ref": "{reference}", "end": "{expires_at}"}

        assert sent(request={"expires": form, "fields": fields}).json["end"] == value

    @pytest.mark.parametrize(
        ("body", "value"),
        [
            pytest.param("Thin até 12/12 {€}", 0, id="GSM letters"),
            pytest.param("Thin ✓", 8, id="others"),
        ],
    )
    def test_the_coding_tells_which_letters_come(self, sent, body, value):
        fields = {"text": "{body}", "to": "{to}", "ref": "{reference}", "dcs": "{coding}"}
        request = {"coding": {"gsm": 0, "unicode": 8}, "fields": fields}

        assert sent(body, request=request).json["dcs"] == value

    def test_a_text_that_no_form_can_hold_is_refused(self, carrier, gateway_of):
        gateway = gateway_of(carrier.address, request={"format": "form"})
        with pytest.raises(Refused, match="letters that no request can hold"):
            gateway.send(text("r1", "Thin \ud800"))

        assert carrier.received == []


class TestCredentials:
    def test_a_header_holds_prefix_and_secret(self, sent):
        received = sent(**credential(**{"in": "header", "name": "X-Key", "prefix": "Key "}))

        assert received.headers["X-Key"] == "Key k3y-of-the-programme"

    def test_basic_holds_user_and_secret(self, sent):
        received = sent(**credential(**{"in": "basic", "user": "olmara"}))

        assert received.headers["Authorization"] == ("Basic b2xtYXJhOmszeS1vZi10aGUtcHJvZ3JhbW1l")

    def test_a_query_holds_it(self, sent):
        received = sent(**credential(**{"in": "query", "name": "key"}))

        assert received.target == "/texts?key=k3y-of-the-programme"

    def test_a_field_holds_it(self, sent):
        received = sent(**credential(**{"in": "field", "name": "password"}))

        assert received.json["password"] == "k3y-of-the-programme"

    @pytest.mark.parametrize("place", ["query", "field", "header"])
    def test_no_secret_number_or_text_reaches_logs_or_errors(self, gateway_of, caplog, place):
        caplog.set_level(logging.DEBUG)
        echo = b"HTTP/1.1 200 OK\r\nbad header\r\n\r\n"
        echo += b"k3y-of-the-programme +447700900001 Thin your plot"
        replies = [
            Reply(400, b'{"why": "k3y-of-the-programme for 447700900001: Thin your plot"}'),
            Reply(raw=lambda wait: [echo]),
            Reply(raw=lambda wait: []),
        ]
        said = []
        with HttpCarrier(*replies) as carrier:
            gateway = gateway_of(carrier.address, **credential(**{"in": place, "name": "key"}))
            for _ in range(3):
                with pytest.raises((Refused, Unsure)) as error:
                    gateway.send(text("r1"))
                said.append(f"{error.value!r} {error.value.__cause__!r} {gateway!r}")
        with pytest.raises(TryLater) as error:
            gateway.send(text("r1"))
        told = "\n".join([*said, f"{error.value!r} {error.value.__cause__!r}", caplog.text])

        assert not [part for part in ("k3y", "447700900001", "Thin") if part in told]


CODES = {
    "code": "code",
    "reason": "why",
    "codes": {"taken": (0, "ok"), "refused": (4, "bad"), "later": (7,), "unsure": (9,)},
}


class TestAnswers:
    @pytest.mark.parametrize(
        ("status", "kind"),
        [
            (200, Taken),
            (202, Taken),
            (301, Unsure),
            (302, Unsure),
            (400, Refused),
            (401, Refused),
            (403, Refused),
            (404, Refused),
            (408, Unsure),
            (409, Unsure),
            (410, Refused),
            (413, Refused),
            (422, Refused),
            (425, TryLater),
            (429, TryLater),
            (500, Unsure),
            (501, Unsure),
            (502, Unsure),
            (503, TryLater),
            (504, Unsure),
            (599, Unsure),
        ],
    )
    def test_a_status_means(self, outcome, status, kind):
        assert type(outcome(Reply(status, b'{"id": "c-1"}'))) is kind

    def test_a_profile_may_say_otherwise(self, outcome):
        statuses = {"402": "later", "409": "taken", "500": "refused"}
        kinds = [
            type(outcome(Reply(status, b'{"id": 1}'), answer={"statuses": statuses}))
            for status in (402, 409, 500)
        ]

        assert kinds == [TryLater, Taken, Refused]

    @pytest.mark.parametrize(
        ("place", "body", "reference"),
        [
            pytest.param("id", b'{"id": "a1"}', "a1", id="a text"),
            pytest.param(
                "id", b'{"id": 12345678901234567890}', "12345678901234567890", id="number"
            ),
            pytest.param("messages.0.id", b'{"messages": [{"id": "a1"}]}', "a1", id="in a list"),
            pytest.param("data.sms.ref", b'{"data": {"sms": {"ref": " a1 "}}}', "a1", id="deep"),
            pytest.param("0", b'["a1"]', "a1", id="a list alone"),
        ],
    )
    def test_the_id_stands_at_a_path(self, outcome, place, body, reference):
        assert outcome(Reply(body=body), answer={"reference": place}) == Taken(reference)

    @pytest.mark.parametrize(
        ("pattern", "body", "reference"),
        [
            pytest.param(r"^OK: (\S+)", b"OK: a1\r\n", "a1", id="plain text"),
            pytest.param(r"<id>([^<]+)</id>", b"<r><id>a1</id></r>", "a1", id="XML"),
        ],
    )
    def test_the_id_is_found_by_a_pattern(self, outcome, pattern, body, reference):
        answer = {"format": "text", "reference": pattern}

        assert outcome(Reply(body=body), answer=answer) == Taken(reference)

    @pytest.mark.parametrize(
        "body",
        [
            pytest.param(b"<html>Login</html>", id="HTML"),
            pytest.param(b"", id="nothing"),
            pytest.param(b'{"id": "a1"', id="cut JSON"),
            pytest.param('{"id": "até"}'.encode("latin-1"), id="wrong charset"),
            pytest.param('{"id": "a1"}'.encode("utf-16"), id="UTF-16"),
            pytest.param(b'{"id": "a1", "id": "b2"}', id="a name twice"),
            pytest.param(b'{"ok": true}', id="no id"),
            pytest.param(b'{"id": null}', id="id is null"),
            pytest.param(b'{"id": " "}', id="id is blank"),
            pytest.param(b'{"id": ["a1"]}', id="id is a list"),
            pytest.param(b"[]", id="another shape"),
            pytest.param(b"[" * 30_000, id="nested beyond reading"),
            pytest.param(b'{"id": "' + b"a" * 201 + b'"}', id="id too long"),
            pytest.param(b'{"id": "a\\u00001"}', id="id with a zero in it"),
            pytest.param(b'{"id": "\\ud800"}', id="id of half a letter"),
        ],
    )
    def test_a_good_status_without_a_readable_id_leaves_it_unsure(self, outcome, body):
        assert type(outcome(Reply(body=body))) is Unsure

    def test_an_unreadable_answer_is_shown_shortened(self, outcome):
        body = b"<html>\n<p>Pay here</p>" + b"x" * 500

        assert "status 200: <html> <p>Pay here</p>xxx" in outcome(Reply(body=body)).reason

    @pytest.mark.parametrize(
        ("body", "kind"),
        [
            pytest.param({"code": 0, "id": "a1"}, Taken, id="taken"),
            pytest.param({"code": "ok", "id": "a1"}, Taken, id="taken by a word"),
            pytest.param({"code": 4, "id": "a1"}, Refused, id="refused"),
            pytest.param({"code": "7"}, TryLater, id="later"),
            pytest.param({"code": 9, "id": "a1"}, Unsure, id="unsure"),
            pytest.param({"code": 5, "id": "a1"}, Unsure, id="unknown"),
            pytest.param({"id": "a1"}, Unsure, id="missing though taken codes are known"),
            pytest.param({"code": 0}, Unsure, id="taken without an id"),
        ],
    )
    def test_a_code_in_a_good_answer_means(self, outcome, body, kind):
        reply = Reply(body=json.dumps(body).encode())

        assert type(outcome(reply, answer=CODES)) is kind

    def test_a_code_goes_before_the_status(self, outcome):
        assert type(outcome(Reply(400, b'{"code": 7}'), answer=CODES)) is TryLater

    def test_without_taken_codes_an_answer_without_code_is_taken(self, outcome):
        answer = {"code": "error", "codes": {"refused": (4,)}}

        assert outcome(Reply(body=b'{"id": "a1", "error": null}'), answer=answer) == Taken("a1")

    def test_a_carrier_without_ids_gets_ours(self, outcome):
        answer = {
            "format": "text",
            "reference": None,
            "code": "^(OK|ERR)",
            "codes": {"taken": ("OK",)},
        }

        assert outcome(Reply(body=b"OK"), answer=answer) == Taken("r1")

    def test_a_reason_names_status_code_and_words(self, outcome):
        refused = outcome(Reply(422, b'{"code": 4, "why": "no such number"}'), answer=CODES)

        assert refused.reason == "status 422, code 4: no such number"

    def test_a_compressed_answer_is_read(self, outcome):
        import gzip

        body = gzip.compress(b'{"id": "a1"}')

        assert outcome(Reply(body=body, headers={"Content-Encoding": "gzip"})) == Taken("a1")


class TestWaiting:
    @pytest.mark.parametrize("status", [429, 503])
    @pytest.mark.parametrize(
        ("header", "after_s"),
        [
            pytest.param("120", 120, id="seconds"),
            pytest.param("Sat, 12 Dec 2026 12:05:00 GMT", 300, id="a date"),
            pytest.param("Saturday, 12-Dec-26 12:05:00 GMT", 300, id="a date of old"),
            pytest.param("0", 1, id="none at all"),
            pytest.param("-5", 60, id="negative"),
            pytest.param("1000000000", 86_400, id="beyond a day"),
            pytest.param("9" * 5000, 86_400, id="beyond counting"),
            pytest.param("Sat, 12 Dec 2020 12:05:00 GMT", 60, id="a date gone by"),
            pytest.param("Fri, 31 Dec 9999 23:59:59 GMT", 86_400, id="a date far off"),
            pytest.param("Sat, 99 Dec 2026 12:05:00 GMT", 60, id="no date"),
            pytest.param("soon", 60, id="garbage"),
            pytest.param("1.5", 60, id="a fraction"),
        ],
    )
    def test_retry_after_is_obeyed_within_bounds(self, outcome, status, header, after_s):
        assert outcome(Reply(status, headers={"Retry-After": header})).after_s == after_s

    def test_without_it_the_profile_says_how_long(self, outcome):
        assert outcome(Reply(429), answer={"retry_s": 15.0}).after_s == 15


def drip(wait):
    yield b"HTTP/1.1 200 OK\r\nContent-Length: 1000\r\n\r\n"
    while not wait(0.05):
        yield b"{"


def drip_headers(wait):
    yield b"HTTP/1.1 200 OK\r\n"
    for number in range(1000):
        if wait(0.05):
            return
        yield f"X-{number}: 1\r\n".encode()


def silence(wait):
    wait(20)
    yield b""


def endless(start):
    def raw(wait):
        yield start
        while not wait(0):
            yield b"a" * 65_536

    return raw


STARTS = [
    b"",
    b"HTTP/1.1 200 OK\r\n",
    b"HTTP/1.1 200 OK\r\n\r\n",
    b"HTTP/1.1 429 Slow\r\nRetry-After: ",
    b"HTTP/1.1 200 OK\r\nContent-Length: ",
    b"HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n",
    b"HTTP/1.1 200 OK\r\nContent-Encoding: gzip\r\n\r\n\x1f\x8b",
]
FAST = {"limits": {"read_s": 0.25, "total_s": 0.5}}


class TestFaults:
    @pytest.mark.parametrize(
        "raw",
        [
            pytest.param(silence, id="accepts then silent"),
            pytest.param(drip, id="a byte now and then"),
            pytest.param(drip_headers, id="a header now and then"),
            pytest.param(
                endless(b"HTTP/1.1 200 OK\r\nConnection: close\r\n\r\n"), id="endless body"
            ),
            pytest.param(
                endless(b"HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n"),
                id="endless chunk size",
            ),
            pytest.param(endless(b"HTTP/1.1 200 OK\r\nX: "), id="endless header"),
            pytest.param(endless(b""), id="endless status line"),
            pytest.param(lambda wait: [], id="cut before the answer"),
            pytest.param(lambda wait: [b"HTTP/1.1 200 OK\r\nConte"], id="cut in the headers"),
            pytest.param(
                lambda wait: [b'HTTP/1.1 200 OK\r\nContent-Length: 50\r\n\r\n{"id": 1}'],
                id="cut in the body",
            ),
            pytest.param(lambda wait: [b"220 mail.example ESMTP\r\n"], id="not HTTP"),
            pytest.param(
                lambda wait: [b"HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n{}"],
                id="garbage chunk size",
            ),
            pytest.param(
                lambda wait: [
                    b"HTTP/1.1 200 OK\r\nContent-Length: 1\r\nContent-Length: 2\r\n\r\n{}"
                ],
                id="two lengths",
            ),
            pytest.param(
                lambda wait: [b"HTTP/1.1 200 OK\r\nContent-Encoding: gzip\r\n\r\nplain"],
                id="no gzip though it says so",
            ),
        ],
    )
    def test_a_broken_answer_leaves_it_unsure_in_time(self, outcome, raw):
        began = monotonic()
        answer = outcome(Reply(raw=raw), **FAST)

        assert type(answer) is Unsure and monotonic() - began < 2

    @settings(max_examples=60)
    @given(start=st.sampled_from(STARTS), rest=st.binary(max_size=120))
    def test_any_bytes_are_one_of_the_four_outcomes(self, start, rest):
        with HttpCarrier(Reply(raw=lambda wait: [start + rest])) as carrier:
            gateway = HttpGateway(http_profile(carrier.address, **FAST))
            try:
                assert gateway.send(text("r1")).reference
            except (Refused, TryLater, Unsure) as error:
                assert error.reason
            finally:
                gateway.close()

    def test_a_body_above_the_bound_is_not_taken(self, outcome):
        body = b'{"id": "a1", "pad": "' + b"x" * 300 + b'"}'

        assert type(outcome(Reply(body=body), limits={"answer_bytes": 256})) is Unsure

    def test_a_small_body_that_unpacks_beyond_the_bound_is_not_taken(self, outcome):
        import gzip

        body = gzip.compress(b'{"id": "a1"}' + b" " * 5_000_000)

        assert type(outcome(Reply(body=body, headers={"Content-Encoding": "gzip"}))) is Unsure

    def test_a_refused_connection_is_later(self, gateway_of):
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            address = f"http://127.0.0.1:{free.getsockname()[1]}/"
        with pytest.raises(TryLater, match="no connection to the carrier: Connection refused"):
            gateway_of(address).send(text("r1"))

    def test_a_name_that_is_not_found_is_later(self, gateway_of, monkeypatch):
        def unknown(*_args, **_more):
            raise socket.gaierror(socket.EAI_NONAME, "Name or service not known")

        monkeypatch.setattr(socket, "getaddrinfo", unknown)
        with pytest.raises(TryLater, match="Name or service not known"):
            gateway_of("http://api.carrier.example/").send(text("r1"))

    def test_a_host_that_does_not_answer_is_later_within_the_time_to_connect(self, gateway_of):
        with socket.socket() as full:
            full.bind(("127.0.0.1", 0))
            full.listen(0)
            waiting = [socket.socket() for _ in range(3)]
            for each in waiting:  # fill the queue of connections, so that the next is not taken
                each.setblocking(False)
                each.connect_ex(full.getsockname())
            gateway = gateway_of(
                f"http://127.0.0.1:{full.getsockname()[1]}/", limits={"connect_s": 0.3}
            )
            with pytest.raises(TryLater, match="timed out"):
                gateway.send(text("r1"))
            for each in waiting:
                each.close()

    def test_a_redirect_is_not_followed(self, carrier, outcome):
        for status in (301, 302, 303, 307, 308):
            moved = Reply(status, headers={"Location": carrier.address})

            assert type(outcome(moved)) is Unsure
        assert carrier.received == []

    def test_a_connection_closed_while_idle_is_opened_anew(self, carrier, gateway_of):
        gateway = gateway_of(carrier.address)
        gateway.send(text("r1"))
        carrier.cut_connections()

        assert gateway.send(text("r2")) == Taken("c-2")

    def test_a_slow_answer_keeps_no_other_thread(self, gateway_of):
        with HttpCarrier(Reply(raw=silence)) as carrier:
            gateway = gateway_of(carrier.address)
            with ThreadPoolExecutor(1) as pool:
                slow = pool.submit(gateway.send, text("slow"))
                while not carrier.received:
                    threading.Event().wait(0.01)
                began = monotonic()
                gateway.send(text("fast"))

                assert monotonic() - began < 1
                carrier.close()
                assert type(slow.exception(5)) is Unsure


class TestEncryption:
    @pytest.fixture(scope="class")
    @classmethod
    def authority(cls):
        return trustme.CA()

    @pytest.fixture
    def secured(self, authority, gateway_of, tmp_path):
        """Send one text to a carrier with some certificate; answers id or error."""

        def send(certificate, trusted=authority):
            tls = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
            certificate.configure_cert(tls)
            trusted.cert_pem.write_to_path(str(tmp_path / "ca.pem"))
            with HttpCarrier(tls=tls) as carrier:
                gateway = gateway_of(
                    f"https://127.0.0.1:{carrier.port}/",
                    ca_file=str(tmp_path / "ca.pem"),
                    allow_unencrypted=False,
                )
                try:
                    return gateway.send(text("r1")), len(carrier.received)
                except TryLater as error:
                    return error.reason, len(carrier.received)

        return send

    def test_a_valid_certificate_is_taken(self, secured, authority):
        assert secured(authority.issue_cert("127.0.0.1")) == (Taken("c-1"), 1)

    def test_an_expired_one_is_not(self, secured, authority):
        expired = authority.issue_cert("127.0.0.1", not_after=datetime.now(UTC) - timedelta(days=1))

        assert secured(expired) == (
            "no connection to the carrier: its certificate is not valid: certificate has expired",
            0,
        )

    def test_one_of_another_host_is_not(self, secured, authority):
        reason, received = secured(authority.issue_cert("other.example"))

        assert "IP address mismatch" in reason and received == 0

    def test_one_of_another_authority_is_not(self, secured):
        reason, received = secured(trustme.CA().issue_cert("127.0.0.1"))

        assert "its certificate is not valid" in reason and received == 0

    def test_one_of_no_known_authority_is_not(self, authority, gateway_of):
        tls = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        authority.issue_cert("127.0.0.1").configure_cert(tls)
        with HttpCarrier(tls=tls) as carrier:
            with pytest.raises(TryLater, match="its certificate is not valid"):
                gateway_of(f"https://127.0.0.1:{carrier.port}/").send(text("r1"))

            assert carrier.received == []

    def test_a_port_that_speaks_no_tls_is_later(self, carrier, gateway_of):
        with pytest.raises(TryLater, match="no connection"):
            gateway_of(f"https://127.0.0.1:{carrier.port}/").send(text("r1"))


class TestAddressGuard:
    @pytest.fixture
    def lookups(self, monkeypatch):
        """Names that resolve to given addresses, one list after the other."""
        real = socket.getaddrinfo
        known = {}
        asked = []

        def look_up(host, port, *args, **more):
            if host not in known:
                return real(host, port, *args, **more)
            asked.append(host)
            answers = known[host]
            addresses = answers.pop(0) if len(answers) > 1 else answers[0]
            return [each for one in addresses for each in real(one, port, *args, **more)]

        monkeypatch.setattr(socket, "getaddrinfo", look_up)
        known["asked"] = asked
        return known

    @pytest.mark.parametrize(
        "host",
        [
            pytest.param("127.0.0.1", id="loopback"),
            pytest.param("localhost", id="its name"),
            pytest.param("2130706433", id="decimal"),
            pytest.param("0x7f000001", id="hexadecimal"),
            pytest.param("127.1", id="short"),
            pytest.param("0.0.0.0", id="any"),
            pytest.param("[::ffff:127.0.0.1]", id="IPv4 in IPv6"),
        ],
    )
    def test_a_private_address_is_never_reached(self, carrier, gateway_of, host):
        gateway = gateway_of(f"http://{host}:{carrier.port}/", allow_private_addresses=False)
        with pytest.raises(TryLater, match="which is not public"):
            gateway.send(text("r1"))

        assert carrier.connections == 0

    def test_a_name_that_leads_to_one_is_not_followed(self, carrier, gateway_of, lookups):
        lookups["api.carrier.example"] = [["127.0.0.1"]]
        address = f"http://api.carrier.example:{carrier.port}/"
        with pytest.raises(TryLater, match=r"stands at 127\.0\.0\.1, which is not public"):
            gateway_of(address, allow_private_addresses=False).send(text("r1"))

        assert carrier.connections == 0

    def test_a_name_is_looked_up_once_and_what_was_checked_is_reached(
        self, gateway_of, lookups, monkeypatch
    ):
        reached = []

        def connect(_self, peer):
            reached.append(peer)
            raise ConnectionRefusedError(111, "Connection refused")

        monkeypatch.setattr(socket.socket, "connect", connect)
        lookups["api.carrier.example"] = [["11.22.33.44"], ["127.0.0.1"]]
        gateway = gateway_of("http://api.carrier.example/", allow_private_addresses=False)
        with pytest.raises(TryLater):
            gateway.send(text("r1"))

        assert (reached, lookups["asked"]) == ([("11.22.33.44", 80)], ["api.carrier.example"])

    def test_every_new_connection_is_checked(self, carrier, gateway_of, lookups, monkeypatch):
        monkeypatch.setattr("gateways.http.connection.is_public", lambda ip: ip == "127.0.0.1")
        lookups["api.carrier.example"] = [["127.0.0.1"], ["127.0.0.2"]]
        gateway = gateway_of(
            f"http://api.carrier.example:{carrier.port}/", allow_private_addresses=False
        )
        gateway.send(text("r1"))
        carrier.cut_connections()
        with pytest.raises(TryLater, match=r"stands at 127\.0\.0\.2"):
            gateway.send(text("r2"))

    def test_the_next_address_is_tried_if_one_fails(self, carrier, gateway_of, lookups):
        lookups["api.carrier.example"] = [["::1", "127.0.0.1"]]
        gateway = gateway_of(f"http://api.carrier.example:{carrier.port}/")

        assert gateway.send(text("r1")) == Taken("c-1")

    def test_a_proxy_of_the_machine_is_not_used(self, carrier, gateway_of, monkeypatch):
        monkeypatch.setenv("http_proxy", "http://127.0.0.1:9")

        assert gateway_of(carrier.address).send(text("r1")) == Taken("c-1")


class TestPool:
    def test_one_thread_keeps_one_connection(self, carrier, gateway_of):
        gateway = gateway_of(carrier.address)
        for number in range(30):
            gateway.send(text(f"r{number}"))

        assert carrier.connections == 1

    def test_a_refusal_keeps_it_too(self, carrier, gateway_of):
        carrier.script[:] = [Reply(400, b'{"why": "no"}'), Reply(429), Reply(200)]
        gateway = gateway_of(carrier.address)
        for number in range(4):
            try:
                gateway.send(text(f"r{number}"))
            except (Refused, TryLater, Unsure):
                continue

        assert (len(carrier.received), carrier.connections) == (4, 1)

    def test_eight_threads_keep_no_more_than_eight(self, carrier, gateway_of):
        gateway = gateway_of(carrier.address)
        with ThreadPoolExecutor(8) as pool:
            ids = list(pool.map(gateway.send, [text(f"r{number}") for number in range(200)]))

        assert len(set(ids)) == 200 and carrier.connections <= 8

    def test_no_cookie_is_given_back(self, carrier, gateway_of):
        carrier.script[:] = [Reply(body=b'{"id": 1}', headers={"Set-Cookie": "session=1"})]
        gateway = gateway_of(carrier.address)
        gateway.send(text("r1"))
        gateway.send(text("r2"))

        assert "Cookie" not in carrier.received[1].headers

    def test_closing_lets_go_of_every_connection(self, carrier, gateway_of):
        gateway = gateway_of(carrier.address)
        gateway.send(text("r1"))
        gateway.close()
        for _ in range(100):
            if threading.active_count() <= 2:
                break
            threading.Event().wait(0.02)

        assert not [each for each in threading.enumerate() if "process_request" in each.name]
