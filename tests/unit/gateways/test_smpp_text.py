"""Texts, parts, receipts and the window of the SMPP gateway, without a carrier."""

from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gateways.errors import Refused
from gateways.protocol import ReceiptState
from gateways.smpp.parts import Part, Parts
from gateways.smpp.receipts import plain_id, receipt_of
from gateways.smpp.text import (
    GSM,
    UCS2,
    Delivery,
    Piece,
    absolute_time,
    body_of,
    piece_of,
    submit_fields,
    tlvs,
)
from gateways.smpp.window import Window
from gateways.smpp.wire import Answer

NOW = datetime(2026, 12, 12, 8, 0, tzinfo=UTC)
GSM_LETTERS = "@£$¥èéùìòÇ\nØøÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()azAZ09ÄÖÑÜ§¿äöñüà\f^{}\\[~]|€"
texts = st.one_of(st.text(alphabet=GSM_LETTERS, max_size=700), st.text(max_size=300))


def delivery(units=b"", esm_class=0, data_coding=0, given=()):
    return Delivery(1, "+447700900001", "447700900999", esm_class, data_coding, units, dict(given))


def joined(fields):
    """The text that a phone makes of the parts."""
    pieces = [
        piece_of(delivery(each["short_message"], each.get("esm_class", 0), each["data_coding"]))
        for each in fields
    ]
    assert [piece.number for piece in pieces] == list(range(1, len(fields) + 1))
    assert len({piece.text for piece in pieces}) == 1
    return body_of(fields[0]["data_coding"], b"".join(piece.units for piece in pieces)).decode()


class TestParts:
    @given(texts)
    def test_what_is_sent_is_what_is_read(self, body):
        assert joined(submit_fields(body, "udh", "one")) == body

    @given(texts)
    def test_no_part_is_too_long(self, body):
        fields = submit_fields(body, "udh", "one")
        most = 160 if fields[0]["data_coding"] == GSM else 140

        assert all(len(each["short_message"]) <= most for each in fields)

    @given(texts)
    def test_each_part_can_be_read_alone(self, body):
        for each in submit_fields(body, "udh", "one"):
            piece = piece_of(delivery(each["short_message"], each.get("esm_class", 0)))
            assert "\ufffd" not in body_of(each["data_coding"], piece.units).decode() or (
                "\ufffd" in body
            )

    def test_a_bare_escape_makes_it_another_alphabet(self):
        assert submit_fields("\x1be", "udh", "one")[0]["data_coding"] == UCS2

    @pytest.mark.parametrize(
        ("way", "letters"), [pytest.param("udh", 153 * 255 + 1), pytest.param("payload", 64_001)]
    )
    def test_what_no_message_can_hold_is_refused(self, way, letters):
        with pytest.raises(Refused, match="shorten it"):
            submit_fields("x" * letters, way, "one")

    @pytest.mark.parametrize(
        "header",
        [
            pytest.param(b"", id="none at all"),
            pytest.param(b"\5\0\3\7", id="cut off"),
            pytest.param(b"\5\0\3\7\2\3", id="part 3 of 2"),
            pytest.param(b"\5\0\3\7\2\0", id="part 0"),
            pytest.param(b"\4\5\2\1\1", id="of another kind"),
        ],
    )
    def test_a_header_that_names_no_place_is_a_lone_text(self, header):
        piece = piece_of(delivery(header, esm_class=0x40))

        assert (piece.parts, piece.number) == (1, 1)

    def test_the_same_reference_at_two_senders_is_two_texts(self):
        one = piece_of(delivery(b"\5\0\3\7\2\1a", 0x40))
        other = piece_of(
            Delivery(1, "+447700900002", "447700900999", 0x40, 0, b"\5\0\3\7\2\2b", {})
        )

        assert one.text != other.text

    @given(st.dictionaries(st.integers(0, 0xFFFF), st.binary(max_size=40), max_size=5))
    def test_optional_parameters_are_read(self, given_tlvs):
        octets = b"".join(
            tag.to_bytes(2, "big") + len(value).to_bytes(2, "big") + value
            for tag, value in given_tlvs.items()
        )

        assert tlvs(octets) == given_tlvs
        assert tlvs(octets + b"\0\1\0\x09cut off") == given_tlvs

    def test_a_time_elsewhere_is_written_in_utc(self):
        at = datetime(2026, 12, 12, 18, 0, tzinfo=timezone(timedelta(hours=2)))

        assert absolute_time(at) == "261212160000000+"


