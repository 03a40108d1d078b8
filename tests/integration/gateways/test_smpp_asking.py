"""Asking an SMPP carrier what became of a text, by an independent package's server and line."""

import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
import smpp34
from smpp_carrier import NUMBER, SENDER, SmppCarrier

from gateways.contract import message
from gateways.errors import TryLater, Unsure
from gateways.protocol import NotKnown, Question, Receipt, ReceiptState
from gateways.smpp.gateway import SmppGateway

QUESTION = Question(f"+{NUMBER}", "12", "ours", datetime.now(UTC))
NOT_SUPPORTED = 0x03


def fate(state, final_date=b"", error=0):
    """An answer of the carrier's that names a state."""
    return lambda _query: (0, b"12\0" + final_date + b"\0" + bytes([state, error]))


def status(code):
    """An answer without a body, as to what failed."""
    return lambda _query: (code, b"")


@pytest.fixture(scope="module")
def one_carrier():
    carrier = SmppCarrier()
    yield carrier
    carrier.stop()


@pytest.fixture
def carrier(one_carrier):
    one_carrier.answer_query = None
    one_carrier.queries.clear()
    return one_carrier


@pytest.fixture
def gateways(carrier, tmp_path):
    """Makes gateways bound to the carrier that ask, and closes them."""
    made = []

    def make(**options):
        given = {"asking": "true"} | options
        made.append(SmppGateway.from_options(carrier.options(tmp_path, **given)))
        return made[-1]

    yield make
    for each in made:
        each.close()


class TestAnswers:
    @pytest.mark.parametrize(
        ("state", "meant", "word"),
        [
            (1, ReceiptState.UNDERWAY, "ENROUTE"),
            (2, ReceiptState.DELIVERED, "DELIVRD"),
            (3, ReceiptState.UNDELIVERED, "EXPIRED"),
            (4, ReceiptState.UNDELIVERED, "DELETED"),
            (5, ReceiptState.UNDELIVERED, "UNDELIV"),
            (6, ReceiptState.UNDERWAY, "ACCEPTD"),
            (8, ReceiptState.UNDELIVERED, "REJECTD"),
        ],
    )
    def test_a_state_is_a_receipt(self, carrier, gateways, state, meant, word):
        carrier.answer_query = fate(state, error=7)
        before = datetime.now(UTC)
        said = gateways().ask(QUESTION)

        assert said == Receipt("12", "ours", meant, said.at, f"{word} 007")
        assert before <= said.at <= datetime.now(UTC)

    @pytest.mark.parametrize(
        ("final_date", "at"),
        [
            pytest.param(
                b"261212183000004+", datetime(2026, 12, 12, 17, 30, tzinfo=UTC), id="ahead"
            ),
            pytest.param(
                b"261212183000008-", datetime(2026, 12, 12, 20, 30, tzinfo=UTC), id="behind"
            ),
            pytest.param(b"261212183000000+", datetime(2026, 12, 12, 18, 30, tzinfo=UTC), id="UTC"),
        ],
    )
    def test_the_time_of_its_end_is_the_carriers(self, carrier, gateways, final_date, at):
        carrier.answer_query = fate(2, final_date)

        assert gateways().ask(QUESTION).at == at

    @pytest.mark.parametrize(
        "final_date",
        [
            pytest.param(b"000002000000000R", id="a relative time"),
            pytest.param(b"261399183000000+", id="a day that no calendar has"),
            pytest.param(b"\xff", id="no time"),
        ],
    )
    def test_a_time_that_cannot_be_read_is_that_of_asking(self, carrier, gateways, final_date):
        carrier.answer_query = fate(2, final_date)
        before = datetime.now(UTC)

        assert before <= gateways().ask(QUESTION).at <= datetime.now(UTC)

    @pytest.mark.parametrize(
        "code",
        [
            pytest.param(smpp34.ESME_RINVMSGID, id="invalid message id"),
            pytest.param(0x67, id="query failed"),
        ],
    )
    def test_a_text_that_it_does_not_know_is_not_known(self, carrier, gateways, code):
        carrier.answer_query = status(code)

        assert gateways().ask(QUESTION) == NotKnown()

    def test_a_text_of_long_ago_may_be_forgotten(self, carrier, gateways):
        carrier.answer_query = status(smpp34.ESME_RINVMSGID)
        fresh = replace(QUESTION, sent_at=datetime.now(UTC))
        long_ago = replace(fresh, sent_at=fresh.sent_at - timedelta(minutes=2))
        gateway = gateways(unknown_until_s="60")

        assert gateway.ask(fresh) == NotKnown()
        with pytest.raises(Unsure, match="0x0C"):
            gateway.ask(long_ago)

    def test_the_other_packages_server_says_query_failed_itself(self, carrier, gateways):
        assert gateways().ask(QUESTION) == NotKnown()
        assert len(carrier.queries) == 1

    def test_a_code_that_the_profile_leaves_out_is_unsure(self, gateways):
        with pytest.raises(Unsure, match="0x67"):
            gateways(unknown_codes="0x0C").ask(QUESTION)

    @pytest.mark.parametrize(
        "answer",
        [
            pytest.param(status(NOT_SUPPORTED), id="no such command"),
            pytest.param(fate(7), id="state unknown"),
            pytest.param(fate(0), id="a state of its own"),
            pytest.param(lambda _query: (0, b"12\0\0\2"), id="cut short"),
            pytest.param(lambda _query: (0, b""), id="empty"),
        ],
    )
    def test_what_says_nothing_of_the_text_is_unsure(self, carrier, gateways, answer):
        carrier.answer_query = answer

        with pytest.raises(Unsure):
            gateways().ask(QUESTION)

    @pytest.mark.parametrize(
        ("code", "after_s"),
        [
            pytest.param(smpp34.ESME_RTHROTTLED, 7.0, id="throttled"),
            pytest.param(smpp34.ESME_RSYSERR, 60.0, id="system error"),
            pytest.param(0x0410, 60.0, id="a code that the profile names"),
        ],
    )
    def test_not_now_is_for_later(self, carrier, gateways, code, after_s):
        carrier.answer_query = status(code)

        with pytest.raises(TryLater) as raised:
            gateways(throttled_s="7", later_codes="0x0410").ask(QUESTION)
        assert raised.value.after_s == after_s


