"""The statements that run all the time walk an index, however much lies in the tables."""

from datetime import timedelta

import pytest
from records_cast import HOUR, LEASE, NOW, a_season, new_notice, statements
from sqlalchemy import insert, update

from reminder_service.kinds import NoticeState, Stage
from reminder_service.records import (
    asks,
    doubts,
    farmers,
    inbound,
    plans,
    queue,
    queue_views,
    reports,
    rewordings,
)
from reminder_service.records import tables as t
from reminder_service.records.engine import writing

STATE_INDEX = "ix_notices_state_send_at_id"

HOT = {
    "claim due": (
        lambda c: queue.claim_due(c, now=NOW, claim="a", lease_until=NOW + LEASE, limit=50),
        STATE_INDEX,
    ),
    "claim in doubt": (
        lambda c: queue.claim_in_doubt(
            c, before=NOW, now=NOW, claim="a", lease_until=NOW + LEASE, limit=50
        ),
        STATE_INDEX,
    ),
    "release lapsed": (lambda c: queue.release_lapsed(c, NOW), STATE_INDEX),
    "expire": (lambda c: queue.expire(c, NOW), STATE_INDEX),
    "next due": (queue.next_due_at, STATE_INDEX),
    "doubts to ask": (
        lambda c: asks.doubts_to_ask(c, "console", now=NOW, before=NOW, most_asks=9, limit=50),
        STATE_INDEX,
    ),
    "texts not heard of": (
        lambda c: asks.unheard_of(
            c, "console", now=NOW, since=NOW - HOUR, before=NOW, most_asks=9, limit=50
        ),
        STATE_INDEX,
    ),
    "doubts left to the policy": (
        lambda c: doubts.left_to_policy(
            c, resent=["a"], asked=["b"], most_asks=9, before=NOW, now=NOW, sendable=6, limit=50
        ),
        STATE_INDEX,
    ),
    "settlements on a page": (
        lambda c: queue_views.notices_seen(c, range(1, 41), None),
        "ix_audit_subject_id",
    ),
    "seasons going out": (
        lambda c: rewordings.seasons_going_out(c, ["thin"], [Stage.OPENS], NOW, NOW + HOUR),
        STATE_INDEX,
    ),
    "withdraw for phone": (
        lambda c: plans.withdraw_for_phone(c, 1, "the farmer said stop", NOW),
        "ix_notices_phone_id_send_at_id",
    ),
    "notices of season": (lambda c: plans.notices_of_season(c, 1), "ix_notices_season_id"),
    "replies since": (
        lambda c: inbound.replies_since(c, 1, NOW),
        "ix_notices_phone_id_send_at_id",
    ),
    "unhandled texts": (lambda c: inbound.unhandled(c, 9), "ix_inbound_unhandled"),
    "last asked": (
        lambda c: inbound.last_asked(c, 1, before_id=9, since=NOW),
        "ix_inbound_phone_id_id",
    ),
    "last reports": (
        lambda c: reports.last_from_phone(c, 1, NOW),
        "ix_inbound_phone_id_id",
    ),
    "plots of phone": (
        lambda c: farmers.open_plots_of_phone(c, 1),
        "ix_farmer_phones_phone_id",
    ),
}


@pytest.fixture
def full(engine):
    """A season's end: most has been delivered, some is planned for later, a little is due."""
    with writing(engine) as c:
        seasons = [farmers.season(c, a_season(c, number)) for number in range(1, 41)]
        rows = []
        for number in range(4_000):
            season = seasons[number % 40]
            at = NOW + timedelta(minutes=number - 3_900)
            notice = new_notice(season, f"task/{number}", send_at=at, expires_at=at + 72 * HOUR)
            rows.append(notice)
        plans.insert_notices(c, rows, NOW)
        tried = {"gateway": "console", "client_reference": "r", "started_at": NOW}
        c.execute(insert(t.attempts), [tried] * 4_000)
        gone = {"state": NoticeState.DELIVERED.value, "attempt_id": t.notices.c.id}
        c.execute(update(t.notices).where(t.notices.c.send_at < NOW - HOUR).values(gone))
        text = {"gateway": "console", "sender": "", "body": b"", "sent_at": NOW}
        texts = [
            text | {"message_id": str(n), "phone_id": n % 40 + 1, "received_at": NOW}
            for n in range(2_000)
        ]
        c.execute(insert(t.inbound), texts)
        c.execute(update(t.inbound).where(t.inbound.c.id < 1_990).values(handled_at=NOW))
        reported = {"kind": "planted", "on": NOW.date(), "sent_at": NOW}
        made = [reported | {"inbound_id": n, "season_id": n % 40 + 1} for n in range(1, 2_000)]
        c.execute(insert(t.reports), made)
        done = {"at": NOW, "who": "tembi", "what": "hold"}
        c.execute(insert(t.audit), [done | {"subject": f"notice {n}"} for n in range(4_000)])
    with writing(engine) as c:
        c.exec_driver_sql("ANALYZE")
        yield c


def explained(c, said: str, values) -> str:
    if c.dialect.name == "sqlite":
        steps = c.exec_driver_sql(f"EXPLAIN QUERY PLAN {said}", values)
        return "\n".join(step.detail for step in steps)
    # Few rows fit into one page, which is read faster than any index: take that way away.
    c.exec_driver_sql("SET LOCAL enable_seqscan = off")
    return "\n".join(c.exec_driver_sql(f"EXPLAIN {said}", values).scalars())


def plans_of(engine, c, act) -> str:
    with statements(engine) as seen:
        act(c)
    return "\n".join(explained(c, said, values) for said, values in seen)


def test_hot_statements_rely_on_the_index_they_name(engine, full):
    missed = {}
    for name, (act, index) in HOT.items():
        said = plans_of(engine, full, act)
        if index not in said:
            missed[name] = said
    assert missed == {}


def reads_through(step: str) -> bool:
    big = ("notices", "stands", "inbound", "reports", "later", "audit", "settlement")
    return any(step.strip() == f"SCAN {t}" or f"Seq Scan on {t}" in step for t in big)


def test_hot_statements_read_no_big_table_through(engine, full):
    steps = {name: plans_of(engine, full, act).splitlines() for name, (act, _) in HOT.items()}
    through = {name: list(filter(reads_through, said)) for name, said in steps.items()}
    assert {name: said for name, said in through.items() if said} == {}
