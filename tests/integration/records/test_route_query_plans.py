"""The reads behind routes and figures walk an index, however many seasons lie in the tables."""

from datetime import timedelta

import pytest
from records_cast import NOW, a_season, new_notice, statements
from sqlalchemy import insert, update
from test_records_query_plans import plans_of

from reminder_service.kinds import NoticeState
from reminder_service.records import farmers, plans, queue, queue_figures, route_answers
from reminder_service.records import tables as t
from reminder_service.records.engine import writing
from reminder_service.records.route_views import tries_by_route

ROUTES = ["main", "spare"]
DAY_AGO, WEEK_AGO = NOW - timedelta(days=1), NOW - timedelta(days=7)
STARTED, MEMBERS = "ix_attempts_gateway_started_at", "ix_notices_attempt_id"
BY_STATE = "ix_notices_state_send_at_id"

READS = {
    "tries": (lambda c: tries_by_route(c, ROUTES, NOW), [STARTED, MEMBERS]),
    "failures": (
        lambda c: route_answers.last_failures(c, ROUTES, WEEK_AGO),
        [STARTED, BY_STATE],
    ),
    "hand-over times": (
        lambda c: route_answers.hand_over_times(c, ROUTES, DAY_AGO),
        [STARTED],
    ),
    "unmatched receipts": (
        lambda c: route_answers.unmatched_by_route(c, ROUTES, WEEK_AGO),
        ["ix_receipts_"],
    ),
    "unworked texts": (queue_figures.unworked_texts, ["ix_inbound_unhandled"]),
    "notices by state": (queue_figures.notices_by_state, [BY_STATE]),
    "oldest due": (queue.next_due_at, [BY_STATE]),
}


@pytest.fixture
def full(engine):
    """A year's tries by two routes, a notice each; nearly all of it older than a week."""
    with writing(engine) as c:
        season = farmers.season(c, a_season(c))
        rows, tries = [], []
        for number in range(4_000):
            at = NOW - timedelta(hours=2 * number)
            rows.append(new_notice(season, f"task/{number}", send_at=at, expires_at=NOW))
            outcome = "taken" if number % 10 else "later"
            known = {"gateway": ROUTES[number % 2], "client_reference": str(number)}
            ended = {"ended_at": at + timedelta(seconds=1), "outcome": outcome, "reason": "busy"}
            tries.append(known | {"started_at": at} | ended)
        plans.insert_notices(c, rows, NOW)
        c.execute(insert(t.attempts), tries)
        delivered = {"state": NoticeState.DELIVERED.value, "attempt_id": t.notices.c.id}
        c.execute(update(t.notices).values(delivered))
        told = {"state": "delivered", "at": NOW, "reason": "", "received_at": NOW}
        receipts = [
            told | {"gateway": "main", "reference": str(n), "attempt_id": n or None}
            for n in range(3_000)
        ]
        c.execute(insert(t.receipts), receipts)
    with writing(engine) as c:
        c.exec_driver_sql("ANALYZE")
        yield c


def test_reads_rely_on_the_indexes_they_name(engine, full):
    missed = {}
    for name, (act, indexes) in READS.items():
        said = plans_of(engine, full, act)
        if not all(index in said for index in indexes):
            missed[name] = said
    assert missed == {}


def is_read_through(step: str) -> bool:
    big = ("attempts", "notices", "receipts", "inbound")
    return any(step.strip() == f"SCAN {t}" or f"Seq Scan on {t}" in step for t in big)


def test_reads_go_through_no_big_table(engine, full):
    steps = {name: plans_of(engine, full, act).splitlines() for name, (act, _) in READS.items()}
    through = {name: list(filter(is_read_through, said)) for name, said in steps.items()}
    assert {name: said for name, said in through.items() if said} == {}


@pytest.mark.parametrize("engine_name", ["sqlite"], indirect=True)
def test_last_tries_are_read_from_the_newest_back(engine, full):
    read = plans_of(engine, full, lambda c: route_answers.hand_over_times(c, ROUTES, DAY_AGO))
    assert "TEMP B-TREE" not in read


@pytest.mark.parametrize("routes", [["main"], ["main", "spare", "third"]])
def test_statements_do_not_grow_with_routes(engine, full, routes):
    with statements(engine) as seen:
        tries_by_route(full, routes, NOW)
        route_answers.last_failures(full, routes, WEEK_AGO)
        route_answers.hand_over_times(full, routes, DAY_AGO)
        route_answers.unmatched_by_route(full, routes, WEEK_AGO)
    assert len(seen) == 4
