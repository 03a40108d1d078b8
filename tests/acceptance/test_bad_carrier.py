"""A carrier's bad day: throttling, silence, garbage and cut lines lose nothing, and repeat nothing.

Real workers, each a process of its own, send over a carrier that is one too. A nightly run sends
10,000 notices; run it with ``-s`` to see what befell them.
"""

import json
from collections.abc import Iterator, Mapping
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from datetime import datetime
from threading import Event

import pytest
import whims
from bad_day_cast import (
    NO_TROUBLE,
    NOTICES,
    OPEN,
    STARTS,
    WINDOW,
    Day,
    Process,
    arrivals,
    attempts_of,
    befell,
    fill_queue,
    notices_of,
    summary,
)
from season_cast import a_programme
from sqlalchemy import select
from whims import BAD

from gateways.protocol import Callback
from gateways.registry import make_gateway
from reminder_service.records import tables as t
from reminder_service.records.engine import reading, writing
from reminder_service.work.events import keep_event, match_receipts

pytestmark = pytest.mark.timeout(900)


@pytest.fixture
def day(engine, migrated_url, tmp_path) -> Iterator[Day]:
    for secret in ("token", "password"):
        (tmp_path / secret).write_text("rainfall\n")
    with writing(engine) as c:
        fill_queue(c)
    with ExitStack() as running:
        yield Day(engine, migrated_url, tmp_path, running)


@contextmanager
def receipts_brought(day: Day, carrier: Process) -> Iterator[Future]:
    """Bring the carrier's receipts in while workers work, and all that are left at the end."""
    over = Event()
    with ThreadPoolExecutor(1) as pool:
        brought = pool.submit(bring_receipts, day, carrier, over)
        try:
            yield brought
        finally:
            over.set()


def bring_receipts(day: Day, carrier: Process, over: Event) -> set[int]:
    """Answers the receipts that waited for their attempt, or still do."""
    gateway = make_gateway("http", {"profile": str(day.folder / "bad.toml")})
    services = a_programme(day.engine, STARTS, gateway).services
    early: set[int] = set()
    while True:
        last = over.is_set()
        for event in gateway.events(callback(carrier.ask("receipts"))):
            keep_event(services, "bad", event)
        match_receipts(services)
        with reading(day.engine) as c:
            unmatched = select(t.receipts.c.id).where(t.receipts.c.attempt_id.is_(None))
            early |= set(c.execute(unmatched).scalars())
        if last and not carrier.ask("receipt counts")["waiting"]:
            gateway.close()
            return early
        over.wait(0.2 if NOTICES < 1000 else 2.0)


def callback(events: list[dict]) -> Callback:
    body = json.dumps(events).encode()
    return Callback("POST", {"x-token": "rainfall"}, "", body, datetime.now(STARTS.tzinfo))


def test_nothing_is_lost_and_nothing_arrives_twice_where_references_are_honoured(day):
    carrier = day.http()
    with receipts_brought(day, carrier) as brought:
        seconds = day.work((*OPEN, "in doubt"))
    early = brought.result()
    ledger = carrier.ask("ledger")
    counts = carrier.ask("counts")
    written = carrier.ask("receipt counts")
    notices = notices_of(day.engine)
    arrived = arrivals(ledger)
    lost = [row for row in notices if arrived[row.number, row.body] == 0]
    twice = [row for row in notices if arrived[row.number, row.body] > 1]
    with reading(day.engine) as c:
        kept = c.execute(select(t.receipts.c.id, t.receipts.c.attempt_id)).all()
    unmatched = {row.id for row in kept if row.attempt_id is None}
    summary(
        day,
        "HTTP",
        counts,
        seconds,
        texts=len(ledger),
        lost=len(lost),
        twice=len(twice),
        receipts=len(kept),
        early=len(early - unmatched),
        repeated=written["repeated"],
        unknown=len(unmatched),
    )

    assert (len(notices), lost, twice) == (NOTICES, [], [])
    assert sum(arrived.values()) == NOTICES
    assert not any(text["altered"] for text in ledger)
    assert befell(counts, *BAD) > 0.2 * sum(counts.values())
    final = {text["reference"]: text["final"] or "handed over" for text in ledger}
    wrong = [row for row in notices if row.state != final[row.client_reference]]
    assert wrong == []
    assert len(kept) == sum(written.values())
    assert len(unmatched) == written.get("unknown", 0)
    every_try_is_on_record(attempts_of(day.engine), counts)


