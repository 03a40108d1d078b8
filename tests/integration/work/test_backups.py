"""Backups restore every table on either engine, and refuse what they must."""

import json
import threading
import zipfile
from datetime import timedelta

import pytest
from season_cast import a_programme, local
from sqlalchemy import insert, inspect, select, text, update

from reminder_service.records import tables as t
from reminder_service.records.engine import make_engine, reading, upgrade, writing
from reminder_service.records.errors import WrongEngine
from reminder_service.records.snapshot import VERSION_TABLE, copied_sqlite, described, rows_of
from reminder_service.work import backups, sealed
from reminder_service.work.backups import BadBackup, back_up, checked, restore
from reminder_service.work.sealed import BadSeal

PASSPHRASE = "stations of maize by hand"
NOW = local("2026-12-05", "15:00")


@pytest.fixture
def programme(engine):
    """Two farmers, a week of texts, notices in many states, odd bytes among them."""
    made = a_programme(engine, local("2026-11-12"))
    made.plot("1")
    made.plot("2", phone="+447700900002", name="Bisa \u00e9\U0001f33d")
    made.text("RAIN 12 NOV")
    made.at("2026-11-22").text("GERM 21/11")
    made.text(b"\x00\xff what \xe9", sender="+447700900002")
    made.text("JOIN", sender="+447700900003")
    made.at("2026-12-05", "12:00").text("STOP", sender="+447700900002")
    made.clock.now = NOW
    with writing(engine) as c:
        c.execute(
            insert(t.people).values(
                id=7,
                login="tembi",
                name="Tembi",
                password_hash="$argon2id$none",
                role="coordinator",
                session_key="k",
                active=True,
            )
        )
        c.execute(insert(t.ticks).values(name="sweep", started_at=NOW, error="it\tfailed"))
    return made


@pytest.fixture
def backup(programme, tmp_path):
    file = tmp_path / "whole.backup"
    back_up(programme.services.engine, file, NOW)
    return file


def contents(engine) -> dict[str, list]:
    with reading(engine) as c:
        return {each.name: list(rows_of(c, each)) for each in described()}


def restored_into(url, file, now=NOW, **how):
    engine = make_engine(url)
    try:
        done = restore(engine, file, now, **how)
        return done, contents(engine)
    finally:
        engine.dispose()


def without_its_own_line(found: dict[str, list]) -> dict[str, list]:
    """The restore's own line on the audit log, which no backup can hold."""
    assert found["audit"][-1][3:5] == ["restore", "database"]
    return found | {"audit": found["audit"][:-1]}


def test_every_table_of_the_database_is_in_a_backup(programme, backup):
    with reading(programme.services.engine) as c:
        there = set(inspect(c).get_table_names()) - {VERSION_TABLE}
    assert {part.name for part in checked(backup).tables} == there


def test_a_restore_gives_back_every_row_of_every_table(programme, backup, database_url):
    before = contents(programme.services.engine)
    assert sum(map(bool, before.values())) >= 12  # the cast fills most tables
    done, after = restored_into(database_url, backup, hold=False)

    assert without_its_own_line(after) == before
    assert done.manifest.rows == sum(map(len, before.values()))


@pytest.mark.postgres
@pytest.mark.parametrize("engine_name", ["sqlite"], indirect=True)
def test_a_programme_moves_from_sqlite_to_postgresql_and_back(
    programme, backup, postgres_server, tmp_path
):
    before = contents(programme.services.engine)
    url = postgres_server.create("moved")
    _, on_postgres = restored_into(url, backup, hold=False)
    engine = make_engine(url)
    again = tmp_path / "again.backup"
    back_up(engine, again, NOW)
    engine.dispose()
    _, back = restored_into(f"sqlite:///{tmp_path / 'back.sqlite3'}", again, hold=False)

    assert without_its_own_line(on_postgres) == before
    assert back["audit"][:-2] == before["audit"]
    assert back | {"audit": before["audit"]} == before


def test_a_restored_programme_goes_on_with_new_rows(backup, database_url):
    engine = make_engine(database_url)
    restore(engine, backup, NOW)
    goes_on = a_programme(engine, NOW)

    goes_on.plot("9", phone="+447700900009", name="Chola")
    assert goes_on.text("RAIN 20 NOV", sender="+447700900009").reply is not None
    engine.dispose()