class TestQuestions:
    def test_it_names_the_id_and_our_sender(self, carrier, gateways):
        carrier.answer_query = fate(2)
        gateways().ask(QUESTION)

        assert carrier.queries == [b"12\0\x01\x01" + SENDER.encode() + b"\0"]

    @pytest.mark.parametrize(
        ("options", "answered", "asked"),
        [
            pytest.param({}, "A-01f4", b"A-01f4", id="as it is"),
            pytest.param({"submit_ids": "hex"}, "1F4", b"1F4", id="hex"),
            pytest.param(
                {"submit_ids": "hex", "asked_id_digits": "8"},
                "000001F4",
                b"000001F4",
                id="hex with zeros",
            ),
            pytest.param(
                {"submit_ids": "decimal", "asked_id_digits": "10"},
                "0000000500",
                b"0000000500",
                id="decimal with zeros",
            ),
            pytest.param({"submit_ids": "hex"}, "A-7", b"A-7", id="not in hex after all"),
        ],
    )
    def test_the_id_is_spelled_as_the_carrier_did(
        self, carrier, gateways, options, answered, asked
    ):
        carrier.answer_query = fate(1)
        usual, carrier.decide = carrier.decide, lambda event: event.accept(answered)
        gateway = gateways(**options)
        taken = gateway.send(message("ours"))
        carrier.decide = usual
        gateway.ask(replace(QUESTION, reference=taken.reference))

        assert carrier.queries[0].split(b"\0")[0] == asked

    @pytest.mark.parametrize(
        "reference",
        [
            pytest.param(None, id="no answer ever came"),
            pytest.param("unnamed-ours", id="the carrier named no id"),
            pytest.param("x" * 65, id="too long"),
            pytest.param("✓", id="letters that no carrier has"),
            pytest.param("1\0 2", id="an end inside"),
        ],
    )
    def test_without_an_id_nothing_is_asked(self, carrier, gateways, reference):
        with pytest.raises(Unsure):
            gateways().ask(replace(QUESTION, reference=reference))

        assert carrier.queries == []

    def test_as_shipped_nothing_is_asked(self, carrier, tmp_path):
        gateway = SmppGateway.from_options(carrier.options(tmp_path))
        with pytest.raises(Unsure, match="asking"):
            gateway.ask(QUESTION)
        gateway.close()

        assert not gateway.abilities.asking and carrier.queries == []

    def test_the_profile_says_that_it_can_be_asked(self, gateways):
        assert gateways().abilities.asking


class TestLink:
    def test_no_answer_in_time_is_for_later(self, carrier, gateways):
        carrier.answer_query = lambda _query: None
        gateway = gateways(answer_s="0.3")
        gateway.send(message("ours"))
        began_s = time.monotonic()
        with pytest.raises(TryLater, match=r"within 0\.3 s"):
            gateway.ask(QUESTION)

        assert time.monotonic() - began_s < 10

    def test_a_question_without_an_answer_keeps_no_place_in_the_window(self, carrier, gateways):
        carrier.answer_query = lambda _query: None
        gateway = gateways(answer_s="0.2", window="1")
        for _again in range(2):
            with pytest.raises(TryLater, match="did not answer"):
                gateway.ask(QUESTION)

        assert gateway.send(message("ours")).reference

    def test_a_link_lost_before_the_answer_is_for_later(self, carrier, gateways):
        def cut(_query):
            carrier.later(cut_soon())

        async def cut_soon():
            carrier._cut()

        carrier.answer_query = cut

        with pytest.raises(TryLater, match="lost"):
            gateways().ask(QUESTION)

    def test_without_a_link_it_is_for_later(self, gateways):
        with pytest.raises(TryLater, match="no link"):
            gateways(port="1").ask(QUESTION)
