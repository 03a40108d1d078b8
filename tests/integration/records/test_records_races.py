"""Many workers at once, on both engines: nobody gets what another has."""

import threading
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from uuid import uuid4

import pytest
from records_cast import HOUR, LEASE, NOW, a_season, queued
from sqlalchemy import func, select

from reminder_service.kinds import NoticeState
from reminder_service.records import farmers, inbound, queue
from reminder_service.records import tables as t
from reminder_service.records.engine import reading, writing
from reminder_service.records.tables import Outcome

WORKERS = 4


def at_once(work):
    """Answers of several workers that start at the same moment."""
    ready = threading.Barrier(WORKERS)

    def start(number):
        ready.wait()
        return work(number)

    with ThreadPoolExecutor(WORKERS) as pool:
        return list(pool.map(start, range(WORKERS)))


@pytest.fixture
def phones(engine) -> int:
    """Ten phones with six due notices each."""
    with writing(engine) as c:
        for number in range(1, 11):
            season = farmers.season(c, a_season(c, number))
            queued(c, season, *(f"task/{task}" for task in range(6)))
    return 10


def claim(engine, limit: int):
    token = uuid4().hex
    with writing(engine) as c:
        found = queue.claim_due(c, now=NOW, claim=token, lease_until=NOW + LEASE, limit=limit)
    return token, found


def by_phone(claimed):
    found = {}
    for notice in claimed:
        found.setdefault(notice.phone_id, []).append(notice.id)
    return list(found.values())


def begin(c, ids, token):
    return queue.begin_attempt(
        c, notice_ids=ids, claim=token, gateway="console", client_reference="r", at=NOW
    )


def test_nobody_claims_what_another_has(engine, phones):
    def work(_):
        mine = []
        while found := claim(engine, limit=3)[1]:
            mine += [notice.id for notice in found]
        return mine

    claimed = Counter(id_ for mine in at_once(work) for id_ in mine)
    assert len(claimed) == 60 and set(claimed.values()) == {1}


def test_every_notice_is_handed_over_in_one_attempt(engine, phones):
    def work(_):
        while True:
            token, found = claim(engine, limit=7)
            if not found:
                return
            for ids in by_phone(found):
                with writing(engine) as c:
                    attempt_id, taken = begin(c, ids, token)
                with writing(engine) as c:
                    done = queue.end_attempt(
                        c, attempt_id=attempt_id, claim=token, outcome=Outcome.TAKEN, at=NOW
                    )
                assert done == len(taken) == len(ids)

    at_once(work)
    with reading(engine) as c:
        left = c.execute(select(t.notices.c.state, func.count()).group_by(t.notices.c.state))
        assert [tuple(row) for row in left] == [("handed over", 60)]


def all_in_doubt(engine):
    """Every phone's six notices went out as one text, of which nobody knows the fate."""
    token, found = claim(engine, limit=60)
    with writing(engine) as c:
        for ids in by_phone(found):
            attempt_id, _ = begin(c, ids, token)
            queue.end_attempt(c, attempt_id=attempt_id, claim=token, outcome=Outcome.UNSURE, at=NOW)


def test_a_text_in_doubt_is_claimed_whole_by_one(engine, phones):
    all_in_doubt(engine)

    def work(_):
        mine = []
        for _ in range(10):
            with writing(engine) as c:
                mine += queue.claim_in_doubt(
                    c,
                    before=NOW + HOUR,
                    now=NOW,
                    claim=uuid4().hex,
                    lease_until=NOW + LEASE,
                    limit=1,
                )
        return mine

    answers = at_once(work)
    texts = [sorted(by_phone(mine)) for mine in answers]
    assert sorted(len(ids) for mine in texts for ids in mine) == [6] * phones
    claimed = Counter(notice.id for mine in answers for notice in mine)
    assert len(claimed) == 60 and set(claimed.values()) == {1}


