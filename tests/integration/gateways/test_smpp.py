"""The SMPP gateway against an independent package's server on this machine."""

import asyncio
import itertools
import logging
import struct
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path

import pytest
import smpp34
from smpp_carrier import NUMBER, SENDER, SmppCarrier

from gateways.errors import BadOption, Refused, TryLater, Unsure
from gateways.protocol import Incoming, Listening, Outgoing, Receipt, ReceiptState
from gateways.smpp.gateway import SmppGateway

FARMER = f"+{NUMBER}"
EXPIRES_AT = datetime(2026, 12, 12, 16, 0, tzinfo=UTC)
RECEIPT = 0x04
LATER_PLEASE = 0x64
LONG = "Pull surplus seedlings with their roots. " * 10


def text(body="Thin plot 1", reference="one"):
    return Outgoing(to=FARMER, body=body, reference=reference, expires_at=EXPIRES_AT)


def soon(holds, within_s=5.0):
    """Whether it comes true in time."""
    ends_s = time.monotonic() + within_s
    while not holds():
        if time.monotonic() > ends_s:
            return False
        time.sleep(0.005)
    return True


def receipt_text(message_id, word="DELIVRD"):
    return f"id:{message_id} sub:001 dlvrd:001 stat:{word} err:000 text:Thin".encode()


def frame(command, body=b"", sequence=1):
    """One message as the carrier would send it."""
    return struct.pack(">LLLL", 16 + len(body), command, 0, sequence) + body


@pytest.fixture
def carrier():
    carrier = SmppCarrier()
    yield carrier
    carrier.stop()


@pytest.fixture
def gateways(carrier, tmp_path):
    """Makes gateways bound to the carrier, and closes them."""
    made = []

    def make(**options):
        made.append(SmppGateway.from_options(carrier.options(tmp_path, **options)))
        return made[-1]

    yield make
    for each in made:
        each.close()


@pytest.fixture
def events():
    return []


@pytest.fixture
def listening(gateways, events):
    """A gateway that is bound and brings events in."""
    gateway = gateways()
    gateway.listen(events.append)
    assert soon(lambda: gateway.trouble is None)
    return gateway


class TestSending:
    def test_a_submit_says_all_that_the_carrier_needs(self, carrier, gateways):
        gateways().send(text())

        (submit,) = carrier.submits
        assert (submit.source_addr, submit.source_addr_ton, submit.source_addr_npi) == (
            SENDER,
            1,
            1,
        )
        assert (submit.destination_addr, submit.dest_addr_ton) == (NUMBER, 1)
        assert submit.validity_period == "261212160000000+"
        assert (submit.registered_delivery, submit.data_coding) == (1, 0)

    def test_a_name_as_sender_is_marked_as_one(self, carrier, gateways):
        gateways(sender="Olmara").send(text())

        assert (carrier.submits[0].source_addr, carrier.submits[0].source_addr_ton) == ("Olmara", 5)

    @pytest.mark.parametrize(
        ("body", "coding", "lengths"),
        [
            pytest.param("x" * 160, 0, [160], id="one segment"),
            pytest.param("x" * 161, 0, [159, 14], id="one letter more"),
            pytest.param("x" * 152 + "€" * 5, 0, [158, 16], id="no escape split from its letter"),
            pytest.param("ŵ" * 70, 8, [140], id="one segment of UCS-2"),
            pytest.param("ŵ" * 71, 8, [140, 14], id="one letter of UCS-2 more"),
            pytest.param("ŵ" * 66 + "🌽" * 3, 8, [138, 18], id="no pair of surrogates split"),
        ],
    )
    def test_parts_are_cut_between_letters(self, carrier, gateways, body, coding, lengths):
        gateways().send(text(body))

        assert [len(each.short_message) for each in carrier.submits] == lengths
        assert {each.data_coding for each in carrier.submits} == {coding}
        assert carrier.arrived() == [(FARMER, body)]

    def test_a_long_text_has_the_id_of_its_last_part_and_one_receipt(self, carrier, gateways):
        taken = gateways().send(text(LONG))

        assert taken.reference == "3"
        assert [each.registered_delivery for each in carrier.submits] == [0, 0, 1]

    def test_a_long_text_tried_again_carries_the_same_header(self, carrier, gateways):
        gateway = gateways()
        gateway.send(text(LONG))
        gateway.send(text(LONG))

        headers = [each.short_message[:6] for each in carrier.submits]
        assert headers[:3] == headers[3:]

    def test_a_long_text_goes_as_one_payload_if_so_set(self, carrier, gateways):
        gateways(long_texts="payload").send(text(LONG))

        (submit,) = carrier.submits
        assert submit.short_message == b""
        assert carrier.arrived() == [(FARMER, LONG)]

    def test_threads_share_the_window(self, carrier, gateways):
        open_now, most = set(), []

        def decide(event):
            open_now.add(event)
            most.append(len(open_now))
            asyncio.get_running_loop().call_later(0.05, answer, event)

        def answer(event):
            open_now.discard(event)
            event.accept(next(carrier.ids))

        carrier.decide = decide
        gateway = gateways(window="4")
        with ThreadPoolExecutor(12) as threads:
            taken = list(threads.map(gateway.send, [text(reference=str(n)) for n in range(12)]))

        assert len({each.reference for each in taken}) == 12
        assert max(most) == 4 and carrier.binds == 1


