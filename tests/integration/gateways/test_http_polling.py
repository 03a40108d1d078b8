"""Fetching what waits at an HTTP carrier on loopback: pages, cursors, letting go, trouble."""

import json
import logging
import threading
from datetime import UTC, datetime
from time import sleep
from urllib.parse import parse_qs, urlsplit

import pytest
from http_carrier import HttpCarrier, Reply, http_profile
from hypothesis import given, settings
from hypothesis import strategies as st

from gateways.errors import BadOption, TryLater
from gateways.http import polling as module
from gateways.http.gateway import HttpGateway
from gateways.protocol import Asking, Incoming, Polled, Receipt, ReceiptState

NOW = datetime(2026, 12, 12, 12, 0, tzinfo=UTC)
SENT = "2026-12-12T13:58:00+02:00"
SENT_AT = datetime(2026, 12, 12, 11, 58, tzinfo=UTC)
CURSOR = {"cursor": "next"}
DONE = {"method": "POST", "format": "json", "id": "no"}


def a_text(number):
    """One text as the carrier writes it."""
    return {"no": number, "from": "+447700900001", "text": f"RAIN {number}", "at": SENT}


def a_receipt(number):
    return {"no": number, "id": f"c-{number}", "state": "ok", "at": SENT}


def incoming(number):
    """The same as the gateway brings it."""
    return Incoming(str(number), "+447700900001", f"RAIN {number}".encode(), SENT_AT)


class KeepingCarrier(HttpCarrier):
    """Keeps events: pages of two after a cursor, until they are let go by number."""

    def __init__(self, *events, script=()):
        self.events = list(events)
        self.let_go = []
        super().__init__(*script)

    def answer(self, request):
        self.received.append(request)
        if self.script:
            return self.script.pop(0)
        path, query = urlsplit(request.target).path, parse_qs(urlsplit(request.target).query)
        if path.startswith("/done"):
            numbers = request.json.get("ids") or [request.json["id"]]
            self.let_go += numbers
            self.events = [each for each in self.events if each["no"] not in numbers]
            return Reply()
        after = int(query.get("after", ["0"])[0])
        page = [each for each in self.events if each["no"] > after][:2]
        body = {"events": page, "next": page[-1]["no"] if page else None}
        return Reply(body=json.dumps(body).encode())

    def fetched(self):
        """How often a page was asked for."""
        return len([each for each in self.received if not each.target.startswith("/done")])


@pytest.fixture
def gateway_of(tmp_path):
    """Make a gateway by the tables [[polling]], for a carrier; all are closed at the end."""
    made = []
    (tmp_path / "key").write_text("k3y-of-the-programme\n")

    def make(carrier, *tables, **others):
        told = [polling(carrier, **each) for each in tables or ({},)]
        profile = http_profile(carrier.address, tmp_path, polling=told, **others)
        made.append(HttpGateway(profile, now=lambda: NOW))
        return made[-1]

    yield make
    for each in made:
        each.close()


def polling(carrier, request=None, done=None, **keys):
    """One table; a key that is None is left out."""
    address = f"http://127.0.0.1:{carrier.port}"
    asked = {"address": f"{address}/waiting", **(request or {})}
    if keys.get("cursor") or keys.get("last"):
        asked.setdefault("fields", {"after": "{cursor}"})
    table = {
        "request": asked,
        "events": "events",
        "receipts": {
            "reference": "id",
            "state": "state",
            "states": {"delivered": ["ok"], "undelivered": ["bad"]},
            "at": "at",
        },
        "inbound": {"message_id": "no", "sender": "from", "body": "text", "at": "at"},
        **keys,
    }
    if done is not None:
        told = {"address": f"{address}/done", **DONE, **done}
        table["done"] = {name: value for name, value in told.items() if value is not None}
    return {name: value for name, value in table.items() if value is not None}


@pytest.fixture
def keeping():
    """A carrier that keeps five texts."""
    with KeepingCarrier(*map(a_text, range(1, 6))) as carrier:
        yield carrier


@pytest.fixture
def page_of(gateway_of):
    """What one poll brings that gets one reply; or what it raises."""

    def read(reply, **table):
        reply = reply if isinstance(reply, Reply) else Reply(body=json.dumps(reply).encode())
        brought = []
        with HttpCarrier(reply) as carrier:
            try:
                gateway_of(carrier, table).poll(brought.append)
            except TryLater as error:
                return error
        return brought

    return read


