"""Opening a database, its two kinds of transaction, and what is refused."""

from concurrent.futures import ThreadPoolExecutor

import pytest
from sqlalchemy import event, insert, make_url, select
from sqlalchemy.exc import DBAPIError, OperationalError

from reminder_service.records import engine as engines
from reminder_service.records.engine import make_engine, reading, upgrade, writing
from reminder_service.records.errors import WrongEngine
from reminder_service.records.tables import phones, wards

OLMARA = {"name": "Olmara", "zone": "Africa/Lusaka"}


def ward_names(engine):
    with reading(engine) as c:
        return c.execute(select(wards.c.name).order_by(wards.c.id)).scalars().all()


@pytest.mark.parametrize(
    ("url", "what"),
    [
        pytest.param("sqlite://", "its place", id="sqlite in memory"),
        pytest.param("sqlite:///:memory:", "its place", id="sqlite in memory by name"),
        pytest.param("mysql://db/reminders", "its kind", id="another kind"),
    ],
)
def test_a_database_that_cannot_keep_the_promises_is_refused(url, what):
    with pytest.raises(WrongEngine) as caught:
        make_engine(url)
    assert caught.value.what == what


def test_the_folder_of_a_new_file_is_made_for_its_owner_alone(tmp_path):
    folder = tmp_path / "deep" / "down"
    engine = make_engine(f"sqlite:///{folder / 'new.sqlite3'}")
    upgrade(engine)
    engine.dispose()
    assert (folder / "new.sqlite3").is_file() and folder.stat().st_mode & 0o077 == 0


def test_a_password_stays_out_of_the_refusal():
    with pytest.raises(WrongEngine) as caught:
        make_engine("mysql://ruva:stations@db/reminders")
    assert "stations" not in str(caught.value)


@pytest.mark.parametrize("engine_name", ["sqlite"], indirect=True)
def test_every_sqlite_connection_has_its_properties(engine):
    with writing(engine), reading(engine) as c:
        said = [
            c.exec_driver_sql(f"PRAGMA {name}").scalar_one()
            for name in ("journal_mode", "foreign_keys", "synchronous", "busy_timeout")
        ]
    assert said == ["wal", 1, 2, engines.BUSY_MS]


@pytest.mark.parametrize("engine_name", ["sqlite"], indirect=True)
def test_a_sqlite_file_that_cannot_sync_is_refused(migrated_url, monkeypatch):
    monkeypatch.setitem(engines.SQLITE_PROPERTIES, "page_size", 12345)
    engine = make_engine(migrated_url)
    with pytest.raises(WrongEngine, match=r"page_size is 4096, expected 12345"):
        engine.connect()
    engine.dispose()


@pytest.mark.postgres
@pytest.mark.parametrize("engine_name", ["postgresql"], indirect=True)
def test_every_postgres_connection_has_its_properties(engine):
    with engine.connect() as c:
        c.rollback()
        said = [
            c.exec_driver_sql(f"SHOW {name}").scalar_one()
            for name in ("timezone", "synchronous_commit")
        ]
    assert said == ["UTC", "on"]


@pytest.mark.postgres
@pytest.mark.parametrize("engine_name", ["postgresql"], indirect=True)
def test_postgres_needs_no_driver_in_its_address(migrated_url):
    plain = make_url(migrated_url).set(drivername="postgresql")
    engine = make_engine(plain.render_as_string(hide_password=False))
    assert ward_names(engine) == []
    engine.dispose()


def test_writing_commits_at_the_end(engine):
    with writing(engine) as c:
        c.execute(insert(wards).values(OLMARA))
    assert ward_names(engine) == ["Olmara"]


def test_writing_rolls_back_on_an_exception(engine):
    with pytest.raises(LookupError), writing(engine) as c:
        c.execute(insert(wards).values(OLMARA))
        raise LookupError
    assert ward_names(engine) == []


def test_reading_changes_nothing(engine):
    with pytest.raises(DBAPIError), reading(engine) as c:
        c.execute(insert(wards).values(OLMARA))
    assert ward_names(engine) == []


def test_a_connection_that_only_read_can_write_afterwards(engine):
    assert ward_names(engine) == []
    with writing(engine) as c:
        c.execute(insert(wards).values(OLMARA))
    assert ward_names(engine) == ["Olmara"]


def test_reading_sees_one_moment(engine):
    with reading(engine) as c:
        before = c.execute(select(wards.c.name)).all()
        with writing(engine) as other:
            other.execute(insert(wards).values(OLMARA))
        assert c.execute(select(wards.c.name)).all() == before == []


def test_writers_that_read_first_never_meet_a_lock(engine):
    """Each reads, then writes what follows from it; on SQLite a late lock would fail at once."""
    with writing(engine) as c:
        c.execute(insert(phones).values(number="+447700900000"))

    def add(number):
        with writing(engine) as c:
            c.execute(select(phones.c.id)).all()
            c.execute(insert(phones).values(number=f"+4477009001{number:02}"))

    with ThreadPoolExecutor(8) as pool:
        list(pool.map(add, range(40)))
    with reading(engine) as c:
        assert len(c.execute(select(phones.c.id)).all()) == 41


@pytest.mark.parametrize("engine_name", ["sqlite"], indirect=True)
def test_a_lock_held_too_long_is_an_error_that_names_it(engine):
    def hurry(connection, entry, proxy):
        connection.execute("PRAGMA busy_timeout = 20")

    event.listen(engine, "checkout", hurry)
    with writing(engine), pytest.raises(OperationalError, match="locked"), writing(engine):
        pass
