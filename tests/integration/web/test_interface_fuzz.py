"""Schemathesis calls every operation with what its document allows and with what it forbids.

The interface is served by a real server on loopback, as in production; every check and every
phase of schemathesis is on, with boundary values, made-up cases and chains of calls.
"""

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from threading import Thread

import pytest
from interface_cast import a_key
from scripted_gateway import ScriptedGateway
from waitress.server import create_server

from reminder_service.rules.shipped import shipped_rulebook
from reminder_service.settings import Settings
from reminder_service.web.app import create_app
from reminder_service.web.interface.operations import OPERATIONS
from reminder_service.work.services import Services

EXAMPLES = {"nightly": 200}.get(os.environ.get("HYPOTHESIS_PROFILE", ""), 5)
"""Made-up cases of each operation, beside all boundary values."""

HOOKS = Path(__file__).with_name("schemathesis_hooks.py")

pytestmark = pytest.mark.parametrize("engine_name", ["sqlite"], indirect=True)


@pytest.fixture
def app(cast, clock):
    """The pages over the cast, with a pace that no run of cases reaches."""
    settings = Settings(
        secret_key="s" * 40,
        gateway="scripted",
        database_url="sqlite:///unused.sqlite3",
        calls_per_minute=1_000_000,
    )
    gateways = {"scripted": ScriptedGateway()}
    return create_app(Services(cast, settings, shipped_rulebook(), clock, gateways))


@pytest.fixture
def address(app) -> Iterator[str]:
    server = create_server(app, host="127.0.0.1", port=0, threads=4)
    thread = Thread(target=server.run, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.effective_port}"
    server.close()


@pytest.mark.timeout(3000)
def test_no_case_breaks_the_described_interface(app, address, tmp_path):
    config = tmp_path / "schemathesis.toml"
    config.write_text(f'[auth.openapi.key]\nbearer = "{a_key(app)}"\n', "utf-8")
    done = subprocess.run(
        [
            sys.executable,
            "-m",
            "schemathesis.cli",
            f"--config-file={config}",
            "run",
            f"{address}/api/openapi.json",
            "--checks=all",
            "--mode=all",
            "--phases=examples,coverage,fuzzing,stateful",
            f"--max-examples={EXAMPLES}",
            "--seed=1",
            "--workers=1",
            "--no-color",
        ],
        capture_output=True,
        text=True,
        cwd=tmp_path,
        env=os.environ | {"SCHEMATHESIS_HOOKS": str(HOOKS)},
    )
    assert done.returncode == 0, done.stdout[-8000:] + done.stderr[-2000:]
    print(done.stdout[-2500:])
    tested = re.search(r"Tested: (\d+)", done.stdout)
    assert tested is not None and int(tested[1]) == len(OPERATIONS)