def every_try_is_on_record(attempts: list, counts: Mapping[str, int]) -> None:
    taken = sum(row.outcome == "taken" for row in attempts)
    throttled = sum("429" in (row.reason or "") for row in attempts)
    slow = max(3, len(attempts) // 50)  # answers that a busy machine brought too late
    assert len(attempts) == sum(counts.values())
    assert counts[whims.WELL] - slow <= taken <= counts[whims.WELL]
    assert counts[whims.THROTTLED] - slow <= throttled <= counts[whims.THROTTLED]
    assert all(row.reason for row in attempts if row.outcome != "taken")


def test_nothing_is_lost_or_repeated_without_references_and_what_is_unsure_stays_in_doubt(day):
    carrier = day.smpp()
    seconds = day.work()
    ledger = carrier.ask("ledger")
    counts = carrier.ask("counts")
    late = match_receipts(a_programme(day.engine, STARTS).services)
    notices = notices_of(day.engine)
    arrived = arrivals(ledger)
    doubtful = [row for row in notices if row.state == "in doubt"]
    sure = [row for row in notices if row.state != "in doubt"]
    lost = [row for row in sure if arrived[row.number, row.body] == 0]
    twice = [row for row in notices if arrived[row.number, row.body] > 1]
    texts_in_doubt = {row.client_reference for row in doubtful}
    summary(
        day,
        "SMPP",
        counts,
        seconds,
        texts=len(ledger),
        lost=len(lost),
        twice=len(twice),
        late=late,
        doubtful_texts=len(texts_in_doubt),
        doubtful_but_arrived=len([row for row in doubtful if arrived[row.number, row.body]]),
    )

    assert (len(notices), lost, twice) == (NOTICES, [], [])
    assert {row.state for row in sure} == {"handed over"}
    swallowed = befell(counts, whims.SILENT, whims.SILENT_TAKEN, whims.GARBAGE, whims.GARBAGE_TAKEN)
    cuts = befell(counts, whims.DROPPED, whims.DROPPED_TAKEN, whims.CUT)
    assert 0 < len(texts_in_doubt) <= swallowed + cuts * WINDOW
    assert {row.outcome for row in attempts_of(day.engine)} <= {"taken", "later", "unsure"}
    assert late <= carrier.ask("late answers")


def test_a_healthy_route_takes_over_from_a_bad_one_and_the_reasons_are_kept(day):
    bad, good = day.http(), day.http("good", NO_TROUBLE)
    seconds = day.work((*OPEN, "in doubt"))
    counts, ledgers = bad.ask("counts"), [bad.ask("ledger"), good.ask("ledger")]
    notices = notices_of(day.engine)
    arrived = arrivals(*ledgers)
    lost = [row for row in notices if arrived[row.number, row.body] == 0]
    twice = [row for row in notices if arrived[row.number, row.body] > 1]
    tries = attempts_of(day.engine)
    put_off = {row.client_reference for row in tries if row.outcome == "later"}
    by_the_other = {row.client_reference for row in tries if row.gateway == "good"}
    unsure = {row.client_reference for row in tries if row.outcome == "unsure"}
    summary(
        day,
        "Two HTTP routes",
        counts,
        seconds,
        lost=len(lost),
        twice=len(twice),
        taken_by_the_bad=len(ledgers[0]),
        taken_by_the_good=len(ledgers[1]),
        taken_over=len(put_off & by_the_other),
    )

    assert (len(notices), lost, twice) == (NOTICES, [], [])
    assert sum(arrived.values()) == NOTICES
    assert {row.state for row in notices} == {"handed over"}
    assert put_off & by_the_other
    assert not unsure & by_the_other
    every_try_is_on_record([row for row in tries if row.gateway == "bad"], counts)
    assert {row.outcome for row in tries if row.gateway == "good"} == {"taken"}
