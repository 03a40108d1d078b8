"""PDUs agree with those of another package, and with worked examples."""

from datetime import UTC, datetime, timedelta

import pytest
from gsmmodem.pdu import decodeSmsPdu
from hypothesis import given
from hypothesis import strategies as st
from modem_on_pty import deliver_pdu, status_report_pdu
from smsutil import split
from smsutil.codecs import GSM_BASIC_CHARSET

from gateways.modem.pdu import (
    Alphabet,
    BadPdu,
    Deliver,
    StatusReport,
    TooLong,
    body_of,
    read_pdu,
    submits,
)
from gateways.protocol import ReceiptState

TO = "+447700900001"
# Without the section sign: the other package takes it for a grave accent.
GSM_LETTERS = "@£$¥èéùìòÇ\nØøÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()*+,-./09:;<=>?¡AZÄÖÑÜ¿azäöñüà^{}\\[~]|€"
gsm_texts = st.text(GSM_LETTERS, min_size=1, max_size=500)
any_texts = st.text(
    st.characters(exclude_categories=["Cs"], exclude_characters="\x1b§"), min_size=1, max_size=300
)


def parts_of(body, valid=timedelta(hours=1), smsc=None, receipt=False):
    return submits(TO, body, 7, valid, smsc=smsc, receipt=receipt)


def read_elsewhere(parts):
    """The text as the other package reads it; it gives UTF-16 units one by one."""
    read = "".join(decodeSmsPdu(part.hex)["text"] for part in parts)
    return read.encode("utf-16", "surrogatepass").decode("utf-16")


@given(st.one_of(gsm_texts, any_texts))
def test_another_package_reads_what_we_write(body):
    # Its reader loses a form feed, which GSM 7-bit has, and an @ (septet 0) at the end of a part.
    body = body.replace("\x0c", "^").replace("@", "a")
    assert read_elsewhere(parts_of(body)) == body


@pytest.mark.parametrize("letter", sorted(set(GSM_BASIC_CHARSET) - {"\x1b"}))
def test_each_letter_has_the_septet_of_a_third_package(letter):
    assert bytes.fromhex(parts_of(letter)[0].hex)[-1:] == letter.encode("gsm0338")


@given(st.one_of(gsm_texts, any_texts))
def test_parts_are_as_many_as_another_package_counts(body):
    assert len(parts_of(body)) == len(split(body).parts)


@given(st.one_of(gsm_texts, any_texts), st.integers(0, 255))
def test_we_read_what_another_package_delivers(body, text_id):
    pieces = [piece.content for piece in split(body).parts]
    long = len(pieces) > 1
    read = [
        read_pdu(deliver_pdu(TO, piece, place=(text_id, len(pieces), number) if long else None))
        for number, piece in enumerate(pieces, start=1)
    ]

    assert body_of(read).decode() == body
    assert [(part.parts, part.number) for part in read] == [
        (len(pieces), number) for number in range(1, len(pieces) + 1)
    ]


@pytest.mark.parametrize("smsc", [None, "+447700900999"], ids=["the SIM's", "ours"])
@pytest.mark.parametrize("body", ["hi", "x" * 161], ids=["one part", "two parts"])
def test_the_length_for_the_command_leaves_out_the_service_centre(smsc, body):
    for part in parts_of(body, smsc=smsc):
        read = decodeSmsPdu(part.hex)
        assert (read["smsc"], read["tpdu_length"]) == (smsc, part.octets)


def test_parts_carry_their_place():
    places = [decodeSmsPdu(part.hex)["udh"][0] for part in parts_of("x" * 400)]

    assert [(p.reference, p.parts, p.number) for p in places] == [(7, 3, 1), (7, 3, 2), (7, 3, 3)]


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        pytest.param(timedelta(hours=-1), timedelta(minutes=5), id="over: the least"),
        pytest.param(timedelta(minutes=14), timedelta(minutes=10), id="rounded down"),
        pytest.param(timedelta(hours=12), timedelta(hours=12), id="half a day"),
        pytest.param(timedelta(hours=13, minutes=40), timedelta(hours=13, minutes=30), id="13 h"),
        pytest.param(timedelta(hours=47), timedelta(days=1), id="under two days"),
        pytest.param(timedelta(days=30), timedelta(days=30), id="a month"),
        pytest.param(timedelta(days=36), timedelta(weeks=5), id="weeks"),
        pytest.param(timedelta(days=900), timedelta(weeks=63), id="the most"),
    ],
)
def test_the_carrier_never_tries_longer_than_asked(asked, said):
    assert decodeSmsPdu(parts_of("hi", valid=asked)[0].hex)["validity"] == said