class FailsOnce:
    """Keeps events, but raises once at the event of a number."""

    def __init__(self, number):
        self.kept = []
        self._at = incoming(number)

    def __call__(self, event):
        if event == self._at:
            self._at = None
            raise OSError("the disk is full")
        self.kept.append(event)


class TestAbility:
    def test_with_a_table_it_can_be_polled(self, keeping, gateway_of):
        gateway = gateway_of(keeping)
        able = gateway.abilities

        assert isinstance(gateway, Polled) and not isinstance(gateway, Asking)
        assert (able.polled, able.receipts, able.inbound) == (True, True, True)

    def test_without_it_it_cannot(self):
        gateway = HttpGateway(http_profile("http://127.0.0.1:9/"))

        assert not isinstance(gateway, Polled) and not gateway.abilities.polled


class TestEvents:
    def test_texts_and_receipts_are_told_apart(self, page_of):
        assert page_of({"events": [a_text(1), a_receipt(2)]}) == [
            incoming(1),
            Receipt("c-2", None, ReceiptState.DELIVERED, SENT_AT),
        ]

    def test_the_whole_answer_may_be_the_list(self, page_of):
        assert page_of([a_text(1)], events=None) == [incoming(1)]

    @pytest.mark.parametrize(
        "reply",
        [
            pytest.param({"events": []}, id="an empty list"),
            pytest.param({"events": None}, id="null"),
            pytest.param(Reply(204, b""), id="no content"),
        ],
    )
    def test_nothing_waits(self, page_of, reply):
        assert page_of(reply) == []

    def test_what_is_of_no_use_is_ignored(self, page_of):
        ignore = {"field": "kind", "words": ["opened"]}

        assert page_of({"events": [{"kind": "opened"}, a_text(1)]}, ignore=ignore) == [incoming(1)]

    def test_what_cannot_be_read_does_not_keep_the_others_back(self, page_of, caplog):
        broken = {**a_text(1), "at": "noon"}

        assert page_of({"events": [broken, a_text(2)]}) == [incoming(2)]
        assert "event 1: at is no time" in caplog.text and "RAIN" not in caplog.text

    def test_times_are_read_in_their_form_and_zone(self, page_of):
        event = {**a_text(1), "at": "12/12/2026 13:58"}
        form = {"time": "%d/%m/%Y %H:%M", "zone": "Africa/Harare"}

        assert page_of({"events": [event]}, **form) == [incoming(1)]


