"""The modem gateway over a pseudo-terminal whose other end plays the modem."""

import logging
import os
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from modem_on_pty import PlayedModem, deliver_pdu, status_report_pdu

from gateways.errors import BadOption, Refused, TryLater, Unsure
from gateways.modem import at as modem_at
from gateways.modem import link as modem_link
from gateways.modem.gateway import ModemGateway
from gateways.protocol import Incoming, Listening, Outgoing, Receipt, ReceiptState

PHONE = "+447700900001"
FARMER = "+447700900002"


@pytest.fixture
def modem(tmp_path):
    played = PlayedModem(tmp_path)
    yield played
    played.unplug()


@pytest.fixture
def made(tmp_path, modem):
    """Makes gateways on the played modem and closes them."""
    gateways = []

    def make(**options):
        given = {"port": str(modem.port), "record": str(tmp_path / "parts.sqlite3"), **options}
        gateways.append(ModemGateway.from_options(given))
        return gateways[-1]

    yield make
    for gateway in gateways:
        gateway.close()


@pytest.fixture
def gateway(made):
    return made(answer_s="1")


@pytest.fixture
def kept(gateway):
    """What the gateway brings in."""
    events = []
    gateway.listen(events.append)
    return events


def outgoing(body="Thin your plot", reference="ours", hours=6):
    expires_at = datetime.now(UTC) + timedelta(hours=hours)
    return Outgoing(to=PHONE, body=body, reference=reference, expires_at=expires_at)


def until(holds, within_s=8.0):
    give_up_at = time.monotonic() + within_s
    while not (found := holds()):
        assert time.monotonic() < give_up_at, "it did not happen in time"
        time.sleep(0.01)
    return found


def pin_file(folder, pin):
    path = folder / "pin"
    path.write_text(f"{pin}\n")
    return str(path)


class TestSending:
    def test_it_brings_the_modem_into_pdu_mode_first(self, gateway, modem):
        gateway.send(outgoing())

        assert modem.commands[1:4] == ["ATE0", "AT+CMEE=1", "AT+CPIN?"]
        assert "AT+CMGF=0" in modem.commands and "AT+CREG?" in modem.commands

    def test_the_carrier_tries_no_longer_than_the_message_is_good_for(self, gateway, modem):
        gateway.send(outgoing(hours=2))

        (sent,) = modem.submitted
        assert timedelta(minutes=110) <= sent["validity"] <= timedelta(hours=2)

    @pytest.mark.parametrize("to", ["", "Olmara", "+44 7700 900001", "+" + "7" * 21])
    def test_what_is_no_number_is_refused_without_the_modem(self, gateway, modem, to):
        with pytest.raises(Refused, match="no phone number"):
            gateway.send(replace(outgoing(), to=to))

        assert modem.commands == []

    def test_the_service_centre_is_the_one_named(self, made, modem):
        made(smsc="+447700900999").send(outgoing())

        assert modem.submitted[0]["smsc"] == "+447700900999"

    def test_a_part_that_failed_lets_the_whole_text_be_tried_again_under_its_id(
        self, gateway, modem
    ):
        modem.submit_answers.extend(["take", "+CMS ERROR: 42"])
        with pytest.raises(TryLater):
            gateway.send(outgoing("x" * 400))
        gateway.send(outgoing("x" * 400))

        # A phone gets part 1 twice and shows the text once.
        assert {part["udh"][0].reference for part in modem.submitted} == {
            modem.submitted[0]["udh"][0].reference
        }
        assert modem.arrived == [(PHONE, "x" * 400)]

    @pytest.mark.parametrize(
        ("answer", "raised"),
        [
            pytest.param("+CMS ERROR: 1", Refused, id="unassigned number"),
            pytest.param("+CMS ERROR: 195", Refused, id="centre: no such phone"),
            pytest.param("+CMS ERROR: 21", TryLater, id="transfer rejected, perhaps no money"),
            pytest.param("+CMS ERROR: 42", TryLater, id="congestion"),
            pytest.param("+CMS ERROR: 331", TryLater, id="no network"),
            pytest.param("+CMS ERROR: 332", Unsure, id="network timeout"),
            pytest.param("+CMS ERROR: 500", TryLater, id="unknown error"),
            pytest.param("+CME ERROR: 14", TryLater, id="SIM busy"),
            pytest.param("+CME ERROR: 31", Unsure, id="network timeout by the other list"),
            pytest.param("ERROR", TryLater, id="an error without a number"),
            pytest.param("silent", Unsure, id="no answer"),
            pytest.param("unplug", Unsure, id="unplugged after the text left"),
            pytest.param("no prompt", TryLater, id="no prompt"),
        ],
    )
    def test_what_the_modem_says_decides(self, gateway, modem, monkeypatch, answer, raised):
        monkeypatch.setattr(modem_at, "_PROMPT_S", 0.5)
        modem.submit_answers.append(answer)
        with pytest.raises(raised):
            gateway.send(outgoing())

        assert modem.submitted == []

    @pytest.mark.parametrize("trouble", ["silent", "no prompt", "+CMS ERROR: 42"])
    def test_the_next_message_goes_out_after(self, gateway, modem, monkeypatch, trouble):
        monkeypatch.setattr(modem_at, "_PROMPT_S", 0.5)
        modem.submit_answers.append(trouble)
        with pytest.raises((Unsure, TryLater)):
            gateway.send(outgoing("first"))
        gateway.send(outgoing("second"))

        assert modem.arrived == [(PHONE, "second")]

    @pytest.mark.parametrize("state", ["0,0", "0,2", "0,3"])
    def test_without_network_nothing_is_tried(self, gateway, modem, state):
        modem.registration = state
        with pytest.raises(TryLater, match="no network"):
            gateway.send(outgoing())

        assert not any(command.startswith("AT+CMGS") for command in modem.commands)

    @pytest.mark.parametrize("state", ["0,1", "0,5", '2,1,"00A1","01B2"'])
    def test_at_home_and_roaming_there_is_network(self, gateway, modem, state):
        modem.registration = state

        assert gateway.send(outgoing()).reference

    def test_a_closed_gateway_sends_nothing(self, gateway, modem):
        gateway.close()
        with pytest.raises(TryLater, match="closed"):
            gateway.send(outgoing())


