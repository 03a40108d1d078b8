"""Pages and work in processes of their own, as units and containers start them."""

import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest

COMMAND = Path(sys.executable).with_name("reminder-service")
WAIT_S = 60


@pytest.fixture
def environment(migrated_url):
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    return os.environ | {
        "REMINDER_DATABASE_URL": migrated_url,
        "REMINDER_SECRET_KEY": "s" * 40,
        "REMINDER_PORT": str(port),
        "REMINDER_TICK_S": "1",
        "REMINDER_LOG_FORMAT": "json",
        "PYTHONPATH": str(Path(__file__).parents[2]),
    }


@pytest.fixture
def start(environment):
    """Start one process; all are ended at the end of the test."""
    running = []

    def started(option):
        process = subprocess.Popen(
            [COMMAND, "serve", option],
            env=environment,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        running.append(process)
        line = next(line for line in process.stderr if "serving: " in line)
        assert json.loads(line)["logger"] == "reminder_service.commands.serving"
        return process

    yield started
    for process in running:
        if process.poll() is None:
            process.kill()
        process.communicate()


def page(environment, path: str) -> dict:
    address = f"http://127.0.0.1:{environment['REMINDER_PORT']}{path}"
    with urllib.request.urlopen(address, timeout=10) as answer:
        return json.load(answer)


def until(environment, path: str, fits) -> dict:
    """The first answer of a page that fits."""
    ends = time.monotonic() + WAIT_S
    while True:
        try:
            answer = page(environment, path)
            if fits(answer):
                return answer
        except OSError:
            pass  # it does not listen yet
        assert time.monotonic() < ends, f"{path} never answered as it should"
        time.sleep(0.2)


@pytest.mark.timeout(200)
def test_pages_and_work_share_a_database_and_stop_when_told(environment, start):
    web = start("--web-only")
    until(environment, "/ready", lambda answer: answer["ready"])
    assert page(environment, "/health")["ticks"] == {}  # who serves pages does no work

    work = [start("--work-only"), start("--work-only")]
    until(environment, "/health", lambda answer: "dispatch" in answer["ticks"])
    for process in [*work, web]:
        process.send_signal(signal.SIGTERM)
        _, told = process.communicate(timeout=WAIT_S)
        assert process.returncode == 0, told
        assert "Traceback" not in told


def test_both_at_once_is_refused(environment):
    done = subprocess.run(
        [COMMAND, "serve", "--web-only", "--work-only"],
        env=environment,
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.returncode == 2 and done.stderr.count("\n") == 1
