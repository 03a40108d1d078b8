"""Texts that came in: kept once, worked once."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from records_cast import HOUR, NOW, new_notice, phone_number, queued
from sqlalchemy import select

from reminder_service.kinds import Stage
from reminder_service.records import farmers, inbound
from reminder_service.records import tables as t
from reminder_service.records.engine import writing


def keep(c, message_id: str = "m1", gateway: str = "console", body: bytes = b"rain 12/11"):
    return inbound.keep_inbound(
        c,
        gateway=gateway,
        message_id=message_id,
        sender=phone_number(1),
        body=body,
        sent_at=NOW,
        received_at=NOW + timedelta(seconds=2),
    )


def test_the_same_text_twice_is_kept_once(c):
    first, is_new = keep(c)
    assert is_new and keep(c, body=b"changed") == (first, False)
    assert c.execute(select(t.inbound.c.body)).scalars().all() == [b"rain 12/11"]


def test_two_gateways_may_use_one_id(c):
    assert keep(c)[0] != keep(c, gateway="modem")[0]


@pytest.mark.parametrize("body", [b"", b"\x00\xff\xfe", bytes(range(256)) * 40])
def test_any_bytes_are_kept_as_they_came(c, body):
    inbound_id, _ = keep(c, body=body)
    assert inbound.take_inbound(c, inbound_id, NOW).body == body


def test_a_text_is_taken_once(c):
    inbound_id, _ = keep(c)
    row = inbound.take_inbound(c, inbound_id, NOW)
    assert (row.gateway, row.sender, row.sent_at) == ("console", phone_number(1), NOW)
    assert inbound.take_inbound(c, inbound_id, NOW) is None


def test_a_text_nobody_kept_is_not_taken(c):
    assert inbound.take_inbound(c, 77, NOW) is None


def test_threads_that_keep_and_take_one_text_work_it_once(engine):
    def work(_):
        with writing(engine) as c:
            inbound_id, _ = keep(c)
        with writing(engine) as c:
            return inbound.take_inbound(c, inbound_id, NOW) is not None

    with ThreadPoolExecutor(8) as pool:
        assert sum(pool.map(work, range(16))) == 1


def test_texts_nobody_worked_come_oldest_first(c):
    ids = [keep(c, message_id)[0] for message_id in "abcd"]
    inbound.take_inbound(c, ids[1], NOW)
    assert inbound.unhandled(c, limit=2) == [ids[0], ids[2]]


def test_a_reading_is_kept_with_the_text(c):
    inbound_id, _ = keep(c)
    assert inbound.reading_of(c, inbound_id) is None
    inbound.note_reading(c, inbound_id, None, {"unread": True})
    assert inbound.reading_of(c, inbound_id) == {"unread": True}


def asked(c, message_id: str, phone_id: int, read_as: dict) -> int:
    inbound_id, _ = keep(c, message_id)
    inbound.note_reading(c, inbound_id, phone_id, read_as)
    return inbound_id


@pytest.mark.parametrize(
    ("readings", "offered"),
    [
        pytest.param([{"ask": [{"kind": "rain"}]}], [{"kind": "rain"}], id="asked last"),
        pytest.param([{"ask": [{"kind": "rain"}]}, {"ask": []}], [], id="asked before that"),
        pytest.param([{"unread": True}], [], id="never asked"),
        pytest.param([], [], id="no text"),
    ],
)
def test_only_the_last_text_asks(c, readings, offered):
    phone = farmers.phone_for(c, phone_number(1))
    for number, read_as in enumerate(readings):
        asked(c, f"m{number}", phone.id, read_as)
    now_id, _ = keep(c, "now")
    assert inbound.last_asked(c, phone.id, before_id=now_id, since=NOW - HOUR) == offered


def test_an_old_question_is_not_asked_any_more(c):
    phone = farmers.phone_for(c, phone_number(1))
    before = asked(c, "m1", phone.id, {"ask": [{"kind": "rain"}]})
    later = NOW + timedelta(seconds=1)
    assert inbound.last_asked(c, phone.id, before_id=before + 1, since=later) == []


def test_replies_are_counted_by_phone_and_time(c, season):
    queued(c, season, "a", "b", stage=Stage.REPLY, send_at=NOW)
    queued(c, season, "old", stage=Stage.REPLY, send_at=NOW - 2 * HOUR)
    queued(c, season, "reminder", send_at=NOW)
    phone_id = new_notice(season).phone_id
    assert inbound.replies_since(c, phone_id, NOW - HOUR) == 2
    assert inbound.replies_since(c, phone_id + 1, NOW - HOUR) == 0
