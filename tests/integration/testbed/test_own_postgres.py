"""The PostgreSQL server that the tests bring along."""

import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import psutil
import pytest
from own_postgres import own_postgres
from sqlalchemy import create_engine, text

TESTS = Path(__file__).parents[2]

HOLD = """
import sys, time
from own_postgres import own_postgres
with own_postgres() as server:
    print(server.socket_folder, flush=True)
    time.sleep(60)
"""

pytestmark = pytest.mark.postgres


def servers_in(folder):
    return [
        process
        for process in psutil.process_iter(["cmdline"])
        if any(str(folder) in part for part in process.info["cmdline"] or [])
        and "postgres" in process.info["cmdline"][0]
    ]


def answer(url, statement):
    engine = create_engine(url)
    try:
        with engine.connect() as connection:
            return connection.execute(text(statement)).scalar()
    finally:
        engine.dispose()


def test_it_is_a_real_server(postgres_server):
    assert answer(postgres_server.url("postgres"), "SHOW server_version").startswith("18.")


def test_it_listens_on_no_network_address(postgres_server):
    assert answer(postgres_server.url("postgres"), "SHOW listen_addresses") == ""


def test_it_is_gone_with_its_data_at_the_end():
    with own_postgres() as server:
        folder = server.socket_folder
        assert servers_in(folder)

    assert not servers_in(folder) and not folder.exists()


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux ends a child with its parent")
def test_it_ends_when_the_tests_are_killed():
    holder = subprocess.Popen(
        [sys.executable, "-c", HOLD],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(TESTS)},
    )
    with holder:
        folder = holder.stdout.readline().strip()
        running = servers_in(folder)
        holder.send_signal(signal.SIGKILL)

    _, alive = psutil.wait_procs(running, timeout=20)
    shutil.rmtree(folder)
    assert running and not alive