class TestDeclined:
    @pytest.mark.parametrize(
        ("status", "after_s"),
        [
            pytest.param(smpp34.ESME_RTHROTTLED, 7.0, id="throttled"),
            pytest.param(smpp34.ESME_RMSGQFUL, 60.0, id="queue full"),
            pytest.param(smpp34.ESME_RSYSERR, 60.0, id="system error"),
            pytest.param(smpp34.ESME_RINVSRCADR, 60.0, id="a code that the profile names"),
        ],
    )
    def test_not_now_is_told_with_a_time(self, carrier, gateways, status, after_s):
        carrier.decide = lambda event: event.reject(status)

        with pytest.raises(TryLater) as raised:
            gateways(throttled_s="7", later_codes="0x0A, 0x0410").send(text())
        assert raised.value.after_s == after_s
        assert f"0x{status:02X}" in raised.value.reason

    @pytest.mark.parametrize(
        "status",
        [
            pytest.param(smpp34.ESME_RINVDSTADR, id="invalid destination"),
            pytest.param(smpp34.ESME_RINVMSGLEN, id="invalid length"),
        ],
    )
    def test_never_is_refused(self, carrier, gateways, status):
        carrier.decide = lambda event: event.reject(status)

        with pytest.raises(Refused, match=f"0x{status:02X}"):
            gateways().send(text())

    def test_the_part_that_is_declined_is_the_last_that_goes_out(self, carrier, gateways):
        def decide(event):
            if len(carrier.submits) == 2:
                event.reject(smpp34.ESME_RTHROTTLED)
            else:
                event.accept(next(carrier.ids))

        carrier.decide = decide

        with pytest.raises(TryLater):
            gateways().send(text(LONG))
        assert len(carrier.submits) == 2

    @pytest.mark.parametrize("number", ["447700900001", "+44 7700", "", "+12"])
    def test_what_is_no_number_never_leaves(self, carrier, gateways, number):
        with pytest.raises(Refused, match=r"E\.164"):
            gateways().send(Outgoing(number, "Thin", "one", EXPIRES_AT))
        assert carrier.submits == []