class TestUnplugging:
    def test_an_unplugged_modem_is_tried_later(self, gateway, modem):
        gateway.send(outgoing())
        modem.unplug()
        with pytest.raises(TryLater):
            gateway.send(outgoing())

    def test_the_waits_grow(self, gateway, modem, monkeypatch):
        monkeypatch.setattr(modem_link, "_FIRST_WAIT_S", 0.2)
        modem.unplug()
        waits = []
        for _attempt in range(3):
            with pytest.raises(TryLater) as caught:
                gateway.send(outgoing())
            waits.append(caught.value.after_s)
            time.sleep(caught.value.after_s + 0.05)  # not a hair before the wait is over

        assert waits == [0.2, 0.4, 0.8]

    def test_it_is_not_opened_before_the_wait_is_over(self, gateway, modem):
        modem.unplug()
        for _attempt in range(2):
            with pytest.raises(TryLater) as caught:
                gateway.send(outgoing())
        modem.plug_in()

        assert caught.value.after_s <= 1.0 and modem.commands == []

    def test_plugged_in_again_it_sends_and_says_no_more_of_trouble(self, gateway, modem):
        gateway.send(outgoing("before"))
        modem.unplug()
        with pytest.raises(TryLater):
            gateway.send(outgoing("between"))
        trouble = gateway.trouble
        modem.plug_in()
        time.sleep(1.1)
        gateway.send(outgoing("after"))

        assert [body for _to, body in modem.arrived] == ["before", "after"]
        assert trouble is not None and gateway.trouble is None

    def test_texts_come_in_again_after_it_was_plugged_in(self, gateway, modem, kept):
        until(lambda: "AT+CPMS?" in modem.commands)
        modem.unplug()
        modem.plug_in()
        modem.receive(deliver_pdu(FARMER, "RAIN 12 NOV"))

        assert until(lambda: kept)[0].body == b"RAIN 12 NOV"

    def test_a_port_that_another_process_has_is_tried_later(self, made, modem):
        first, second = made(), made()
        first.send(outgoing())
        with pytest.raises(TryLater, match="cannot be opened"):
            second.send(outgoing())

    def test_what_speaks_no_at_is_tried_later(self, tmp_path, monkeypatch):
        monkeypatch.setattr(modem_at, "_SYNC_S", 0.05)
        master, slave = os.openpty()
        gateway = ModemGateway.from_options(
            {"port": os.ttyname(slave), "record": str(tmp_path / "record")}
        )
        with pytest.raises(TryLater, match="did not answer AT"):
            gateway.send(outgoing())
        gateway.close()
        os.close(master)
        os.close(slave)