def test_a_receipt_is_asked_for_in_the_first_octet():
    plain, asking = (bytes.fromhex(parts_of("hi", receipt=ask)[0].hex)[1] for ask in (False, True))

    assert asking == plain | 0x20


def test_an_escape_does_not_change_the_letter_after_it():
    assert read_elsewhere(parts_of("\x1be")) == "\x1be"


def test_more_than_255_parts_are_too_long():
    with pytest.raises(TooLong, match="256 parts"):
        parts_of("x" * (153 * 255 + 1))


def test_a_text_from_east_of_greenwich_is_read_in_utc():
    east = "0004" + "0C914477000900100000" + "62211121000080" + "02E834"

    assert read_pdu(east).sent_at == datetime(2026, 12, 11, 10, 0, tzinfo=UTC)


def test_a_time_west_of_greenwich_is_read_in_utc():
    west = "0004" + "0C914477000900100000" + "6221112100008A" + "02E834"

    assert read_pdu(west).sent_at == datetime(2026, 12, 11, 19, 0, tzinfo=UTC)


@pytest.mark.parametrize("sender", ["+447700900002", "Tanda", "0770090000"])
def test_the_sender_is_read(sender):
    assert read_pdu(deliver_pdu(sender, "hi")).sender == sender


def test_a_character_split_over_a_border_is_put_together():
    first, second = "Rain \ud83c", "\udf27 12 NOV"
    read = [
        read_pdu(deliver_pdu(TO, piece, place=(9, 2, number)))
        for number, piece in enumerate([first, second], start=1)
    ]

    assert body_of(read).decode() == "Rain 🌧 12 NOV"


def test_binary_bytes_stay_as_they_are():
    pdu = "0004" + "0C914477000900100004" + "62211121000000" + "02FF00"

    read = read_pdu(pdu)
    assert (read.alphabet, body_of([read])) == (Alphabet.BINARY, b"\xff\x00")


@pytest.mark.parametrize(
    ("status", "state"),
    [
        pytest.param(0x00, ReceiptState.DELIVERED, id="received"),
        pytest.param(0x01, ReceiptState.UNDERWAY, id="passed on, not confirmed"),
        pytest.param(0x02, ReceiptState.DELIVERED, id="replaced"),
        pytest.param(0x20, ReceiptState.UNDERWAY, id="congested, still tried"),
        pytest.param(0x41, ReceiptState.UNDELIVERED, id="wrong number"),
        pytest.param(0x46, ReceiptState.UNDELIVERED, id="ran out of time"),
        pytest.param(0x62, ReceiptState.UNDELIVERED, id="given up"),
    ],
)
def test_a_status_report_is_read(status, state):
    report = read_pdu(status_report_pdu(255, TO, status))

    assert report == StatusReport(255, TO, datetime(2026, 12, 1, 10, 5, tzinfo=UTC), status)
    assert report.state is state


@pytest.mark.parametrize(
    "pdu",
    [
        pytest.param("", id="nothing"),
        pytest.param("zz", id="no hex"),
        pytest.param("0004", id="ends early"),
        pytest.param(deliver_pdu(TO, "hi")[:-2], id="cut in the text"),
        pytest.param("0001000C9144770009001000000B02E834", id="a message of our own"),
    ],
)
def test_what_is_no_text_is_refused_without_showing_it(pdu):
    with pytest.raises(BadPdu) as caught:
        read_pdu(pdu)

    assert caught.value.pdu == pdu and "4477" not in str(caught.value)


@given(st.binary(max_size=60))
def test_no_bytes_break_the_reader(octets):
    try:
        read = read_pdu(octets.hex())
    except BadPdu:
        return
    assert isinstance(read, Deliver | StatusReport)
    if isinstance(read, Deliver):
        body_of([read])