class TestLink:
    def test_nothing_is_opened_before_it_is_needed(self, carrier, gateways):
        gateway = gateways()

        assert gateway.trouble == "not connected yet" and carrier.binds == 0

    def test_without_a_carrier_it_is_later(self, carrier, gateways):
        gateway = gateways(port="1")

        with pytest.raises(TryLater, match=r"127\.0\.0\.1:1 cannot be reached"):
            gateway.send(text())

    def test_a_cut_link_leaves_the_unanswered_in_doubt(self, carrier, gateways):
        def decide(event):
            if len(kept) < 3:
                event.accept(next(carrier.ids))
            kept.append(event)  # one that is let go of would be answered

        kept = []
        carrier.decide = decide
        gateway = gateways()
        with ThreadPoolExecutor(8) as threads:
            calls = [threads.submit(gateway.send, text(reference=str(n))) for n in range(11)]
            assert soon(lambda: len(carrier.submits) == 11)
            assert soon(lambda: sum(call.done() for call in calls) == 3)
            carrier.cut()
            faults = [call.exception(timeout=5) for call in calls]

        assert sum(fault is None for fault in faults) == 3
        assert [type(fault) for fault in faults if fault is not None] == [Unsure] * 8

    def test_no_answer_in_time_leaves_it_in_doubt(self, carrier, gateways):
        kept = []
        carrier.decide = kept.append

        with pytest.raises(Unsure, match=r"within 0\.2 s"):
            gateways(answer_s="0.2").send(text())

    def test_it_binds_again_after_a_cut(self, carrier, gateways):
        gateway = gateways()
        gateway.send(text())
        carrier.cut()

        assert soon(lambda: carrier.binds == 2 and gateway.trouble is None)
        assert gateway.send(text(reference="two")).reference == "2"

    def test_between_links_it_is_later(self, carrier, gateways):
        gateway = gateways(reconnect_s="30")
        gateway.send(text())
        carrier.cut()
        assert soon(lambda: gateway.trouble is not None)

        with pytest.raises(TryLater) as raised:
            gateway.send(text(reference="two"))
        assert 30 <= raised.value.after_s <= 61

    def test_waits_between_tries_grow(self, gateways, caplog):
        caplog.set_level(logging.WARNING, "gateways.smpp.link")
        gateway = gateways(port="1", reconnect_s="0.1", reconnect_most_s="0.3")
        gateway.listen(lambda event: None)
        assert soon(lambda: len(caplog.records) >= 4)

        came_s = [record.created for record in caplog.records[:4]]
        waits_s = [after - before for before, after in itertools.pairwise(came_s)]
        # A busy machine makes a wait longer, never shorter.
        assert all(wait > least for wait, least in zip(waits_s, (0.09, 0.19, 0.28), strict=True))
        assert sum(waits_s) < 10

    def test_an_idle_link_is_kept_alive(self, carrier, gateways):
        gateway = gateways(enquire_s="0.05", answer_s="2")
        gateway.send(text())
        time.sleep(2.5)  # longer than a silent link would be let live

        assert gateway.trouble is None and carrier.binds == 1

    def test_a_link_that_answers_no_enquiry_is_given_up(self, carrier, gateways):
        gateway = gateways(enquire_s="0.1", answer_s="0.2")
        gateway.send(text())
        carrier.fall_silent()

        assert soon(lambda: carrier.binds == 2 and gateway.trouble is None)
        assert gateway.send(text(reference="two")).reference == "2"

    def test_closing_unbinds_and_ends_the_threads(self, carrier, gateways):
        before = set(threading.enumerate())
        gateway = gateways()
        gateway.listen(lambda event: None)
        gateway.send(text())
        gateway.close()

        assert set(threading.enumerate()) == before
        assert 0x00000006 in [command for command, _sequence in carrier.heard]
        with pytest.raises(TryLater):
            gateway.send(text())

    def test_closing_while_the_carrier_is_away_takes_no_time(self, gateways):
        gateway = gateways(port="1", reconnect_s="60")
        with pytest.raises(TryLater):
            gateway.send(text())
        began_s = time.monotonic()
        gateway.close()

        assert time.monotonic() - began_s < 20

    def test_after_closing_an_unused_gateway_says_so_at_once(self, gateways):
        gateway = gateways()
        gateway.close()
        began_s = time.monotonic()
        with pytest.raises(TryLater, match="the gateway is closed"):
            gateway.send(text())

        assert time.monotonic() - began_s < 10

    def test_a_refused_bind_is_told_and_tried_again(self, carrier, gateways):
        carrier.refuse_binds = 0x0E
        gateway = gateways()
        with pytest.raises(TryLater, match="0x0E Invalid Password"):
            gateway.send(text())
        carrier.refuse_binds = 0

        assert soon(lambda: gateway.trouble is None)

    def test_a_carrier_that_unbinds_is_answered_and_bound_again(self, carrier, gateways):
        gateway = gateways()
        gateway.send(text())
        carrier.inject(frame(0x00000006))

        assert soon(lambda: carrier.binds == 2 and gateway.trouble is None)
        assert gateway.send(text(reference="two")).reference == "2"

    def test_an_enquiry_of_the_carriers_is_answered(self, carrier, gateways):
        gateways().send(text())
        carrier.inject(frame(0x00000015, sequence=909))

        assert soon(lambda: (0x80000015, 909) in carrier.heard)

    @pytest.mark.parametrize(
        "octets",
        [
            pytest.param(b"HTTP/1.1 400 Bad Request\r\n\r\n", id="another protocol"),
            pytest.param(b"\0\0\0\4", id="shorter than a header"),
        ],
    )
    def test_what_is_no_smpp_ends_the_link(self, carrier, gateways, octets):
        gateway = gateways()
        gateway.send(text())
        carrier.inject(octets)

        assert soon(lambda: carrier.binds == 2 and gateway.trouble is None)
        assert gateway.send(text(reference="two")).reference == "2"

    @pytest.mark.parametrize(
        "body",
        [
            pytest.param(b"\0\1", id="cut off at its front"),
            pytest.param(b"\0\1\x014477\0\1\x014499\0" + bytes(9) + b"\x09RAIN", id="or its text"),
        ],
    )
    def test_an_unreadable_delivery_is_given_back_for_good(self, carrier, listening, caplog, body):
        carrier.inject(frame(0x00000005, body, sequence=909))

        assert soon(lambda: (0x80000005, 909) in carrier.heard)
        assert "cannot be read" in caplog.text
        assert listening.send(text()).reference == "1"