class TestPages:
    def test_all_pages_are_fetched_in_order(self, keeping, gateway_of):
        brought = []

        assert gateway_of(keeping, CURSOR).poll(brought.append) == 5
        assert brought == [incoming(number) for number in range(1, 6)]

    def test_a_second_poll_goes_on_from_there(self, keeping, gateway_of):
        gateway, brought = gateway_of(keeping, CURSOR), []
        gateway.poll(lambda event: None)
        keeping.events.append(a_text(6))

        assert (gateway.poll(brought.append), brought) == (1, [incoming(6)])
        assert "after=5" in keeping.received[-2].target

    def test_the_last_events_value_may_be_the_cursor(self, keeping, gateway_of):
        assert gateway_of(keeping, {"last": "no"}).poll(lambda event: None) == 5

    def test_a_field_with_the_cursor_is_left_out_at_the_beginning(self, keeping, gateway_of):
        gateway_of(keeping, CURSOR).poll(lambda event: None)

        assert keeping.received[0].target == "/waiting"

    def test_what_the_cursor_is_at_the_beginning_may_be_given(self, keeping, gateway_of):
        assert gateway_of(keeping, {**CURSOR, "first": 3}).poll(lambda event: None) == 2

    def test_the_cursor_may_stand_in_the_address_quoted(self, gateway_of):
        reply = Reply(body=json.dumps({"events": [a_text(1)], "next": "a/../b"}).encode())
        with KeepingCarrier(script=[reply, Reply(204, b"")]) as carrier:
            address = f"http://127.0.0.1:{carrier.port}/waiting/{{cursor}}"
            table = {**CURSOR, "first": "0", "request": {"address": address, "fields": {}}}
            gateway_of(carrier, table).poll(lambda event: None)

            assert [each.target for each in carrier.received] == [
                "/waiting/0",
                "/waiting/a%2F..%2Fb",
            ]

    def test_the_pages_of_one_poll_are_bounded(self, keeping, gateway_of):
        gateway = gateway_of(keeping, {**CURSOR, "pages": 2})

        assert [gateway.poll(lambda event: None) for _ in range(3)] == [4, 1, 0]

    @pytest.mark.parametrize(
        ("words", "fetches"),
        [
            pytest.param([True, False], 2, id="true then false"),
            pytest.param(["yes", "no"], 2, id="words"),
            pytest.param([3, 0], 2, id="a count"),
            pytest.param([None], 1, id="null"),
        ],
    )
    def test_the_carrier_may_say_whether_more_waits(self, gateway_of, words, fetches):
        bodies = [
            {"events": [a_text(number)], "next": number, "more": word}
            for number, word in enumerate(words, start=1)
        ]
        script = [Reply(body=json.dumps(body).encode()) for body in bodies]
        with KeepingCarrier(script=script) as carrier:
            gateway_of(carrier, {**CURSOR, "more": "more"}).poll(lambda event: None)

            assert carrier.fetched() == fetches

    def test_a_carrier_that_repeats_itself_is_not_asked_for_ever(self, gateway_of):
        same = Reply(body=json.dumps({"events": [a_text(1)], "next": 7, "more": True}).encode())
        with KeepingCarrier(script=[same] * 9) as carrier:
            brought = []
            gateway_of(carrier, {**CURSOR, "more": "more"}).poll(brought.append)

            assert (carrier.fetched(), brought) == (2, [incoming(1)])

    def test_without_cursor_and_letting_go_one_page_is_fetched(self, keeping, gateway_of):
        gateway = gateway_of(keeping)

        assert [gateway.poll(lambda event: None) for _ in range(2)] == [2, 0]
        assert keeping.fetched() == 2

    def test_credentials_are_those_of_texts(self, keeping, gateway_of):
        credentials = ({"in": "query", "name": "key", "secret_file": "key"},)
        gateway_of(keeping, credentials=credentials).poll(lambda event: None)

        assert keeping.received[0].target == "/waiting?key=k3y-of-the-programme"


class TestCursorFile:
    @pytest.fixture
    def table(self):
        return {**CURSOR, "cursor_file": "cursor"}

    def test_the_cursor_is_kept_over_a_restart(self, keeping, gateway_of, table):
        gateway_of(keeping, table).poll(lambda event: None)
        keeping.events.append(a_text(6))
        brought = []

        assert (gateway_of(keeping, table).poll(brought.append), brought) == (1, [incoming(6)])

    def test_without_it_a_restart_begins_anew(self, keeping, gateway_of):
        counts = [gateway_of(keeping, CURSOR).poll(lambda event: None) for _ in range(2)]

        assert counts == [5, 5]

    def test_it_is_not_moved_past_what_was_not_kept(self, keeping, gateway_of, table, tmp_path):
        keep = FailsOnce(4)
        with pytest.raises(OSError, match="disk"):
            gateway_of(keeping, table).poll(keep)

        assert (tmp_path / "cursor").read_text() == "2\n"

    def test_a_file_that_holds_no_cursor_is_a_fault(self, keeping, tmp_path):
        (tmp_path / "cursor").write_text("{}")
        profile = tmp_path / "carrier.toml"
        profile.write_text(PROFILE.format(port=keeping.port))
        with pytest.raises(BadOption, match="cursor_file: expected a cursor in"):
            HttpGateway.from_options({"profile": str(profile)})

    def test_a_file_that_cannot_be_written_is_told(self, keeping, gateway_of, table, tmp_path):
        gateway = gateway_of(keeping, table)
        (tmp_path / "cursor.new").mkdir()
        brought = []
        with pytest.raises(TryLater, match="cursor_file cannot be written"):
            gateway.poll(brought.append)

        assert brought == [incoming(1), incoming(2)]


PROFILE = """
allow_private_addresses = true
allow_unencrypted = true
[abilities]
client_reference = true
[request]
address = "http://127.0.0.1:{port}/texts"
format = "json"
fields = {{ to = "{{to}}", text = "{{body}}", ref = "{{reference}}" }}
[answer]
reference = "id"
[[polling]]
cursor = "next"
cursor_file = "cursor"
[polling.request]
address = "http://127.0.0.1:{port}/waiting"
fields = {{ after = "{{cursor}}" }}
[polling.inbound]
message_id = "no"
sender = "from"
body = "text"
"""