class TestPin:
    def test_the_pin_is_given_if_it_is_asked_for(self, made, modem, tmp_path):
        modem.pin = "4711"
        made(pin_file=pin_file(tmp_path, "4711")).send(outgoing())

        assert modem.commands.count('AT+CPIN="4711"') == 1 and len(modem.arrived) == 1

    def test_a_wrong_pin_is_given_once_however_often_the_service_starts(
        self, made, modem, tmp_path
    ):
        modem.pin = "4711"
        path = pin_file(tmp_path, "0815")
        for _start in range(4):
            gateway = made(pin_file=path)
            with pytest.raises(TryLater):
                gateway.send(outgoing())
            gateway.close()

        assert modem.commands.count('AT+CPIN="0815"') == 1
        assert "given once and not accepted" in gateway.trouble

    def test_a_pin_written_anew_is_given(self, made, modem, tmp_path):
        modem.pin = "4711"
        gateway = made(pin_file=pin_file(tmp_path, "0815"))
        with pytest.raises(TryLater):
            gateway.send(outgoing())
        pin_file(tmp_path, "4711")
        time.sleep(1.1)

        assert gateway.send(outgoing()).reference

    def test_the_pin_is_in_no_error_and_no_log(self, made, modem, tmp_path, caplog):
        caplog.set_level(logging.DEBUG)
        modem.pin = "4711"
        gateway = made(pin_file=pin_file(tmp_path, "0815"))
        with pytest.raises(TryLater) as caught:
            gateway.send(outgoing())

        said = f"{caught.value} {caught.value.__cause__} {gateway.trouble} {caplog.text}"
        assert "refused the PIN" in said and "0815" not in said

    @pytest.mark.parametrize(
        ("content", "expected"),
        [
            pytest.param("12", "4 to 8 digits", id="too short"),
            pytest.param("12ab", "4 to 8 digits", id="letters"),
            pytest.param(None, "cannot be read", id="no file"),
        ],
    )
    def test_what_is_no_pin_is_not_given(self, made, modem, tmp_path, content, expected):
        modem.pin = "4711"
        path = str(tmp_path / "absent") if content is None else pin_file(tmp_path, content)
        with pytest.raises(TryLater, match=expected):
            made(pin_file=path).send(outgoing())

        assert not any(command.startswith("AT+CPIN=") for command in modem.commands)

    def test_without_a_pin_file_it_says_what_to_do(self, gateway, modem):
        modem.pin = "4711"
        with pytest.raises(TryLater, match="option pin_file"):
            gateway.send(outgoing())


class TestReceipts:
    @pytest.mark.parametrize("first", [True, False], ids=["before the answer", "after it"])
    def test_a_report_names_the_message(self, gateway, modem, kept, first):
        modem.report_status, modem.report_first = 0, first
        taken = gateway.send(outgoing(reference="mine"))

        (receipt,) = until(lambda: kept)
        assert (receipt.reference, receipt.client_reference, receipt.state) == (
            taken.reference,
            "mine",
            ReceiptState.DELIVERED,
        )

    def test_a_long_text_is_delivered_when_all_its_parts_are(self, gateway, modem, kept):
        modem.report_status = 0
        gateway.send(outgoing("x" * 400))
        until(lambda: len(kept) == 3)

        assert [each.state for each in kept] == [
            ReceiptState.UNDERWAY,
            ReceiptState.UNDERWAY,
            ReceiptState.DELIVERED,
        ]

    def test_a_part_that_was_given_up_loses_the_text(self, gateway, modem, kept):
        gateway.send(outgoing("x" * 400))
        for number, status in ((251, 0), (252, 0x46), (253, 0)):
            modem.report(number, PHONE, status)
        until(lambda: len(kept) == 3)

        assert kept[-1].state is ReceiptState.UNDELIVERED

    def test_a_report_after_a_restart_still_names_the_message(self, made, modem):
        first = made()
        taken = first.send(outgoing())
        first.close()
        events = []
        made().listen(events.append)
        until(lambda: "AT+CPMS?" in modem.commands)
        modem.report(251, PHONE, 0)

        assert until(lambda: events)[0].reference == taken.reference

    def test_an_unknown_report_is_brought_in_to_be_counted(self, modem, kept):
        until(lambda: "AT+CPMS?" in modem.commands)
        modem.report(99, PHONE, 0)

        (receipt,) = until(lambda: kept)
        assert (receipt.reference, receipt.client_reference) == (f"{PHONE}/99", None)

    def test_a_report_that_names_the_phone_as_at_home_is_matched(self, gateway, modem, kept):
        taken = gateway.send(outgoing())
        modem.report(251, "0" + PHONE.removeprefix("+44"), 0)

        assert until(lambda: kept)[0].reference == taken.reference

    def test_a_report_in_the_store_is_brought_in_and_cleared(self, gateway, modem, kept):
        taken = gateway.send(outgoing())
        modem.receive(status_report_pdu(251, PHONE, 0))
        until(lambda: kept and not modem.store)

        assert [each.reference for each in kept] == [taken.reference]

    def test_without_a_listener_no_report_is_asked_for(self, made, modem):
        modem.report_status = 0
        made().send(outgoing())

        assert "AT+CNMI=0,0,0,0,0" in modem.commands