class TestReceipts:
    @pytest.mark.parametrize(
        ("word", "state"),
        [
            ("DELIVRD", ReceiptState.DELIVERED),
            ("UNDELIV", ReceiptState.UNDELIVERED),
            ("EXPIRED", ReceiptState.UNDELIVERED),
            ("REJECTD", ReceiptState.UNDELIVERED),
            ("ACCEPTD", ReceiptState.UNDERWAY),
            ("ENROUTE", ReceiptState.UNDERWAY),
        ],
    )
    def test_a_receipt_after_the_answer(self, carrier, listening, events, word, state):
        taken = listening.send(text())
        status = carrier.deliver(receipt_text(taken.reference, word), esm_class=RECEIPT)

        (receipt,) = events
        assert status == 0 and isinstance(receipt, Receipt)
        assert (receipt.reference, receipt.state) == (taken.reference, state)
        assert receipt.reason == f"{word} 000"

    def test_a_receipt_by_optional_parameters(self, carrier, listening, events):
        taken = listening.send(text())
        message_id = smpp34.Tlv(smpp34.TLV_RECEIPTED_MESSAGE_ID, taken.reference.encode() + b"\0")
        state = smpp34.Tlv(smpp34.TLV_MESSAGE_STATE, b"\x05")
        carrier.deliver(esm_class=RECEIPT, tlvs=[message_id, state])

        assert (events[0].reference, events[0].state) == (taken.reference, ReceiptState.UNDELIVERED)

    def test_a_receipt_before_the_answer_waits_for_it(self, carrier, listening, events):
        seen = []

        async def receipt_first(event):
            esme = carrier.esme
            early = asyncio.ensure_future(
                esme.deliver_sm(SENDER, receipt_text("77"), source_addr=NUMBER, esm_class=RECEIPT)
            )
            await asyncio.sleep(0.2)
            seen.append((list(events), early.done()))
            event.accept("77")
            seen.append((await early).command_status)

        carrier.decide = carrier.at_once(receipt_first)
        taken = listening.send(text())

        assert taken.reference == "77"
        assert soon(lambda: len(seen) == 2) and seen == [([], False), 0]
        assert [each.reference for each in events] == ["77"]

    def test_a_receipt_for_another_message_waits_only_for_what_is_open(
        self, carrier, listening, events
    ):
        kept = []
        carrier.decide = kept.append
        with ThreadPoolExecutor(1) as threads:
            call = threads.submit(listening.send, text())
            assert soon(lambda: kept)
            delivery = carrier.later(
                carrier.deliver_soon([{"short_message": receipt_text("9"), "esm_class": RECEIPT}])
            )
            time.sleep(0.1)
            assert events == []
            carrier.on_loop(lambda: kept.pop().accept("1"))
            assert call.result(5).reference == "1"

        assert delivery.result(5) == [0]
        assert [each.reference for each in events] == ["9"]

    @pytest.mark.parametrize(
        ("submit_ids", "receipt_ids", "answered", "told"),
        [
            pytest.param("hex", "decimal", "0001F4", "500", id="hex, then decimal"),
            pytest.param("decimal", "hex", "500", "1f4", id="decimal, then hex"),
            pytest.param("decimal", "decimal", "500", "0000000500", id="with zeros before"),
            pytest.param("text", "text", "A-1f4", "A-1f4", id="as they are"),
        ],
    )
    def test_ids_spelled_two_ways_meet(
        self, carrier, gateways, events, submit_ids, receipt_ids, answered, told
    ):
        carrier.decide = lambda event: event.accept(answered)
        gateway = gateways(submit_ids=submit_ids, receipt_ids=receipt_ids)
        gateway.listen(events.append)
        taken = gateway.send(text())
        carrier.deliver(receipt_text(told), esm_class=RECEIPT)

        assert [each.reference for each in events] == [taken.reference]

    def test_an_answer_that_comes_late_settles_the_doubt(self, carrier, gateways, events):
        kept = []
        carrier.decide = kept.append
        gateway = gateways(answer_s="0.3")
        gateway.listen(events.append)
        with pytest.raises(Unsure):
            gateway.send(text(reference="ours"))
        carrier.on_loop(lambda: kept.pop().accept("12"))

        assert soon(lambda: events)
        assert (events[0].reference, events[0].client_reference) == ("12", "ours")
        assert events[0].state is ReceiptState.UNDERWAY

    def test_a_receipt_without_an_id_is_told_to_the_log(self, carrier, listening, events, caplog):
        assert carrier.deliver(b"stat:DELIVRD", esm_class=RECEIPT) == 0
        assert events == [] and "names no message" in caplog.text


