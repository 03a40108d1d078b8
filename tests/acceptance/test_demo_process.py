"""The demo as a newcomer starts it: a real process, its page, its console, its end."""

import json
import os
import signal
import socket
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest

COMMAND = Path(sys.executable).with_name("reminder-service")


@pytest.fixture
def port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@pytest.mark.timeout(120)
def test_the_demo_serves_takes_typed_texts_and_stops_when_told(tmp_path, port):
    environment = os.environ | {
        "REMINDER_DATABASE_URL": f"sqlite:///{tmp_path / 'demo.sqlite3'}",
        "REMINDER_PORT": str(port),
        "REMINDER_TICK_S": "1",
        "PYTHONUNBUFFERED": "1",
    }
    demo = subprocess.Popen(
        [COMMAND, "demo"],
        env=environment,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    try:
        for line in demo.stdout:
            if "Ctrl-C" in line:
                break
        demo.stdin.write("+447700900001: HELP\n")
        demo.stdin.flush()
        answered = next(line for line in demo.stdout if "to +447700900001" in line)
        assert "RAIN 12 NOV" in answered
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/health", timeout=10) as page:
            health = json.load(page)
        assert health["database"] is True
        assert "dispatch" in health["ticks"]
    finally:
        demo.send_signal(signal.SIGTERM)
        rest, _ = demo.communicate(timeout=60)
    assert demo.returncode == 0, rest
    assert "Traceback" not in rest
