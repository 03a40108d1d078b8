"""What settles a text in doubt, as rows: each once, whoever comes, and on record."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from threading import Barrier

import pytest
from records_cast import HOUR, LEASE, NOW, a_season, queued, row_of, states
from sqlalchemy import select, update

from reminder_service.kinds import NoticeState
from reminder_service.records import asks, doubts, farmers, queue, queue_views
from reminder_service.records import tables as t
from reminder_service.records.audit import audit_of
from reminder_service.records.engine import reading, writing
from reminder_service.records.tables import Outcome, SettledBy

LATER = NOW + HOUR


def a_doubt(c, season, *keys: str, **fields) -> tuple[int, list[int]]:
    """A text of some notices that fell in doubt: id of its attempt, and of its notices."""
    ids = queued(c, season, *(keys or ("thin/1/opens",)), **fields)
    queue.claim_due(c, now=NOW, claim="a", lease_until=NOW + LEASE, limit=9)
    begun = queue.begin_attempt(
        c, notice_ids=ids, claim="a", gateway="slow", client_reference="text", at=NOW
    )
    ended = {"outcome": Outcome.UNSURE, "at": NOW, "reason": "cut"}
    queue.end_attempt(c, attempt_id=begun[0], claim="a", **ended)
    return begun[0], ids


def tried_again(c, ids: list[int], outcome: Outcome) -> int:
    """The same text given to the carrier once more: id of that attempt."""
    queue.claim_in_doubt(
        c, before=LATER, now=NOW, claim="b", lease_until=LATER + LEASE, limit=9, gateway="slow"
    )
    begun = queue.begin_attempt(
        c, notice_ids=ids, claim="b", gateway="slow", client_reference="text", at=LATER
    )
    queue.end_attempt(c, attempt_id=begun[0], claim="b", outcome=outcome, at=LATER)
    return begun[0]


def settled(c, attempt_id: int):
    known = t.attempts.c
    return c.execute(select(known.settled_by, known.settled_at).where(known.id == attempt_id)).one()


def as_state(c, attempt_id: int, state=NoticeState.DELIVERED, by=SettledBy.RECEIPT) -> list[int]:
    return doubts.settle_as(c, attempt_id, state, by=by, who="route slow", at=LATER, reason="why")


def anew(c, attempt_id: int, most_tries: int = 6) -> list[int]:
    known = {"by": SettledBy.ASKED, "who": "route slow", "at": LATER, "reason": "not known"}
    return doubts.send_anew(c, attempt_id, most_tries=most_tries, **known)


def test_a_text_is_settled_whole_and_each_notice_has_a_line(c, season):
    attempt, ids = a_doubt(c, season, "a", "b")
    assert as_state(c, attempt) == ids
    assert states(c, ids) == [NoticeState.DELIVERED] * 2
    assert settled(c, attempt) == ("receipt", LATER)
    for id_ in ids:
        (entry,) = audit_of(c, f"notice {id_}", 9)
        assert (entry.who, entry.what, entry.before) == (
            "route slow",
            "settle",
            {"state": "in doubt"},
        )
        assert entry.after == {"state": "delivered", "settled by": "receipt"}


def test_who_comes_second_changes_nothing(c, season):
    attempt, ids = a_doubt(c, season)
    as_state(c, attempt)
    assert as_state(c, attempt, NoticeState.UNDELIVERED, SettledBy.PERSON) == []
    assert anew(c, attempt) == []
    assert states(c, ids) == [NoticeState.DELIVERED]
    assert settled(c, attempt).settled_by == "receipt"


def test_what_was_never_in_doubt_is_not_settled(c, season):
    ids = queued(c, season, "a")
    queue.claim_due(c, now=NOW, claim="a", lease_until=NOW + LEASE, limit=9)
    attempt, _ = queue.begin_attempt(
        c, notice_ids=ids, claim="a", gateway="slow", client_reference="text", at=NOW
    )
    queue.end_attempt(c, attempt_id=attempt, claim="a", outcome=Outcome.TAKEN, at=NOW)
    assert as_state(c, attempt) == [] and anew(c, attempt) == []
    assert doubts.settle(c, [attempt], SettledBy.SENT_AGAIN, LATER) == 0
    assert states(c, ids) == [NoticeState.HANDED_OVER]


def test_a_text_that_a_worker_has_is_not_settled_under_its_hands(c, season):
    attempt, ids = a_doubt(c, season)
    queue.claim_in_doubt(c, before=LATER, now=NOW, claim="b", lease_until=LATER, limit=9)
    assert as_state(c, attempt) == []
    assert states(c, ids) == [NoticeState.CLAIMED] and settled(c, attempt).settled_at is None


def test_what_goes_anew_can_be_claimed_and_belongs_to_no_attempt(c, season):
    attempt, ids = a_doubt(c, season, "a", "b")
    assert anew(c, attempt) == ids
    assert {row_of(c, id_).attempt_id for id_ in ids} == {None}
    claimed = queue.claim_due(c, now=LATER, claim="b", lease_until=LATER + LEASE, limit=9)
    assert [notice.id for notice in claimed] == ids


def test_of_a_text_only_what_is_still_of_use_goes_anew(c, season):
    attempt, (first, second) = a_doubt(c, season, "a", "b")
    c.execute(update(t.notices).where(t.notices.c.id == first).values(expires_at=LATER))
    anew(c, attempt)
    assert states(c, [first, second]) == [NoticeState.EXPIRED, NoticeState.PLANNED]
    assert row_of(c, first).attempt_id == attempt


def test_tries_of_one_text_are_settled_together(c, season):
    first, ids = a_doubt(c, season)
    second = tried_again(c, ids, Outcome.UNSURE)
    assert as_state(c, second, by=SettledBy.ASKED) == ids
    assert settled(c, first) == settled(c, second) == ("asked", LATER)
    assert len(audit_of(c, f"notice {ids[0]}", 9)) == 1


def test_sending_again_settles_the_try_before(c, season):
    first, ids = a_doubt(c, season)
    second = tried_again(c, ids, Outcome.TAKEN)
    assert doubts.settle(c, [first], SettledBy.SENT_AGAIN, LATER) == 1
    assert doubts.settle(c, [first], SettledBy.SENT_AGAIN, LATER + HOUR) == 0
    assert settled(c, first) == ("sent again", LATER)
    assert settled(c, second).settled_at is None
    (entry,) = audit_of(c, f"notice {ids[0]}", 9)
    assert entry.after == {"state": "handed over", "settled by": "sent again"}


def test_a_try_that_came_to_nothing_settles_none(c, season):
    first, ids = a_doubt(c, season)
    second = tried_again(c, ids, Outcome.UNSURE)
    assert doubts.settle(c, [first, second], SettledBy.SENT_AGAIN, LATER) == 0
    assert as_state(c, second) == ids


def test_a_line_tells_the_settlement_whatever_became_of_the_notice_since(c, season):
    attempt, (id_,) = a_doubt(c, season)
    (line,) = queue_views.notices_seen(c, [id_], None)
    assert (line.settled_at, line.settled_by) == (None, None)
    anew(c, attempt)
    (line,) = queue_views.notices_seen(c, [id_], None)
    assert (line.settled_at, line.settled_by) == (LATER, SettledBy.ASKED)


def test_the_doubt_of_a_notice_names_its_whole_text(c, season):
    attempt, ids = a_doubt(c, season, "a", "b")
    found = doubts.doubt_of(c, ids[1])
    assert (found.attempt_id, found.gateway, found.reason) == (attempt, "slow", "cut")
    assert found.notice_ids == tuple(ids) and found.can_go_again
    as_state(c, attempt)
    assert doubts.doubt_of(c, ids[1]) is None


def test_the_doubt_of_a_stopped_phone_cannot_go_again(c, season):
    _, ids = a_doubt(c, season)
    farmers.stop_phone(c, season.phones[0].id, NOW)
    assert not doubts.doubt_of(c, ids[0]).can_go_again


def left(c, now=LATER, resent=(), asked=(), sendable=None) -> list[int]:
    known = {"most_asks": 3, "before": now - HOUR, "limit": 9}
    return doubts.left_to_policy(c, resent=resent, asked=asked, now=now, sendable=sendable, **known)


@pytest.mark.parametrize(
    ("chosen", "is_left"),
    [
        pytest.param({}, True, id="nobody else can tell"),
        pytest.param({"now": NOW}, False, id="too fresh"),
        pytest.param({"resent": ["slow"]}, False, id="sent again by its reference"),
        pytest.param({"resent": ["slow"], "now": NOW + 48 * HOUR}, True, id="no longer sent again"),
        pytest.param({"asked": ["slow"]}, False, id="still asked for"),
        pytest.param({"sendable": 2}, True, id="can go again"),
        pytest.param({"sendable": 1}, False, id="tries used up"),
        pytest.param({"sendable": 2, "now": NOW + 48 * HOUR}, False, id="too late"),
    ],
)
def test_what_is_left_to_the_policy(c, season, chosen, is_left):
    attempt, _ = a_doubt(c, season)
    assert left(c, **chosen) == ([attempt] if is_left else [])


def test_what_was_asked_for_often_enough_is_left_to_the_policy(c, season):
    attempt, _ = a_doubt(c, season)
    asks.ask_no_more(c, attempt, 3)
    assert left(c, asked=["slow"]) == [attempt]


def to_ask(c, now) -> list[int]:
    return asks.doubts_to_ask(c, "slow", now=now, before=NOW, most_asks=3, limit=9)


def test_a_question_is_taken_once_and_comes_again_when_it_is_due(c, season):
    attempt, _ = a_doubt(c, season)
    ask = asks.ask_of(c, attempt)
    assert asks.take_ask(c, ask, LATER) and not asks.take_ask(c, ask, LATER)
    assert to_ask(c, LATER - timedelta(seconds=1)) == []
    assert to_ask(c, LATER) == [attempt]
    asks.put_off(c, attempt, LATER + HOUR)
    asks.put_off(c, attempt, LATER)
    assert to_ask(c, LATER) == []
    assert to_ask(c, LATER + HOUR) == [attempt]


def test_a_settled_text_is_not_asked_for(c, season):
    attempt, _ = a_doubt(c, season)
    as_state(c, attempt)
    assert to_ask(c, LATER) == [] and asks.ask_of(c, attempt) is None


def test_what_was_settled_as_handed_over_is_asked_for_anew(c, season):
    attempt, _ = a_doubt(c, season)
    asks.ask_no_more(c, attempt, 3)
    as_state(c, attempt, NoticeState.HANDED_OVER)
    known = {"since": NOW - 24 * HOUR, "before": LATER, "most_asks": 3, "limit": 9}
    assert asks.unheard_of(c, "slow", now=LATER, **known) == [attempt]


def test_many_who_settle_at_once_settle_once(engine):
    with writing(engine) as c:
        attempt, ids = a_doubt(c, farmers.season(c, a_season(c)))
    ready = Barrier(4)

    def work(number: int) -> list[int]:
        ready.wait()
        with writing(engine) as c:
            if number % 2:
                return anew(c, attempt)
            return as_state(c, attempt)

    with ThreadPoolExecutor(4) as pool:
        done = [moved for moved in pool.map(work, range(4)) if moved]
    assert done == [ids]
    with reading(engine) as c:
        assert len(audit_of(c, f"notice {ids[0]}", 9)) == 1


def test_many_who_ask_at_once_ask_once(engine):
    with writing(engine) as c:
        attempt, _ = a_doubt(c, farmers.season(c, a_season(c)))
        ask = asks.ask_of(c, attempt)
    ready = Barrier(4)

    def work(_: int) -> bool:
        ready.wait()
        with writing(engine) as c:
            return asks.take_ask(c, ask, LATER)

    with ThreadPoolExecutor(4) as pool:
        assert sorted(pool.map(work, range(4))) == [False, False, False, True]