class TestSealing:
    @pytest.fixture(autouse=True)
    def cheap(self, monkeypatch):
        monkeypatch.setattr(sealed, "COST_LOG2", 4)

    @pytest.fixture
    def closed(self, programme, tmp_path):
        file = tmp_path / "sealed.backup"
        back_up(programme.services.engine, file, NOW, PASSPHRASE)
        return file

    def test_a_sealed_backup_restores_the_same(self, programme, closed, database_url):
        _, after = restored_into(database_url, closed, passphrase=PASSPHRASE, hold=False)
        assert without_its_own_line(after) == contents(programme.services.engine)

    def test_without_the_passphrase_it_stays_closed(self, closed):
        with pytest.raises(BadBackup, match="give --passphrase-file"):
            checked(closed)
        with pytest.raises(BadSeal):
            checked(closed, "quite another passphrase")

    def test_nothing_of_it_lies_open_on_the_disk(self, closed):
        seen = b"".join(path.read_bytes() for path in closed.parent.glob("*backup*"))
        assert b"tables/farmers" not in seen and b"PK\x03\x04" not in seen


class TestRefusals:
    def test_a_database_with_rows_is_left_alone(self, programme, backup):
        before = contents(programme.services.engine)
        with pytest.raises(BadBackup, match="the database is not empty"):
            restore(programme.services.engine, backup, NOW)
        assert contents(programme.services.engine) == before

    def test_tables_of_others_are_left_alone(self, backup, database_url):
        engine = make_engine(database_url)
        with writing(engine) as c:
            c.execute(text("CREATE TABLE theirs (name TEXT)"))
            c.execute(text("INSERT INTO theirs VALUES ('kept')"))
        with pytest.raises(BadBackup, match="theirs"):
            restore(engine, backup, NOW)
        engine.dispose()

    def test_a_wrong_checksum_is_refused_before_anything_is_made(self, backup, database_url):
        changed(backup, "tables/farmers.jsonl", lambda text: text.replace(b"Amina", b"Anima"))
        engine = make_engine(database_url)
        with pytest.raises(BadBackup, match="table farmers was changed or damaged"):
            restore(engine, backup, NOW)
        assert inspect(engine).get_table_names() == []
        engine.dispose()

    def test_a_lost_row_is_refused(self, backup):
        changed(backup, "tables/reports.jsonl", lambda text: text.split(b"\n", 1)[1])
        with pytest.raises(BadBackup, match="table reports was changed"):
            checked(backup)

    @pytest.mark.parametrize("field", [{"revision": "9999"}, {"format": 2}])
    def test_one_of_a_later_release_is_refused(self, backup, field):
        changed(backup, "manifest.json", lambda text: json.dumps(json.loads(text) | field).encode())
        with pytest.raises(BadBackup, match="a later release made it"):
            checked(backup)

    @pytest.mark.parametrize("kept", [0, 100, -100])
    def test_one_that_was_cut_off_is_refused(self, backup, kept):
        backup.write_bytes(backup.read_bytes()[:kept])
        with pytest.raises(BadBackup, match="is no backup, or is cut off"):
            checked(backup)

    def test_a_fault_half_way_leaves_the_database_empty(self, backup, database_url, monkeypatch):
        monkeypatch.setattr(backups.snapshot, "row_count", lambda *_: -1)
        engine = make_engine(database_url)
        with pytest.raises(BadBackup, match="nothing kept"):
            restore(engine, backup, NOW)
        assert inspect(engine).get_table_names() == []
        engine.dispose()

    def test_a_file_that_exists_is_not_written_over(self, programme, backup):
        with pytest.raises(BadBackup, match="exists: name another file"):
            back_up(programme.services.engine, backup, NOW)

    def test_a_database_without_tables_gives_no_backup(self, database_url, tmp_path):
        engine = make_engine(database_url)
        with pytest.raises(BadBackup, match="not those of this release"):
            back_up(engine, tmp_path / "none.backup", NOW)
        engine.dispose()
        assert not list(tmp_path.glob("*backup*"))

    def test_a_table_that_nobody_knows_is_not_left_out_in_silence(self, programme, tmp_path):
        with writing(programme.services.engine) as c:
            c.execute(text("CREATE TABLE theirs (name TEXT)"))
        with pytest.raises(BadBackup, match="does not know the tables theirs"):
            back_up(programme.services.engine, tmp_path / "more.backup", NOW)


@pytest.mark.parametrize("engine_name", ["sqlite"], indirect=True)
@pytest.mark.parametrize("share", [0.0, 0.5, 0.98], ids=["at its head", "amid", "at its end"])
def test_a_damaged_database_is_not_taken_for_a_backup(engine, tmp_path, share):
    damaged = tmp_path / "damaged.sqlite3"
    source = a_programme(engine, NOW)
    source.plot("1")
    copied_sqlite(engine, damaged)
    raw = bytearray(damaged.read_bytes())
    begins = int(len(raw) * share)
    for place in range(begins, min(begins + 8 * 4096, len(raw))):
        raw[place] ^= 0x5A
    damaged.write_bytes(raw)
    broken = make_engine(f"sqlite:///{damaged}")
    with pytest.raises(WrongEngine, match="restore the last good backup"):
        back_up(broken, tmp_path / "damaged.backup", NOW)
    broken.dispose()
    assert not (tmp_path / "damaged.backup").exists()