@pytest.mark.postgres
@pytest.mark.parametrize("engine_name", ["postgresql"], indirect=True)
def test_a_worker_passes_over_what_another_is_claiming(engine, phones):
    """It neither waits for the other's transaction nor gets fewer notices for it."""
    with writing(engine) as slow:
        first = queue.claim_due(slow, now=NOW, claim="slow", lease_until=NOW + LEASE, limit=20)
        with writing(engine) as c:
            c.exec_driver_sql("SET LOCAL lock_timeout = '2s'")
            then = queue.claim_due(c, now=NOW, claim="quick", lease_until=NOW + LEASE, limit=20)
    assert len(first) == len(then) == 20
    assert not {notice.id for notice in first} & {notice.id for notice in then}


@pytest.mark.postgres
@pytest.mark.parametrize("engine_name", ["postgresql"], indirect=True)
def test_a_worker_passes_over_a_text_in_doubt_that_another_is_claiming(engine, phones):
    all_in_doubt(engine)
    doubt = {"before": NOW + HOUR, "now": NOW, "lease_until": NOW + LEASE, "limit": 1}
    with writing(engine) as slow:
        first = queue.claim_in_doubt(slow, claim="slow", **doubt)
        with writing(engine) as c:
            c.exec_driver_sql("SET LOCAL lock_timeout = '2s'")
            then = queue.claim_in_doubt(c, claim="quick", **doubt)
    assert len(first) == len(then) == 6
    assert {notice.attempt_id for notice in first} != {notice.attempt_id for notice in then}


def test_an_answer_and_a_lapsing_lease_never_share_a_text(engine, phones):
    """Whoever is first settles the whole text; the other changes nothing."""
    token, found = claim(engine, limit=60)
    texts = by_phone(found)
    with writing(engine) as c:
        attempts = [begin(c, ids, token)[0] for ids in texts]

    def work(number):
        for attempt_id in attempts:
            with writing(engine) as c:
                if number % 2:
                    queue.release_lapsed(c, NOW + HOUR)
                else:
                    queue.end_attempt(
                        c, attempt_id=attempt_id, claim=token, outcome=Outcome.TAKEN, at=NOW
                    )

    at_once(work)
    agree = {Outcome.TAKEN: NoticeState.HANDED_OVER, Outcome.UNSURE: NoticeState.IN_DOUBT}
    with reading(engine) as c:
        rows = c.execute(
            select(t.notices.c.state, t.attempts.c.outcome).select_from(t.notices.join(t.attempts))
        ).all()
    assert len(rows) == 60
    assert all(state == agree[Outcome(outcome)] for state, outcome in rows)


def test_after_stop_is_written_no_attempt_begins(engine, phones):
    """Ten phones say stop while workers send: an attempt began before its stop, or never."""
    stopped = []

    def work(number):
        if number == 0:
            for phone_id in range(1, phones + 1):
                with writing(engine) as c:
                    farmers.stop_phone(c, phone_id, NOW)
                stopped.append(phone_id)
            return []
        late = []
        while (claimed := claim(engine, limit=2))[1]:
            token, found = claimed
            for ids in by_phone(found):
                phone_id = next(n.phone_id for n in found if n.id == ids[0])
                knew = phone_id in stopped
                with writing(engine) as c:
                    begun = begin(c, ids, token)
                if knew and begun is not None:
                    late.append(phone_id)
        return late

    assert at_once(work) == [[]] * WORKERS


def test_a_text_kept_by_many_is_worked_by_one(engine):
    def work(_):
        with writing(engine) as c:
            inbound_id, _ = inbound.keep_inbound(
                c,
                gateway="console",
                message_id="m1",
                sender="+447700900001",
                body=b"rain",
                sent_at=NOW,
                received_at=NOW,
            )
        with writing(engine) as c:
            return inbound.take_inbound(c, inbound_id, NOW) is not None

    assert sum(at_once(work)) == 1
