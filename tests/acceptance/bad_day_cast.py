"""What the bad day is played by: a full queue, carriers and workers in processes of their own."""

import json
import os
import random
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Mapping
from contextlib import ExitStack
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path

import whims
from season_cast import local
from sqlalchemy import Engine, func, select
from whims import BAD

from reminder_service.kinds import PhoneNumber, Stage
from reminder_service.records import farmers, plans, queue
from reminder_service.records import tables as t
from reminder_service.records.engine import reading
from reminder_service.records.plans import NewNotice
from reminder_service.texts.segments import segments

NIGHTLY = os.environ.get("HYPOTHESIS_PROFILE") == "nightly"
NOTICES = 10_000 if NIGHTLY else 300
PHONES = 1000 if NIGHTLY else 30  # the numbers of fiction are a thousand
WORKERS = 2
CONNECTIONS = 4
WINDOW = 10
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
window = {window}
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
    logs: list[Path] = field(default_factory=list)

    def carrier(self, name: str, script: str, profile: str, shares: Mapping[str, float]) -> Process:
        """Start a carrier, and a route by that name to it, after those that are there."""
        log = self.folder / f"{name}.log"
        self.logs.append(log)
        carrier = Process(log, script, str(20261205 + len(self.routes)), json.dumps(shares))
        self.running.callback(carrier.end)
        port = carrier.heard()
        path = self.folder / f"{name}.toml"
        path.write_text(profile.format(port=port, window=WINDOW), "utf-8")
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

    def smpp(self, name: str = "bad", shares: Mapping[str, float] = BAD) -> Process:
        return self.carrier(name, "bad_smpp_carrier.py", SMPP_PROFILE, shares)

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
            seconds = time.monotonic() - began
        faults = [log.read_text("utf-8") for log in self.logs]
        assert faults == [""] * len(self.logs), "a carrier has a fault of its own"
        return seconds

    def failed_ticks(self) -> int:
        """Ticks that ended in a fault: SQLite may be locked longer than a worker waits."""
        logs = [log.read_text("utf-8") for log in self.folder.glob("worker-*.log")]
        failed = sum(log.count(" failed\n") for log in logs)
        assert failed <= sum(
            log.count("(sqlite3.OperationalError) database is locked") for log in logs
        )
        return failed

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
        "throttled": befell(counts, whims.THROTTLED),
        "timed out": befell(counts, whims.SILENT, whims.SILENT_TAKEN),
        "garbage": befell(counts, whims.GARBAGE, whims.GARBAGE_TAKEN),
        "dropped": befell(counts, whims.DROPPED, whims.DROPPED_TAKEN, whims.CUT),
        "tries": sum(counts.values()),
        **more,
        "in doubt": sum(row.state == "in doubt" for row in notices),
        "failed ticks": day.failed_ticks(),
        "seconds": round(seconds, 1),
    }
    shown = ", ".join(f"{name} {value}" for name, value in told.items())
    print(f"\n{title} on {day.engine.dialect.name}: {shown}")
