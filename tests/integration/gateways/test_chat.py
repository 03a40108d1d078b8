"""The chat gateway against a real server on this machine."""

import logging
import os
import signal
import threading
import time
from datetime import UTC, datetime, timedelta

import pytest
from chat_phone import ChatPhone
from own_prosody import DOMAIN, US, OwnProsody, needs_prosody

from gateways.chat.gateway import ChatGateway
from gateways.errors import BadOption, Refused, TryLater, Unsure
from gateways.protocol import Incoming, Listening, Outgoing, Receipt, ReceiptState

FARMER = "+447700900001"
OTHER = "+447700900002"

pytestmark = needs_prosody


@pytest.fixture(scope="module")
def running_server(tmp_path_factory):
    server = OwnProsody(tmp_path_factory.mktemp("prosody"), phones=[FARMER, OTHER])
    yield server
    server.stop()


@pytest.fixture
def shared_server(running_server):
    """One at which nothing waits for anybody."""
    running_server.forget()
    return running_server


@pytest.fixture
def server(tmp_path):
    """One that a test may stop."""
    folder = tmp_path / "prosody"
    folder.mkdir()
    server = OwnProsody(folder, phones=[FARMER])
    yield server
    server.stop()


@pytest.fixture
def opened():
    """Closes what is put into it."""
    things = []
    yield lambda thing: things.append(thing) or thing
    for thing in reversed(things):
        thing.close()


@pytest.fixture
def phone(shared_server, opened):
    return opened(ChatPhone(shared_server))


@pytest.fixture
def gateway(shared_server, tmp_path, opened):
    return opened(ChatGateway.from_options(shared_server.options(tmp_path)))


@pytest.fixture
def kept(gateway):
    """What the gateway brings in."""
    events = []
    gateway.listen(events.append)
    return events


def outgoing(body="Thin your plot", reference="ours", to=FARMER):
    expires_at = datetime.now(UTC) + timedelta(hours=6)
    return Outgoing(to=to, body=body, reference=reference, expires_at=expires_at)


def until(holds, within_s=8.0):
    give_up_at = time.monotonic() + within_s
    while not (found := holds()):
        assert time.monotonic() < give_up_at, "it did not happen in time"
        time.sleep(0.01)
    return found


def sent_in_the_end(gateway, message):
    """Its answer, once the gateway has found the server again."""

    def tried():
        try:
            return gateway.send(message)
        except TryLater:
            return None

    return until(tried, 15)


class TestSending:
    def test_a_message_has_our_reference_as_its_id(self, gateway, phone):
        taken = gateway.send(outgoing(reference="mine"))
        phone.arrived()

        assert taken.reference == "mine" == phone.messages[-1]["id"]

    def test_a_message_has_no_segments(self, gateway, phone):
        gateway.send(outgoing("Thin your plot. " * 200))

        assert phone.arrived() == [(FARMER, "Thin your plot. " * 200)]

    def test_what_xml_cannot_hold_does_not_end_the_connection(self, gateway, phone):
        gateway.send(outgoing("a\x0cb\x1b\x00c & <d> \t", "first"))
        gateway.send(outgoing("after", "second"))

        bodies = [body for _to, body in phone.arrived()]
        assert bodies == ["a\ufffdb\ufffd\ufffdc & <d> \t", "after"]

    def test_a_number_without_an_account_is_refused(self, gateway):
        with pytest.raises(Refused, match="service-unavailable"):
            gateway.send(outgoing(to="+447700900077"))

    def test_what_is_no_number_is_refused(self, gateway):
        with pytest.raises(Refused, match="no phone number"):
            gateway.send(outgoing(to="lead@farm"))

    def test_a_phone_that_is_off_gets_its_message_later(self, gateway, shared_server, opened):
        gateway.send(outgoing("for later", to=OTHER))
        phone = opened(ChatPhone(shared_server, OTHER))

        assert until(phone.arrived) == [(OTHER, "for later")]

    def test_a_closed_gateway_sends_nothing(self, gateway):
        gateway.send(outgoing())
        gateway.close()
        with pytest.raises(TryLater, match="closed"):
            gateway.send(outgoing())

    def test_no_thread_is_left(self, gateway):
        gateway.listen(lambda event: None)
        gateway.send(outgoing())
        gateway.close()

        assert not [each for each in threading.enumerate() if each.name.startswith("chat ")]


