"""Workers killed with kill -9 at random points: nothing lost, nothing out twice, both engines."""

import json
import random
import subprocess
import sys
import time
from collections import Counter
from datetime import timedelta
from pathlib import Path

import pytest
from season_cast import a_programme, local

PLOTS = 60
KILLS = 8
WORKER = Path(__file__).with_name("dispatch_worker.py")


def start(url: str, record: Path, at) -> subprocess.Popen:
    worker = subprocess.Popen(
        [sys.executable, str(WORKER), url, str(record), at.isoformat()],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    )
    assert worker.stdout.readline() == "ready\n"
    return worker


def fell_into_an_attempt(programme) -> bool:
    return any(
        row["outcome"] == "unsure" or row["ended_at"] is None for row in programme.rows("attempts")
    )


@pytest.mark.timeout(240)
def test_nothing_is_lost_or_sent_twice_when_workers_are_killed(engine, migrated_url, tmp_path):
    rng = random.Random(20261125)
    programme = a_programme(engine, local("2026-11-22", "09:00"))
    for n in range(PLOTS):
        phone = f"+4477009{n:05}"
        programme.plot(str(n), phone=phone, name=f"Farmer {n}")
        programme.text("GERM 21/11", sender=phone)
    at = local("2026-12-05", "15:00")
    due = {row["id"] for row in programme.rows() if row["send_at"] <= at < row["expires_at"]}
    assert len(due) > PLOTS
    record = tmp_path / "sent.jsonl"

    instants = (at + timedelta(seconds=70 * n) for n in range(1000))
    kills = 0
    # A kill that falls between two attempts proves little: go on until one fell into an attempt.
    while kills < KILLS or not fell_into_an_attempt(programme):
        worker = start(migrated_url, record, next(instants))
        # A busy machine takes longer to begin: the waits grow until a kill hits.
        time.sleep(rng.uniform(0, 0.15) * (1 + kills / KILLS))
        worker.kill()
        worker.wait()
        worker.stdout.close()
        kills += 1
        assert kills < 10 * KILLS, "no kill fell into an attempt"
    for _ in range(3):  # leases run out, doubts rest, then all is brought home
        worker = start(migrated_url, record, next(instants))
        assert worker.stdout.readline() == "done\n"
        worker.wait()
        worker.stdout.close()

    handed_over = {row["id"] for row in programme.rows(state="handed over")}
    assert due <= handed_over
    sent = [json.loads(line) for line in record.read_text("utf-8").splitlines()]
    assert max(Counter(message["reference"] for message in sent).values()) == 1
    lines = Counter(
        (message["to"], line) for message in sent for line in message["body"].split("\n")
    )
    assert max(lines.values()) == 1
    assert sum(lines.values()) == len(handed_over)