class TestLettingGo:
    def test_each_page_is_let_go_in_one_call(self, keeping, gateway_of):
        done = {"fields": {"ids": "{ids}"}}

        assert gateway_of(keeping, {"done": done}).poll(lambda event: None) == 5
        assert [each.json for each in keeping.received if each.method == "POST"] == [
            {"ids": [1, 2]},
            {"ids": [3, 4]},
            {"ids": [5]},
        ]

    def test_each_event_may_be_let_go_in_a_call_of_its_own(self, keeping, gateway_of):
        gateway_of(keeping, {"done": {"fields": {"id": "{id}"}}}).poll(lambda event: None)

        assert (keeping.let_go, keeping.events) == ([1, 2, 3, 4, 5], [])

    def test_ids_may_stand_in_an_address(self, gateway_of):
        script = [Reply(body=json.dumps({"events": [a_text(1), a_text(2)]}).encode())]
        with KeepingCarrier(script=[*script, Reply(), Reply(204, b"")]) as carrier:
            address = f"http://127.0.0.1:{carrier.port}/done/{{ids}}"
            done = {"method": "DELETE", "format": "query", "address": address}
            gateway_of(carrier, {"done": done}).poll(lambda event: None)

            told = [(each.method, each.target) for each in carrier.received]
            assert told[1] == ("DELETE", "/done/1%2C2")

    def test_a_page_may_be_let_go_by_its_cursor(self, gateway_of):
        bodies = [{"events": [a_text(1)], "next": "p1"}, {"events": []}]
        pages = [Reply(body=json.dumps(each).encode()) for each in bodies]
        with KeepingCarrier(script=[pages[0], Reply(), pages[1]]) as carrier:
            done = {"fields": {"until": "{cursor}"}, "id": None}
            table = {**CURSOR, "request": {"fields": {}}, "done": done}
            gateway_of(carrier, table).poll(lambda event: None)

            assert [each.json for each in carrier.received if each.method == "POST"] == [
                {"until": "p1"}
            ]

    def test_nothing_is_let_go_of_a_page_that_was_not_kept(self, keeping, gateway_of):
        keep = FailsOnce(4)
        gateway = gateway_of(keeping, {"done": {"fields": {"ids": "{ids}"}}})
        with pytest.raises(OSError, match="disk"):
            gateway.poll(keep)

        assert keeping.let_go == [1, 2]

    def test_it_comes_again_after_it_was_not_kept(self, keeping, gateway_of):
        keep = FailsOnce(4)
        gateway = gateway_of(keeping, {"done": {"fields": {"ids": "{ids}"}}})
        with pytest.raises(OSError, match="disk"):
            gateway.poll(keep)

        assert gateway.poll(keep) == 2
        assert keep.kept == [incoming(number) for number in range(1, 6)]
        assert keeping.events == []

    def test_it_comes_again_by_the_cursor_after_it_was_not_kept(self, keeping, gateway_of):
        keep = FailsOnce(4)
        gateway = gateway_of(keeping, CURSOR)
        with pytest.raises(OSError, match="disk"):
            gateway.poll(keep)
        gateway.poll(keep)

        assert keep.kept == [incoming(number) for number in range(1, 6)]

    def test_it_is_let_go_only_after_it_was_kept(self, keeping, gateway_of):
        seen = []
        gateway = gateway_of(keeping, {"done": {"fields": {"id": "{id}"}}})
        gateway.poll(lambda event: seen.append(event.message_id in map(str, keeping.let_go)))

        assert seen == [False] * 5

    def test_what_is_of_no_use_is_let_go_too(self, gateway_of):
        with KeepingCarrier({"no": 1, "kind": "opened"}, a_text(2)) as carrier:
            ignore = {"field": "kind", "words": ["opened"]}
            table = {"ignore": ignore, "done": {"fields": {"ids": "{ids}"}}}
            gateway_of(carrier, table).poll(lambda event: None)

            assert carrier.let_go == [1, 2]

    def test_what_cannot_be_read_is_not_let_go(self, gateway_of):
        with KeepingCarrier({**a_text(1), "at": "noon"}, a_text(2)) as carrier:
            gateway = gateway_of(carrier, {"done": {"fields": {"ids": "{ids}"}}})
            with pytest.raises(TryLater, match="event 1: at is no time"):
                gateway.poll(lambda event: None)

            assert (carrier.let_go, [each["no"] for each in carrier.events]) == ([2], [1])

    def test_an_event_that_could_never_be_let_go_is_not_brought(self, page_of):
        done = {"address": "http://127.0.0.1:9/", "id": "ticket", "fields": {"ids": "{ids}"}}

        assert "ticket is missing" in page_of({"events": [a_text(1)]}, done=done).reason

    def test_a_carrier_that_lets_nothing_go_is_not_asked_for_ever(self, gateway_of):
        page = Reply(body=json.dumps({"events": [a_text(1)]}).encode())
        with KeepingCarrier(script=[page, Reply()] * 9) as carrier:
            gateway_of(carrier, {"done": {"fields": {"ids": "{ids}"}}}).poll(lambda event: None)

            assert carrier.fetched() == 2

    @pytest.mark.parametrize("status", [404, 410])
    def test_what_is_gone_already_is_let_go(self, gateway_of, status):
        page = Reply(body=json.dumps({"events": [a_text(1)]}).encode())
        with KeepingCarrier(script=[page, Reply(status), Reply(204, b"")]) as carrier:
            gateway = gateway_of(carrier, {"done": {"fields": {"ids": "{ids}"}}})

            assert gateway.poll(lambda event: None) == 1

    @pytest.mark.parametrize(
        "reply",
        [
            pytest.param(Reply(500), id="refused"),
            pytest.param(Reply(raw=lambda wait: []), id="cut"),
        ],
    )
    def test_what_could_not_be_let_go_is_not_brought_twice(self, gateway_of, reply):
        page = Reply(body=json.dumps({"events": [a_text(1)]}).encode())
        with KeepingCarrier(a_text(1), script=[page, reply]) as carrier:
            gateway, brought = gateway_of(carrier, {"done": {"fields": {"ids": "{ids}"}}}), []
            with pytest.raises(TryLater):
                gateway.poll(brought.append)
            gateway.poll(brought.append)

            assert (brought, carrier.let_go) == ([incoming(1)], [1])

    def test_what_is_remembered_is_bounded(self, keeping, gateway_of, monkeypatch):
        monkeypatch.setattr(module, "MOST_REMEMBERED", 1)
        gateway = gateway_of(keeping)

        assert [gateway.poll(lambda event: None) for _ in range(2)] == [2, 2]