class TestInbound:
    def test_it_says_that_it_listens(self, gateways):
        assert isinstance(gateways(), Listening)

    @pytest.mark.parametrize(
        ("units", "coding", "body"),
        [
            pytest.param(b"RAIN 12 NOV", 0, "RAIN 12 NOV", id="default alphabet"),
            pytest.param(b"\x00\x1be", 0, "@€", id="its own letters"),
            pytest.param("até ŵ 🌽".encode("utf-16-be"), 8, "até ŵ 🌽", id="UCS-2"),
            pytest.param(b"at\xe9", 3, "até", id="Latin 1"),
        ],
    )
    def test_a_text_comes_in_as_utf_8(self, carrier, listening, events, units, coding, body):
        status = carrier.deliver(units, data_coding=coding)

        (incoming,) = events
        assert status == 0 and isinstance(incoming, Incoming)
        assert (incoming.sender, incoming.body) == (FARMER, body.encode())
        assert abs(datetime.now(UTC) - incoming.sent_at).total_seconds() < 5

    def test_what_is_no_text_comes_in_as_it_came(self, carrier, listening, events):
        carrier.deliver(b"\xff\x00\x1b", data_coding=4)

        assert events[0].body == b"\xff\x00\x1b"

    def test_a_payload_comes_in(self, carrier, listening, events):
        carrier.deliver(tlvs=[smpp34.Tlv(smpp34.TLV_MESSAGE_PAYLOAD, b"RAIN " * 60)])

        assert events[0].body == b"RAIN " * 60

    @pytest.mark.parametrize(
        "header",
        [
            pytest.param(lambda n: bytes([5, 0, 3, 9, 3, n]), id="8-bit reference"),
            pytest.param(lambda n: bytes([6, 8, 4, 1, 9, 3, n]), id="16-bit reference"),
        ],
    )
    def test_parts_are_joined_in_whatever_order(self, carrier, listening, events, header):
        pieces = {1: b"RAIN ", 2: b"12 ", 3: b"NOV"}
        parts = [
            {"short_message": header(number) + pieces[number], "esm_class": 0x40}
            for number in (3, 1, 2)
        ]
        statuses = carrier.deliver_all(parts)

        assert statuses == [0, 0, 0]
        assert [each.body for each in events] == [b"RAIN 12 NOV"]

    def test_parts_by_optional_parameters_are_joined(self, carrier, listening, events):
        def part(number, units):
            tlvs = [
                smpp34.Tlv(smpp34.TLV_SAR_MSG_REF_NUM, b"\0\7"),
                smpp34.Tlv(smpp34.TLV_SAR_TOTAL_SEGMENTS, b"\2"),
                smpp34.Tlv(smpp34.TLV_SAR_SEGMENT_SEQNUM, bytes([number])),
            ]
            return {"short_message": units, "tlvs": tlvs}

        carrier.deliver_all([part(2, b"NOV"), part(1, b"RAIN 12 ")])

        assert [each.body for each in events] == [b"RAIN 12 NOV"]

    def test_a_carrier_that_sends_part_by_part_is_not_stopped(self, carrier, listening, events):
        for number, units in ((1, b"RAIN "), (2, b"12 NOV")):
            part = bytes([5, 0, 3, 9, 2, number]) + units
            assert carrier.deliver(part, esm_class=0x40) == 0

        assert [each.body for each in events] == [b"RAIN 12 NOV"]

    def test_a_letter_cut_in_two_by_the_sender_is_made_whole(self, carrier, listening, events):
        units = "🌽".encode("utf-16-be")
        parts = [
            {"short_message": bytes([5, 0, 3, 9, 2, n + 1]) + units[2 * n : 2 * n + 2]}
            for n in range(2)
        ]
        carrier.deliver_all([part | {"esm_class": 0x40, "data_coding": 8} for part in parts])

        assert events[0].body == "🌽".encode()

    def test_what_is_not_kept_comes_again(self, carrier, gateways, events, caplog):
        def keep(event):
            events.append(event)
            if len(events) == 1:
                raise OSError("the disk is full")

        gateways().listen(keep)

        assert carrier.deliver(b"RAIN") == LATER_PLEASE
        assert carrier.deliver(b"RAIN") == 0
        assert [each.body for each in events] == [b"RAIN", b"RAIN"]
        assert "the disk is full" in caplog.text

    def test_the_answer_waits_until_the_event_is_kept(self, carrier, gateways):
        kept = threading.Event()
        gateways().listen(lambda event: kept.wait(5))
        delivery = carrier.later(carrier.deliver_soon([{"short_message": b"RAIN"}]))
        time.sleep(0.2)
        waited = not delivery.done()
        kept.set()

        assert waited and delivery.result(5) == [0]

    def test_sending_goes_on_while_an_event_is_being_kept(self, carrier, gateways):
        kept = threading.Event()
        gateway = gateways()
        gateway.listen(lambda event: kept.wait(5))
        delivery = carrier.later(carrier.deliver_soon([{"short_message": b"RAIN"}]))
        taken = gateway.send(text())
        kept.set()

        assert taken.reference == "1" and delivery.result(5) == [0]

    def test_before_anybody_listens_it_comes_again(self, carrier, gateways):
        gateways().send(text())

        assert carrier.deliver(b"RAIN") == LATER_PLEASE

    def test_a_text_whose_answer_was_lost_has_the_same_id_again(self, carrier, gateways, events):
        def keep(event):
            events.append(event)
            if len(events) == 1:
                carrier.cut()
                assert soon(lambda: carrier.binds == 2)

        gateways().listen(keep)
        carrier.later(carrier.deliver_soon([{"short_message": b"RAIN"}]))
        assert soon(lambda: carrier.binds == 2)
        assert carrier.deliver(b"RAIN") == 0
        assert carrier.deliver(b"RAIN") == 0

        ids = [each.message_id for each in events]
        assert ids[0] == ids[1] != ids[2]