class TestReceipts:
    def test_a_confirmed_message_is_delivered(self, gateway, phone, kept):
        gateway.send(outgoing(reference="mine"))

        (receipt,) = until(lambda: kept)
        assert (receipt.reference, receipt.client_reference, receipt.state) == (
            "mine",
            "mine",
            ReceiptState.DELIVERED,
        )

    def test_a_message_sent_back_later_is_undelivered(self, gateway, shared_server, opened, kept):
        phone = opened(ChatPhone(shared_server, confirms=False))
        gateway.send(outgoing(reference="mine"))
        phone.arrived()
        phone.send_back("mine")

        (receipt,) = until(lambda: kept)
        assert (receipt.reference, receipt.state, receipt.reason) == (
            "mine",
            ReceiptState.UNDELIVERED,
            "not-acceptable",
        )

    def test_a_receipt_that_could_not_be_kept_comes_again(self, gateway, phone, caplog):
        kept = []

        def keep(event):
            kept.append(event)
            if len(kept) == 1:
                raise OSError("the disk is full")

        gateway.listen(keep)
        gateway.send(outgoing())
        until(lambda: len(kept) == 2)

        assert kept[0] == kept[1] and isinstance(kept[0], Receipt)
        assert "the disk is full" in caplog.text


class TestIncoming:
    def test_it_listens(self, gateway):
        assert isinstance(gateway, Listening) and gateway.abilities.inbound

    def test_a_text_is_brought_in_from_its_phone(self, phone, kept):
        phone.say("RAIN 12 NOV ✓")

        (event,) = until(lambda: kept)
        assert isinstance(event, Incoming)
        assert (event.sender, event.body.decode()) == (FARMER, "RAIN 12 NOV ✓")
        assert abs(event.sent_at - datetime.now(UTC)) < timedelta(minutes=1)

    def test_the_same_words_twice_are_two_texts(self, phone, kept):
        phone.say("RAIN")
        phone.say("RAIN")
        until(lambda: len(kept) == 2)

        assert kept[0].message_id != kept[1].message_id

    def test_a_text_is_confirmed_after_it_was_kept(self, gateway, phone):
        confirmed_before = []
        gateway.listen(lambda event: confirmed_before.extend(phone.receipts))
        phone.say("RAIN", name="theirs", asks=True)

        assert until(lambda: phone.receipts) == ["theirs"]
        assert confirmed_before == []

    def test_texts_wait_at_the_server_while_nobody_listens(self, gateway, phone, tmp_path):
        gateway.send(outgoing())
        phone.say("RAIN 12 NOV")
        events = []
        gateway.listen(events.append)

        assert until(lambda: [e.body for e in events if isinstance(e, Incoming)])[0] == (
            b"RAIN 12 NOV"
        )

    def test_an_answer_may_be_sent_from_where_a_text_is_kept(self, gateway, phone):
        gateway.listen(
            lambda event: isinstance(event, Incoming) and gateway.send(outgoing("answer"))
        )
        phone.say("HELP")

        assert until(phone.arrived) == [(FARMER, "answer")]

    def test_what_was_not_kept_before_the_end_comes_to_the_next_process(
        self, shared_server, phone, tmp_path, opened
    ):
        def fail(event):
            seen.append(event)
            raise OSError("the disk is full")

        seen, events = [], []
        first = opened(ChatGateway.from_options(shared_server.options(tmp_path)))
        first.listen(fail)
        phone.say("RAIN 12 NOV")
        until(lambda: seen)
        first.close()
        second = opened(ChatGateway.from_options(shared_server.options(tmp_path)))
        second.listen(events.append)
        until(lambda: events)

        assert (events[0].message_id, events[0].body) == (seen[0].message_id, b"RAIN 12 NOV")

    def test_what_was_kept_does_not_come_again(self, shared_server, phone, tmp_path, opened):
        events, again = [], []
        first = opened(ChatGateway.from_options(shared_server.options(tmp_path)))
        first.listen(events.append)
        phone.say("RAIN 12 NOV")
        until(lambda: events)
        first.close()
        second = opened(ChatGateway.from_options(shared_server.options(tmp_path)))
        second.listen(again.append)
        phone.say("WEEDED")
        until(lambda: again)

        assert [event.body for event in again] == [b"WEEDED"]

    def test_it_can_be_listened_to_once(self, gateway, kept):
        with pytest.raises(RuntimeError, match="listen once"):
            gateway.listen(kept.append)


