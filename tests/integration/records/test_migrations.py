"""The migrations make the tables that the code says, on both engines, whoever runs them."""

import multiprocessing
from importlib.resources import files

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import inspect, text

from reminder_service.records.engine import is_current, make_engine, upgrade, writing
from reminder_service.records.errors import WrongEngine
from reminder_service.records.tables import metadata


@pytest.fixture
def empty(database_url):
    engine = make_engine(database_url)
    yield engine
    engine.dispose()


def test_migrated_tables_are_those_of_the_code(engine):
    with engine.connect() as c:
        context = MigrationContext.configure(
            c, opts={"compare_type": True, "compare_server_default": True}
        )
        assert compare_metadata(context, metadata) == []


def plain(seen):
    """As text: the condition of a partial index is an object of its own each time."""
    options = {name: str(value) for name, value in seen.get("dialect_options", {}).items()}
    return str(sorted({**seen, "dialect_options": options}.items()))


def described(engine):
    """Constraints and indexes, which the comparison above does not look into."""
    seen = inspect(engine)
    return {
        table: {
            "checks": sorted(map(plain, seen.get_check_constraints(table))),
            "indexes": sorted(map(plain, seen.get_indexes(table))),
            "keys": seen.get_pk_constraint(table),
            "links": sorted(map(plain, seen.get_foreign_keys(table))),
            "unique": sorted(map(plain, seen.get_unique_constraints(table))),
            "columns": [
                (column["name"], str(column["type"]), column["nullable"], column["default"])
                for column in seen.get_columns(table)
            ],
        }
        for table in metadata.tables
    }


def test_migrated_checks_and_indexes_are_those_of_the_code(engine, empty):
    metadata.create_all(empty)
    assert described(engine) == described(empty)


def test_an_empty_database_is_not_current(empty):
    assert not is_current(empty)


def test_an_upgraded_database_is_current(empty):
    upgrade(empty)
    assert is_current(empty)


def test_an_upgrade_may_be_repeated(engine):
    upgrade(engine)
    assert is_current(engine)


def test_tables_of_a_later_release_are_refused(engine):
    with writing(engine) as c:
        c.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(WrongEngine, match="install the later release"):
        upgrade(engine)


def test_a_failed_upgrade_leaves_nothing_behind(empty):
    with writing(empty) as c:
        c.execute(text("CREATE TABLE ticks (name TEXT)"))
    with pytest.raises(Exception, match="ticks"):
        upgrade(empty)
    assert inspect(empty).get_table_names() == ["ticks"]


def upgraded(url):
    engine = make_engine(url)
    upgrade(engine)
    current = is_current(engine)
    engine.dispose()
    return current


def test_processes_may_upgrade_at_once(database_url):
    with multiprocessing.get_context("spawn").Pool(3) as pool:
        assert pool.map(upgraded, [database_url] * 3) == [True] * 3


def test_every_migration_says_whether_it_comes_before_or_after_the_code():
    versions = files("reminder_service.records") / "migrations" / "versions"
    names = [path.name for path in versions.iterdir() if path.name.endswith(".py")]
    assert names and all(name[4:].startswith(("_before_", "_after_")) for name in names)