class TestOptions:
    def test_all_faults_are_told_at_once(self, tmp_path):
        given = {"port": "many", "window": "0", "sender": "ŵ", "colour": "red"}
        with pytest.raises(BadOption) as raised:
            SmppGateway.from_options(given)

        for name in ("host", "port", "system_id", "password_file", "window", "sender", "colour"):
            assert f"{name}: " in str(raised.value)

    def test_a_profile_holds_options_and_an_option_goes_before_it(
        self, carrier, tmp_path, gateways
    ):
        options = carrier.options(tmp_path) | {"password_file": "password", "sender": "Setiwe"}
        lines = "\n".join(f'{name} = "{value}"' for name, value in options.items())
        (tmp_path / "carrier.toml").write_text(lines)
        profile = str(tmp_path / "carrier.toml")
        gateway = SmppGateway.from_options({"profile": profile, "sender": "Olmara"})
        gateway.send(text())
        gateway.close()

        assert carrier.submits[0].source_addr == "Olmara"

    def test_the_profile_that_we_ship_has_no_faults(self, tmp_path):
        shipped = Path(__file__).parents[3] / "deploy" / "profiles" / "example-smpp.toml"
        (tmp_path / "carrier.toml").write_text(shipped.read_text())
        (tmp_path / "secrets").mkdir()
        (tmp_path / "secrets" / "smpp-password").write_text("rainfall\n")

        SmppGateway.from_options({"profile": str(tmp_path / "carrier.toml")}).close()

    @pytest.mark.parametrize(
        "secret", [pytest.param("", id="empty"), pytest.param("nine lett", id="too long")]
    )
    def test_a_password_that_cannot_be_is_not_shown(self, carrier, tmp_path, secret):
        options = carrier.options(tmp_path)
        (tmp_path / "password").write_text(secret)
        with pytest.raises(BadOption, match="1 to 8 letters") as raised:
            SmppGateway.from_options(options)

        assert not secret or secret not in str(raised.value)

    def test_the_password_stands_in_no_log(self, gateways, carrier, caplog):
        caplog.set_level(logging.DEBUG)
        gateway = gateways()
        gateway.send(text())
        gateway.close()

        shown = caplog.text + repr(vars(gateway))
        assert "rainfall" not in shown and b"rainfall".hex() not in shown