class TestTrouble:
    @pytest.mark.parametrize("status", [301, 400, 401, 403, 404, 429, 500, 503])
    def test_a_status_that_is_not_good_is_later(self, page_of, status):
        assert type(page_of(Reply(status, b'{"events": []}'))) is TryLater

    def test_retry_after_is_obeyed(self, page_of):
        assert page_of(Reply(503, headers={"Retry-After": "17"})).after_s == 17.0

    @pytest.mark.parametrize(
        "body",
        [
            pytest.param(b"<html>Login</html>", id="HTML"),
            pytest.param(b"", id="nothing"),
            pytest.param(b'{"events": [', id="cut JSON"),
            pytest.param(b'{"found": []}', id="no list"),
            pytest.param(b'{"events": {}}', id="a table for the list"),
            pytest.param(b'{"events": [7]}', id="no event"),
            pytest.param(b'{"events": [{"no": 1}]}', id="neither receipt nor text"),
            pytest.param(b'{"events": [], "next": {}}', id="cursor is a table"),
            pytest.param(b'{"events": [], "next": true}', id="cursor is a truth"),
            pytest.param(b'{"events": [], "next": "\\ud800"}', id="cursor is half a letter"),
            pytest.param(
                b'{"events": [], "next": "' + b"a" * 1001 + b'"}', id="cursor is too long"
            ),
        ],
    )
    def test_a_page_that_cannot_be_read_is_later(self, page_of, body):
        assert type(page_of(Reply(body=body), **CURSOR)) is TryLater

    @pytest.mark.parametrize(
        "parts",
        [
            pytest.param([], id="at once"),
            pytest.param([b"HTTP/1.1 200 OK\r\nContent-Length: 90\r\n\r\n{"], id="in the body"),
        ],
    )
    def test_a_cut_connection_is_later(self, page_of, parts):
        assert type(page_of(Reply(raw=lambda wait: parts))) is TryLater

    def test_what_came_before_a_cut_is_not_brought_twice(self, keeping, gateway_of):
        gateway, brought = gateway_of(keeping, CURSOR), []
        page = Reply(body=json.dumps({"events": [a_text(1), a_text(2)], "next": 2}).encode())
        keeping.script += [page, Reply(raw=lambda wait: [])]
        with pytest.raises(TryLater):
            gateway.poll(brought.append)
        gateway.poll(brought.append)

        assert brought == [incoming(number) for number in range(1, 6)]

    def test_a_page_too_long_is_later(self, page_of):
        events = [a_text(number) for number in range(2000)]

        assert type(page_of({"events": events})) is TryLater

    def test_no_connection_is_later(self, keeping, gateway_of):
        gateway = gateway_of(keeping)
        keeping.close()
        with pytest.raises(TryLater, match="no connection"):
            gateway.poll(lambda event: None)

    def test_a_private_address_is_not_reached_unless_allowed(self, keeping, gateway_of):
        with pytest.raises(TryLater, match="not public"):
            gateway_of(keeping, allow_private_addresses=False).poll(lambda event: None)

        assert keeping.received == []

    def test_trouble_in_one_place_does_not_keep_the_others_back(self, keeping, gateway_of):
        gone = {"request": {"address": "http://127.0.0.1:9/waiting"}}
        brought = []
        with pytest.raises(TryLater):
            gateway_of(keeping, gone, CURSOR).poll(brought.append)

        assert len(brought) == 5

    def test_two_polls_at_once_bring_each_event_once(self, keeping, gateway_of):
        gateway, brought = gateway_of(keeping, CURSOR), []

        def keep_slowly(event):
            sleep(0.03)
            brought.append(event)

        threads = [threading.Thread(target=gateway.poll, args=(keep_slowly,)) for _ in range(3)]
        for each in threads:
            each.start()
        for each in threads:
            each.join()

        assert brought == [incoming(number) for number in range(1, 6)]

    @settings(max_examples=60, deadline=None)
    @given(
        body=st.binary(max_size=60)
        | st.recursive(
            st.none() | st.integers() | st.text(max_size=3),
            lambda inner: (
                st.lists(inner, max_size=3)
                | st.dictionaries(st.sampled_from(["events", "next", "no", "from"]), inner)
            ),
            max_leaves=8,
        ).map(lambda value: json.dumps(value).encode())
    )
    def test_no_page_raises_anything_else(self, one_gateway, body):
        carrier, gateway = one_gateway
        carrier.script = [Reply(body=body), Reply(204, b"")]
        brought = []
        try:
            count = gateway.poll(brought.append)
        except TryLater:
            return

        assert count == len(brought)