class TestReceiptTexts:
    def test_the_text_that_is_quoted_does_not_count(self):
        text = b"id:7 stat:UNDELIV err:01a text:id:8 stat:DELIVRD"
        receipt = receipt_of(delivery(text, esm_class=0x04), "text", NOW)

        assert (receipt.reference, receipt.state) == ("7", ReceiptState.UNDELIVERED)
        assert receipt.reason == "UNDELIV 01a"

    def test_a_notice_between_is_never_the_end(self):
        receipt = receipt_of(delivery(b"id:7 stat:DELIVRD", esm_class=0x20), "text", NOW)

        assert receipt.state is ReceiptState.UNDERWAY

    def test_a_state_that_nobody_knows_is_under_way(self):
        given_tlvs = {0x001E: b"7\0", 0x0427: b"\x63"}
        receipt = receipt_of(delivery(esm_class=0x04, given=given_tlvs), "text", NOW)

        assert (receipt.state, receipt.reason) == (ReceiptState.UNDERWAY, "state 99")

    @given(st.integers(0, 2**64))
    def test_hex_and_decimal_meet(self, number):
        spelled = {plain_id(f"{number:X}", "hex"), plain_id(f"{number:08x}", "hex")}

        assert spelled == {plain_id(f"{number:020d}", "decimal")}


def part(number, came_s, answered=False):
    piece = Piece(("one",), 3, number, GSM, b"%d" % number)
    return Part(piece, None, delivery(), came_s, answered)


class TestWaitingParts:
    def test_a_part_is_answered_after_a_second(self):
        parts = Parts()
        parts.add(part(1, 10.0))

        assert parts.to_answer(10.9) == []
        assert [each.piece.number for each in parts.to_answer(11.0)] == [1]

    def test_what_is_there_is_given_after_ten_minutes(self):
        parts = Parts()
        parts.add(part(3, 0.0))
        parts.add(part(1, 100.0))

        assert parts.given_up(699.0) == []
        assert [whole.body for whole in parts.given_up(700.0)] == [b"13"]

    def test_the_same_part_twice_completes_nothing(self):
        parts = Parts()
        whole = [parts.add(part(number, 0.0)) for number in (1, 2, 2)][-1]

        assert not whole.complete
        assert parts.add(part(3, 0.0)).complete and whole.body == b"123"

    def test_a_part_that_was_answered_stays_when_the_text_is_not_kept(self):
        parts = Parts()
        whole = [parts.add(part(1, 0.0, answered=True)), parts.add(part(2, 0.0))][-1]
        parts.refused(whole)

        assert [each.piece.number for each in whole.came] == [1] and parts


class TestWindow:
    def test_a_receipt_waits_for_none_but_the_open(self):
        window = Window(2)
        assert not window.holds("7", None, delivery())
        window.put(1, "one")

        assert window.holds("7", None, delivery())
        assert [held.message_id for held in window.drop(1)] == ["7"]

    def test_a_receipt_for_what_was_taken_does_not_wait(self):
        window = Window(2)
        window.put(1, "one")
        window.put(2, "two")
        window.answer(Answer(1, 0, False, "7"), "7")

        assert not window.holds("7", None, delivery())

    def test_a_lost_link_frees_all_that_wait(self):
        window = Window(2)
        submitted = window.put(1, "one")
        window.holds("7", None, delivery())

        assert [held.message_id for held in window.lose()] == ["7"]
        assert window.wait(1, submitted, 0.01) is None

    def test_a_late_answer_names_the_message_once(self):
        window = Window(2)
        submitted = window.put(1, "one")
        with pytest.raises(TimeoutError):
            window.wait(1, submitted, 0.001)

        assert window.answer(Answer(1, 0, False, "7"), "7")[1] == "one"
        assert window.answer(Answer(1, 0, False, "7"), "7")[1] is None

    def test_a_full_window_lets_nobody_in(self):
        window = Window(1)

        assert window.enter(0.01) and not window.enter(0.01)
        window.leave()
        assert window.enter(0.01)