class TestIncoming:
    def test_it_listens(self, gateway):
        assert isinstance(gateway, Listening) and gateway.abilities.inbound

    def test_a_text_is_brought_in_and_cleared(self, modem, kept):
        until(lambda: "AT+CPMS?" in modem.commands)
        modem.receive(deliver_pdu(FARMER, "RAIN 12 NOV"))
        until(lambda: kept and not modem.store)

        (event,) = kept
        assert isinstance(event, Incoming)
        assert (event.sender, event.body, event.sent_at) == (
            FARMER,
            b"RAIN 12 NOV",
            datetime(2026, 12, 1, 10, 0, tzinfo=UTC),
        )

    def test_what_came_in_while_nobody_listened_is_brought_in(self, modem, gateway):
        modem.receive(deliver_pdu(FARMER, "RAIN 12 NOV"))
        events = []
        gateway.listen(events.append)

        assert until(lambda: events)[0].body == b"RAIN 12 NOV"

    def test_parts_are_joined(self, modem, kept):
        now = datetime.now(UTC)
        for number, piece in ((2, "12 NOV"), (1, "RAIN ")):
            modem.receive(deliver_pdu(FARMER, piece, now, (9, 2, number)))
        until(lambda: kept and not modem.store)

        assert [each.body for each in kept] == [b"RAIN 12 NOV"]

    def test_a_text_that_could_not_be_kept_comes_again(self, modem, gateway, caplog):
        kept = []

        def keep(event):
            kept.append(event.message_id)
            if len(kept) == 1:
                assert list(modem.store) == [1]
                raise OSError("the disk is full")

        modem.receive(deliver_pdu(FARMER, "RAIN 12 NOV"))
        gateway.listen(keep)
        until(lambda: len(kept) == 2 and not modem.store)

        assert kept[0] == kept[1] and "the disk is full" in caplog.text

    def test_a_receipt_that_could_not_be_kept_comes_again(self, modem, gateway, caplog):
        kept = []

        def keep(event):
            kept.append(event)
            if len(kept) == 1:
                raise OSError("the disk is full")

        gateway.listen(keep)
        modem.report_status = 0
        gateway.send(outgoing())
        until(lambda: len(kept) == 2)

        assert kept[0] == kept[1] and isinstance(kept[0], Receipt)
        assert "the disk is full" in caplog.text

    def test_a_store_full_of_orphans_is_emptied_oldest_first(self, modem, gateway):
        now = datetime.now(UTC)
        for text_id in range(modem.places):
            sent_at = now - timedelta(minutes=text_id)
            modem.receive(deliver_pdu(FARMER, f"old {text_id}", sent_at, (text_id, 2, 1)))
        events = []
        gateway.listen(events.append)
        # A place is free only once the text that was brought has been deleted.
        until(lambda: events and len(modem.store) < modem.places)

        assert modem.receive(deliver_pdu(FARMER, "RAIN 12 NOV"))
        until(lambda: len(events) == 2)
        assert [each.body.decode() for each in events] == ["old 4 … ", "RAIN 12 NOV"]

    def test_texts_come_in_while_others_go_out(self, gateway, modem, kept):
        for number in range(4):
            gateway.send(outgoing(f"out {number}"))
            modem.receive(deliver_pdu(FARMER, f"in {number}"))
        until(lambda: len(kept) == 4)

        assert len(modem.arrived) == 4

    def test_an_answer_may_be_sent_from_where_a_text_is_kept(self, gateway, modem):
        modem.receive(deliver_pdu(FARMER, "HELP"))
        gateway.listen(lambda event: gateway.send(outgoing("answer")))
        until(lambda: not modem.store)

        assert modem.arrived == [(PHONE, "answer")]


class TestOptions:
    @pytest.mark.parametrize(
        ("options", "option"),
        [
            pytest.param({"record": "r"}, "port", id="no port"),
            pytest.param({"port": "p"}, "record", id="no record"),
            pytest.param({"port": "p", "record": "r", "speed": "9"}, "speed", id="unknown"),
            pytest.param({"port": "p", "record": "r", "baud": "fast"}, "baud", id="no number"),
            pytest.param({"port": "p", "record": "r", "answer_s": "0"}, "answer_s", id="no time"),
            pytest.param({"port": "p", "record": "r", "smsc": "4477"}, "smsc", id="no plus"),
            pytest.param({"port": "p", "record": "/absent/r"}, "record", id="no folder"),
        ],
    )
    def test_what_cannot_be_used_is_named(self, options, option):
        with pytest.raises(BadOption) as caught:
            ModemGateway.from_options(options)

        assert caught.value.option == option
