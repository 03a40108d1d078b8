"""Texts are put together from the modem's store."""

from datetime import UTC, datetime, timedelta

from modem_on_pty import deliver_pdu, status_report_pdu

from gateways.modem.store import UNREADABLE, Stored, status_reports, stored_pdus, texts

SENDER = "+447700900002"
NOW = datetime(2026, 12, 1, 10, 0, tzinfo=UTC)


def part(index, text, place, at=NOW, sender=SENDER):
    return Stored(index, deliver_pdu(sender, text, at, place))


def bodies(stored, now=NOW, full=False):
    return [text.event.body.decode() for text in texts(stored, now, full)]


def test_parts_are_joined_whatever_their_order():
    stored = [part(1, "and more", (9, 2, 2)), part(2, "Rain ", (9, 2, 1))]
    (text,) = texts(stored, NOW, full=False)

    assert text.event.body == b"Rain and more" and sorted(text.places) == [1, 2]


def test_parts_wait_for_each_other():
    assert bodies([part(1, "Rain ", (9, 2, 1))]) == []


def test_after_a_day_a_text_comes_with_its_gap():
    stored = [part(1, "Rain ", (9, 3, 1)), part(2, "NOV", (9, 3, 3))]

    assert bodies(stored, NOW + timedelta(days=1, seconds=1)) == ["Rain  … NOV"]


def test_in_a_full_store_the_oldest_text_comes_with_its_gap():
    stored = [
        part(1, "new", (8, 2, 1)),
        part(2, "old", (9, 2, 1), NOW - timedelta(hours=2)),
    ]

    assert bodies(stored, full=True) == ["old … "]


def test_a_full_store_with_a_whole_text_lets_the_others_wait():
    stored = [part(1, "old", (9, 2, 1)), Stored(2, deliver_pdu(SENDER, "whole", NOW))]

    assert bodies(stored, full=True) == ["whole"]


def test_texts_of_two_senders_are_not_mixed():
    stored = [part(1, "a", (9, 2, 1)), part(2, "b", (9, 2, 2), sender="+447700900003")]

    assert bodies(stored) == []


def test_an_orphan_of_an_earlier_text_of_the_same_id_is_not_mixed_in():
    stored = [
        part(1, "orphan", (9, 2, 1), NOW - timedelta(minutes=5)),
        part(2, "Rain ", (9, 2, 1)),
        part(3, "12 NOV", (9, 2, 2), NOW + timedelta(seconds=2)),
    ]

    assert bodies(stored) == ["Rain 12 NOV"]


def test_parts_sent_hours_apart_are_of_two_texts():
    stored = [part(1, "old ", (9, 2, 1), NOW - timedelta(hours=2)), part(2, "new", (9, 2, 2))]

    assert bodies(stored) == []


def test_the_same_text_has_the_same_id_in_another_place():
    once, again = (texts([Stored(n, deliver_pdu(SENDER, "hi"))], NOW, False)[0] for n in (1, 4))

    assert once.event.message_id == again.event.message_id


def test_the_same_words_a_second_later_are_another_text():
    ids = {
        texts([Stored(1, deliver_pdu(SENDER, "hi", at))], NOW, False)[0].event.message_id
        for at in (NOW, NOW + timedelta(seconds=1))
    }

    assert len(ids) == 2


def test_what_is_unreadable_comes_as_it_stands():
    (text,) = texts([Stored(3, "07FF")], NOW, full=False)

    assert (text.event.sender, text.event.body, text.places) == (UNREADABLE, b"07FF", (3,))


def test_status_reports_in_the_store_are_no_texts():
    stored = [Stored(1, status_report_pdu(5, SENDER, 0))]

    assert bodies(stored) == []
    assert [(report.message, place) for report, place in status_reports(stored)] == [(5, 1)]


def test_drafts_stay_where_they_are():
    assert stored_pdus(["+CMGL: 1,2,,9", "AA", "+CMGL: 2,0,,9", "BB"]) == [Stored(2, "BB")]