def test_a_backup_is_of_one_moment_though_others_write(programme, database_url, tmp_path):
    """Each season opened has its plot and farmer: a row without its owner would be refused."""
    stop, count = threading.Event(), iter(range(100, 10_000))

    def write_on():
        while not stop.is_set():
            number = next(count)
            programme.plot(str(number), phone=f"+4477009{number:05}", name=f"Farmer {number}")

    writer = threading.Thread(target=write_on)
    writer.start()
    try:
        back_up(programme.services.engine, tmp_path / "moving.backup", NOW)
    finally:
        stop.set()
        writer.join()
    _, after = restored_into(database_url, tmp_path / "moving.backup")
    assert len(after["farmers"]) == len(after["plots"]) == len(after["seasons"])


def test_an_earlier_release_is_restored_and_brought_up_to_date(database_url, engine, tmp_path):
    """The backup's own description says what its tables were like."""
    programme = a_programme(engine, NOW)
    programme.plot("1")
    file = tmp_path / "early.backup"
    back_up(engine, file, NOW)

    def earlier(text: bytes) -> bytes:
        manifest = json.loads(text)
        kept = [part for part in manifest["tables"] if part["name"] not in SINCE]
        return json.dumps(manifest | {"revision": "0014", "tables": kept}).encode()

    changed(file, "manifest.json", earlier)
    done, after = restored_into(database_url, file, hold=False)

    assert done.manifest.revision == "0014"
    assert without_its_own_line(after)["plots"] == contents(engine)["plots"]
    assert after["broadcasts"] == []


SINCE = {"broadcasts"}
"""Tables that came after migration 0014."""


class TestHolding:
    def test_what_may_have_gone_out_since_waits_for_a_person(self, programme, backup, database_url):
        due = programme.rows(state="planned")
        later = max(row["send_at"] for row in due)
        done, after = restored_into(database_url, backup, now=later)

        states = column(after, "notices", "state")
        assert done.held == len(due) > 0
        assert "planned" not in states and states.count("held") >= done.held

    def test_what_is_not_due_yet_stays_planned(self, programme, backup, database_url):
        due = sorted(row["send_at"] for row in programme.rows(state="planned"))
        before_first = due[0] - timedelta(minutes=1)
        done, after = restored_into(database_url, backup, now=before_first)

        assert done.held == 0
        assert column(after, "notices", "state").count("planned") == len(due)

    def test_a_claim_without_an_attempt_is_held_too(self, programme, tmp_path, database_url):
        chosen = programme.rows(state="planned")[0]
        with writing(programme.services.engine) as c:
            c.execute(
                update(t.notices)
                .where(t.notices.c.id == chosen["id"])
                .values(state="claimed", claim="c" * 32, lease_until=chosen["send_at"])
            )
        file = tmp_path / "claimed.backup"
        back_up(programme.services.engine, file, NOW)
        engine = make_engine(database_url)
        restore(engine, file, chosen["send_at"])
        with reading(engine) as c:
            row = c.execute(select(t.notices).where(t.notices.c.id == chosen["id"])).one()
        engine.dispose()

        assert (row.state, row.claim, row.lease_until) == ("held", None, None)
        assert "it may have gone out" in row.reason


def column(found: dict[str, list], table: str, name: str) -> list:
    place = list(t.metadata.tables[table].columns.keys()).index(name)
    return [row[place] for row in found[table]]


def changed(file, member: str, change) -> None:
    """Write a backup anew with one member changed."""
    with zipfile.ZipFile(file) as archive:
        held = {name: archive.read(name) for name in archive.namelist()}
    held[member] = change(held[member])
    with zipfile.ZipFile(file, "w") as archive:
        for name, text_ in held.items():
            archive.writestr(name, text_)


def test_an_empty_migrated_database_takes_a_restore(backup, database_url):
    engine = make_engine(database_url)
    upgrade(engine)
    assert restore(engine, backup, NOW).manifest.rows > 0
    engine.dispose()


@pytest.mark.postgres
@pytest.mark.parametrize("engine_name", ["sqlite"], indirect=True)
def test_a_row_that_postgresql_cannot_hold_is_named_and_nothing_is_kept(
    programme, postgres_server, tmp_path
):
    with writing(programme.services.engine) as c:
        c.execute(update(t.farmers).where(t.farmers.c.id == 1).values(name="A\x00mina"))
    file = tmp_path / "odd.backup"
    back_up(programme.services.engine, file, NOW)
    engine = make_engine(postgres_server.create("odd"))
    with pytest.raises(WrongEngine, match="a row of farmers"):
        restore(engine, file, NOW)
    assert inspect(engine).get_table_names() == []
    engine.dispose()
