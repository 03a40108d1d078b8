"""What all tests share: databases of both engines, Hypothesis's effort, frozen time."""

import os
import shutil
import uuid
from collections.abc import Iterator
from pathlib import Path

import freezegun
import hypothesis
import pytest
from own_postgres import OwnPostgres, own_postgres
from sqlalchemy import Engine

pytest.register_assert_rewrite("gateways.contract")

hypothesis.settings.register_profile("default", max_examples=60, deadline=None)
hypothesis.settings.register_profile("nightly", max_examples=2_000, deadline=None)
hypothesis.settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "default"))

# These measure how long something takes or when a connection goes stale: real time, always.
freezegun.configure(
    extend_ignore_list=[
        "hypothesis",
        "playwright",
        "psycopg",
        "sqlalchemy.pool",
        "xdist",
        "execnet",
    ]
)

ENGINES = ["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)]


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[OwnPostgres]:
    """A PostgreSQL server, one for each process that runs tests."""
    with own_postgres() as server:
        yield server


@pytest.fixture(params=ENGINES)
def engine_name(request: pytest.FixtureRequest) -> str:
    """Run the test once on each engine: ``sqlite`` and ``postgresql``."""
    return str(request.param)


@pytest.fixture
def database_url(engine_name: str, request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Address of an empty database that nobody else uses."""
    if engine_name == "sqlite":
        yield f"sqlite:///{tmp_path / 'empty.sqlite3'}"
    else:
        yield from _postgres_copy(request.getfixturevalue("postgres_server"), "template0")


@pytest.fixture
def migrated_url(engine_name: str, request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Address of a database of its own that holds all tables and no rows."""
    if engine_name == "sqlite":
        path = tmp_path / "migrated.sqlite3"
        shutil.copyfile(request.getfixturevalue("sqlite_template"), path)
        yield f"sqlite:///{path}"
    else:
        template = request.getfixturevalue("postgres_template")
        yield from _postgres_copy(request.getfixturevalue("postgres_server"), template)


@pytest.fixture
def engine(migrated_url: str) -> Iterator[Engine]:
    """An engine on a database of its own that holds all tables and no rows."""
    from reminder_service.records.engine import make_engine

    made = make_engine(migrated_url)
    yield made
    made.dispose()


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A migrated SQLite file that each test copies."""
    path = tmp_path_factory.mktemp("template") / "migrated.sqlite3"
    _migrate(f"sqlite:///{path}")
    return path


@pytest.fixture(scope="session")
def postgres_template(postgres_server: OwnPostgres) -> str:
    """Name of a migrated PostgreSQL database that each test copies."""
    _migrate(postgres_server.create("migrated"))
    return "migrated"


@pytest.fixture(scope="session")
def chromium() -> str | None:
    """Path of the Chromium to drive; None means Playwright's own."""
    named = os.environ.get("CHROMIUM")
    names = ("chromium", "chromium-browser", "google-chrome")
    return named or next(filter(None, map(shutil.which, names)), None)


def _migrate(url: str) -> None:
    from reminder_service.records.engine import make_engine, upgrade

    made = make_engine(url)
    upgrade(made)
    made.dispose()


def _postgres_copy(server: OwnPostgres, template: str) -> Iterator[str]:
    name = f"test_{uuid.uuid4().hex}"
    yield server.create(name, template)
    server.drop(name)