@pytest.fixture(scope="module")
def one_gateway():
    """The same for every generated page."""
    with HttpCarrier() as carrier:
        profile = http_profile(carrier.address, polling=[polling(carrier, **CURSOR)])
        gateway = HttpGateway(profile, now=lambda: NOW)
        yield carrier, gateway
        gateway.close()


@pytest.mark.parametrize("place", ["query", "field", "header"])
def test_no_secret_reaches_logs_or_errors(gateway_of, caplog, place):
    caplog.set_level(logging.DEBUG)
    echo = b"k3y-of-the-programme for 447700900001: RAIN"
    script = [
        Reply(401, echo),
        Reply(500, echo),
        Reply(body=echo),
        Reply(raw=lambda wait: [b"HTTP/1.1 200 OK\r\nbad header\r\n\r\n" + echo]),
        Reply(body=json.dumps({"events": [{"at": echo.decode()}]}).encode()),
    ]
    said = []
    with HttpCarrier(*script) as carrier:
        credentials = ({"secret_file": "key", "in": place, "name": "key"},)
        gateway = gateway_of(carrier, credentials=credentials)
        for _ in script:
            with pytest.raises(TryLater) as error:
                gateway.poll(lambda event: None)
            said.append(f"{error.value!r} {error.value.__cause__!r} {gateway!r}")
    with pytest.raises(TryLater) as error:
        gateway.poll(lambda event: None)
    told = "\n".join([*said, f"{error.value!r} {error.value.__cause__!r}", caplog.text])

    assert not [part for part in ("k3y", "447700900001") if part in told]