class TestTrouble:
    def test_a_server_that_is_away_is_tried_later(self, server, tmp_path, opened):
        server.stop()
        gateway = opened(ChatGateway.from_options(server.options(tmp_path)))
        with pytest.raises(TryLater):
            gateway.send(outgoing())

        assert "no session" in gateway.trouble

    def test_a_server_that_is_back_gets_the_next_message(self, server, tmp_path, opened):
        gateway = opened(ChatGateway.from_options(server.options(tmp_path)))
        gateway.send(outgoing("before", "first"))
        server.stop(kill=True)
        with pytest.raises(TryLater):
            until(lambda: gateway.trouble)
            gateway.send(outgoing("between", "second"))
        server.start()
        taken = sent_in_the_end(gateway, outgoing("after", "third"))

        assert taken.reference == "third" and gateway.trouble is None

    def test_texts_come_in_again_after_the_server_was_away(self, server, tmp_path, opened):
        gateway = opened(ChatGateway.from_options(server.options(tmp_path)))
        events = []
        gateway.listen(events.append)
        sent_in_the_end(gateway, outgoing())
        server.stop(kill=True)
        server.start()
        opened(ChatPhone(server)).say("RAIN 12 NOV")

        assert b"RAIN 12 NOV" in until(
            lambda: [event.body for event in events if isinstance(event, Incoming)], 15
        )

    def test_a_silent_server_leaves_a_message_unsure(self, server, tmp_path, opened):
        gateway = opened(ChatGateway.from_options(server.options(tmp_path, answer_s="1")))
        gateway.send(outgoing("before", "first"))
        os.kill(server.pid, signal.SIGSTOP)
        try:
            with pytest.raises(Unsure, match="within 1 s"):
                gateway.send(outgoing("lost?", "second"))
        finally:
            os.kill(server.pid, signal.SIGCONT)

    def test_a_link_that_breaks_leaves_a_message_unsure(self, server, tmp_path, opened):
        gateway = opened(ChatGateway.from_options(server.options(tmp_path)))
        gateway.send(outgoing("before", "first"))
        os.kill(server.pid, signal.SIGSTOP)
        threading.Timer(0.3, lambda: server.stop(kill=True)).start()
        with pytest.raises(Unsure, match="link lost"):
            gateway.send(outgoing("lost?", "second"))

    def test_a_wrong_password_says_so_and_is_shown_nowhere(
        self, shared_server, tmp_path, opened, caplog
    ):
        caplog.set_level(logging.INFO)
        options = shared_server.options(tmp_path)
        (tmp_path / "password").write_text("a wrong one")
        gateway = opened(ChatGateway.from_options(options))
        with pytest.raises(TryLater, match="sign-in refused") as caught:
            gateway.send(outgoing())

        said = f"{caught.value} {gateway.trouble} {gateway._options} {caplog.text}"
        assert "a wrong one" not in said


class TestTls:
    def test_it_goes_by_tls_to_a_server_it_trusts(self, shared_server, tmp_path, opened, phone):
        options = shared_server.options(
            tmp_path, allow_plain="false", ca_file=str(shared_server.ca_file)
        )
        opened(ChatGateway.from_options(options)).send(outgoing("safe"))

        assert phone.arrived() == [(FARMER, "safe")]

    def test_it_does_not_talk_to_a_server_it_does_not_trust(self, shared_server, tmp_path, opened):
        gateway = opened(
            ChatGateway.from_options(shared_server.options(tmp_path, allow_plain="false"))
        )
        with pytest.raises(TryLater, match="certificate verify failed"):
            gateway.send(outgoing())

    def test_it_does_not_sign_in_without_tls(self, tmp_path, opened):
        folder = tmp_path / "prosody"
        folder.mkdir()
        server = OwnProsody(folder, tls=False)
        options = server.options(tmp_path, allow_plain="false")
        gateway = opened(ChatGateway.from_options(options))
        try:
            with pytest.raises(TryLater, match="sign-in refused"):
                gateway.send(outgoing())
        finally:
            gateway.close()
            server.stop()


class TestOptions:
    @pytest.mark.parametrize(
        ("changed", "option"),
        [
            pytest.param({"jid": US}, "jid", id="no server in the account"),
            pytest.param({"jid": ""}, "jid", id="no account"),
            pytest.param({"domain": ""}, "domain", id="no domain"),
            pytest.param({"password_file": "/absent"}, "password_file", id="no such file"),
            pytest.param({"port": "high"}, "port", id="no port number"),
            pytest.param({"answer_s": "0"}, "answer_s", id="no time"),
            pytest.param({"ca_file": "/absent"}, "ca_file", id="no certificates"),
            pytest.param({"allow_plain": "yes"}, "allow_plain", id="neither true nor false"),
            pytest.param({"host": f"chat.{DOMAIN}"}, "allow_plain", id="plain to elsewhere"),
            pytest.param({"colour": "red"}, "colour", id="unknown"),
        ],
    )
    def test_what_cannot_be_used_is_named(self, shared_server, tmp_path, changed, option):
        with pytest.raises(BadOption) as caught:
            ChatGateway.from_options({**shared_server.options(tmp_path), **changed})

        assert caught.value.option == option
