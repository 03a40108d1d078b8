"""A carrier's bad day: throttling, silence, garbage and cut lines lose nothing, and repeat nothing.

Real workers, each a process of its own, send over a carrier that is one too. A nightly run sends
10,000 notices; run it with ``-s`` to see what befell them.
"""

import json
import os
import random
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator, Mapping
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from pathlib import Path
from threading import Event

import bad_day as fates
import pytest
from bad_day import BAD
from season_cast import a_programme, local
from sqlalchemy import Engine, func, select

from gateways.protocol import Callback
from gateways.registry import make_gateway
from reminder_service.kinds import PhoneNumber, Stage
from reminder_service.records import farmers, plans, queue
from reminder_service.records import tables as t
from reminder_service.records.engine import reading, writing
from reminder_service.records.plans import NewNotice
from reminder_service.texts.segments import segments
from reminder_service.work.events import keep_event, match_receipts

pytestmark = pytest.mark.timeout(900)

NIGHTLY = os.environ.get("HYPOTHESIS_PROFILE") == "nightly"
NOTICES = 10_000 if NIGHTLY else 300
PHONES = min(1000, NOTICES // 3)  # the numbers of fiction are a thousand
WORKERS = 2
CONNECTIONS = 4
TRIES = 20
HERE = Path(__file__).parent
STARTS = local("2026-12-05", "08:00")
OPEN = ("planned", "waiting", "claimed", "held")
NO_TROUBLE: Mapping[str, float] = {}

HTTP_PROFILE = """
allow_private_addresses = true
allow_unencrypted = true
abilities = {{ client_reference = true }}
limits = {{ connect_s = 5.0, read_s = 0.3, total_s = 0.6 }}
answer = {{ reference = "id" }}

[request]
address = "http://127.0.0.1:{port}/texts"
format = "json"
fields = {{ number = "{{to}}", text = "{{body}}", ref = "{{reference}}" }}

[callbacks]
format = "json"
check = {{ scheme = "token", header = "X-Token", secret_files = ["token"] }}

[callbacks.receipts]
reference = "id"
client_reference = "our_id"
state = "state"
states = {{ delivered = ["delivered"], undelivered = ["undelivered"], underway = ["buffered"] }}
"""

SMPP_PROFILE = """
host = "127.0.0.1"
port = {port}
system_id = "tandaluwe"
password_file = "password"
sender = "+447700900999"
answer_s = 0.5
reconnect_s = 0.05
reconnect_most_s = 0.2
long_texts = "payload"
"""

ROUTE = """
[[routes]]
name = "{name}"
gateway = "{gateway}"
order = {order}
connections = {connections}
options = {{ profile = "{profile}" }}
"""


class Process:
    """A process that answers each line with a line."""

    def __init__(self, log: Path, script: str, *arguments: str) -> None:
        with log.open("ab") as errors:
            self._process = subprocess.Popen(
                [sys.executable, str(HERE / script), *arguments],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=errors,
                text=True,
            )

    def say(self, line: str) -> None:
        self._process.stdin.write(f"{line}\n")
        self._process.stdin.flush()

    def heard(self) -> str:
        line = self._process.stdout.readline()
        assert line, "the process ended, see its log"
        return line.strip()

    def ask(self, question: str):
        self.say(question)
        return json.loads(self.heard())

    def end(self) -> None:
        self._process.stdin.close()
        self._process.wait(30)
        self._process.stdout.close()


@dataclass
class Day:
    """A programme with a full queue, its routes' folder, and the carriers and workers of a day."""

    engine: Engine
    url: str
    folder: Path
    running: ExitStack
    routes: list[str] = field(default_factory=list)

    def carrier(self, name: str, script: str, profile: str, shares: Mapping[str, float]) -> Process:
        """Start a carrier, and a route by that name to it, after those that are there."""
        log = self.folder / f"{name}.log"
        carrier = Process(log, script, str(20261205 + len(self.routes)), json.dumps(shares))
        self.running.callback(carrier.end)
        port = carrier.heard()
        path = self.folder / f"{name}.toml"
        path.write_text(profile.format(port=port), "utf-8")
        self.routes.append(
            ROUTE.format(
                name=name,
                gateway="smpp" if "smpp" in script else "http",
                order=len(self.routes),
                connections=CONNECTIONS,
                profile=path,
            )
        )
        return carrier

    def http(self, name: str = "bad", shares: Mapping[str, float] = BAD) -> Process:
        return self.carrier(name, "bad_http_carrier.py", HTTP_PROFILE, shares)

    def work(self, open_states=OPEN) -> float:
        """Let workers work until nothing is in one of the states; answers how long it took."""
        routes = self.folder / "routes.toml"
        routes.write_text("".join(self.routes), "utf-8")
        with ExitStack() as ending:
            workers = []
            for number in range(WORKERS):
                log = self.folder / f"worker-{number}.log"
                workers.append(Process(log, "bad_day_worker.py", self.url, str(routes), str(TRIES)))
                ending.callback(workers[-1].end)
            assert {worker.heard() for worker in workers} == {"ready"}
            began = time.monotonic()
            self._work(workers, open_states)
            return time.monotonic() - began

    def _work(self, workers: list[Process], open_states) -> None:
        now = STARTS
        for _ in range(500):
            for worker in workers:
                worker.say(now.isoformat())
            assert {worker.heard() for worker in workers} == {"done"}
            with reading(self.engine) as c:
                states = states_of(c)
                due = queue.next_due_at(c)
            if not any(states[state] for state in open_states):
                return
            now = max(now + timedelta(seconds=61), due or now)
        raise AssertionError(f"the day does not end: {states}")


@pytest.fixture
def day(engine, migrated_url, tmp_path) -> Iterator[Day]:
    for secret in ("token", "password"):
        (tmp_path / secret).write_text("rainfall\n")
    with writing(engine) as c:
        fill_queue(c)
    with ExitStack() as running:
        yield Day(engine, migrated_url, tmp_path, running)


def fill_queue(c) -> None:
    """Put notices into the queue, three in a row to each phone, so that some are joined."""
    ward_id = farmers.add_ward(c, "Olmara", "Africa/Lusaka")
    for number in range(PHONES):
        farmers.add_farmer(
            c,
            ward_id=ward_id,
            name=f"Farmer {number}",
            language="en",
            numbers=[PhoneNumber(f"+447700900{number:03}")],
            at=STARTS,
        )
    phones = list(c.execute(select(t.phones.c.id).order_by(t.phones.c.id)).scalars())
    rng = random.Random(20261205)
    made = [
        a_notice(number, phones[number // 3 % PHONES], ward_id, rng) for number in range(NOTICES)
    ]
    plans.insert_notices(c, made, STARTS)


def a_notice(number: int, phone_id: int, ward_id: int, rng: random.Random) -> NewNotice:
    words = rng.choices(("thin", "weed", "plot", "rain", "station", "two plants"), k=30)
    if rng.random() < 0.05:
        words[1] = "ŋala"
    body = f"Notice {number:05}: {' '.join(words)}"[: rng.randrange(30, 150)]
    return NewNotice(
        key=f"bad-day/{number:05}",
        phone_id=phone_id,
        farmer_id=None,
        ward_id=ward_id,
        season_id=None,
        inbound_id=None,
        task="thin",
        number=1,
        stage=Stage.OPENS,
        opens_on=date(2026, 12, 5),
        due_on=date(2026, 12, 8),
        closes_on=date(2026, 12, 12),
        body=body,
        segments=segments(body).segments,
        importance=2,
        day=STARTS.date(),
        send_at=STARTS - timedelta(hours=1),
        expires_at=STARTS + timedelta(days=7),
    )


def states_of(c) -> Counter[str]:
    counted = select(t.notices.c.state, func.count()).group_by(t.notices.c.state)
    return Counter(dict(c.execute(counted).all()))


def notices_of(engine: Engine) -> list:
    """Every notice with its phone's number and the attempt it left by."""
    joined = t.notices.join(t.phones).outerjoin(
        t.attempts, t.notices.c.attempt_id == t.attempts.c.id
    )
    columns = (
        t.notices.c.state,
        t.notices.c.body,
        t.phones.c.number,
        t.attempts.c.gateway,
        t.attempts.c.client_reference,
    )
    with reading(engine) as c:
        return list(c.execute(select(*columns).select_from(joined)).all())


def attempts_of(engine: Engine) -> list:
    with reading(engine) as c:
        return list(c.execute(select(t.attempts)).all())


def arrivals(*ledgers: list[dict]) -> Counter[tuple[str, str]]:
    """How often each notice reached its phone, whichever text it was joined to."""
    return Counter(
        (text["to"], line)
        for ledger in ledgers
        for text in ledger
        for line in text["body"].split("\n")
    )


def befell(counts: Mapping[str, int], *kinds: str) -> int:
    return sum(counts.get(kind, 0) for kind in kinds)


def summary(
    day: Day, title: str, counts: Mapping[str, int], seconds: float, **more: object
) -> None:
    notices = notices_of(day.engine)
    told = {
        "notices": len(notices),
        "throttled": befell(counts, fates.THROTTLED),
        "timed out": befell(counts, fates.SILENT, fates.SILENT_TAKEN),
        "garbage": befell(counts, fates.GARBAGE, fates.GARBAGE_TAKEN),
        "dropped": befell(counts, fates.DROPPED, fates.DROPPED_TAKEN, fates.CUT),
        "tries": sum(counts.values()),
        **more,
        "in doubt": sum(row.state == "in doubt" for row in notices),
        "seconds": round(seconds, 1),
    }
    shown = ", ".join(f"{name} {value}" for name, value in told.items())
    print(f"\n{title} on {day.engine.dialect.name}: {shown}")


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
        over.wait(0.05)


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
    assert befell(counts, *BAD) >= 0.2 * NOTICES * len(ledger) / NOTICES
    final = {text["reference"]: text["final"] or "handed over" for text in ledger}
    wrong = [row for row in notices if row.state != final[row.client_reference]]
    assert wrong == []
    assert len(kept) == sum(written.values())
    assert len(unmatched) == written.get("unknown", 0)
    every_try_is_on_record(attempts_of(day.engine), counts)


def every_try_is_on_record(attempts: list, counts: Mapping[str, int]) -> None:
    assert len(attempts) == sum(counts.values())
    assert sum(row.outcome == "taken" for row in attempts) == counts[fates.WELL]
    throttled = [row for row in attempts if "429" in (row.reason or "")]
    assert len(throttled) == counts[fates.THROTTLED]
    assert all(row.reason for row in attempts if row.outcome != "taken")


def test_nothing_is_lost_or_repeated_without_references_and_what_is_unsure_stays_in_doubt(day):
    carrier = day.carrier("bad", "bad_smpp_carrier.py", SMPP_PROFILE, BAD)
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
    swallowed = befell(counts, fates.SILENT, fates.SILENT_TAKEN, fates.GARBAGE, fates.GARBAGE_TAKEN)
    cuts = befell(counts, fates.DROPPED, fates.DROPPED_TAKEN, fates.CUT)
    assert 0 < len(texts_in_doubt) <= swallowed + cuts * CONNECTIONS
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
