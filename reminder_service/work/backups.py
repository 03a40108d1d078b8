"""Backups: every table in one file that either engine can be restored from.

The file is a zip with a JSON line for each row, one member a table, and a manifest with the
migration, the counts and a checksum for each. It may be sealed with a passphrase.
"""

import hashlib
import json
import os
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from datetime import datetime
from itertools import islice
from pathlib import Path
from typing import BinaryIO, Literal, cast

from pydantic import BaseModel, ConfigDict, ValidationError
from sqlalchemy import Connection, Engine

from reminder_service.errors import ReminderError
from reminder_service.records import audit, snapshot
from reminder_service.records.engine import (
    is_current,
    known_revisions,
    make_engine,
    reading,
    revision_of,
    upgrade_within,
    writing,
)
from reminder_service.records.queue_restored import hold_due
from reminder_service.records.snapshot import Described, Value
from reminder_service.work.sealed import SealedReader, SealedWriter, is_sealed

MANIFEST = "manifest.json"
FORMAT = 1
Kind = Literal["instant", "json", "whole", "real", "day", "bytes", "text", "yes-no"]


class BadBackup(ReminderError):
    """A backup cannot be made or used; the message says why and what to do."""


class _Part(BaseModel):
    """One table in the manifest."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    name: str
    columns: tuple[tuple[str, Kind], ...]
    rows: int
    sha256: str

    @property
    def described(self) -> Described:
        return Described(self.name, self.columns)

    @property
    def member(self) -> str:
        return f"tables/{self.name}.jsonl"


class Manifest(BaseModel):
    """What a backup says of itself.

    Attributes
    ----------
    format : of the file
    made_at : aware UTC instant at which it was begun
    engine : of the database it was made from
    revision : migration that its tables stand at
    tables : in the order they must be loaded in
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    format: int
    made_at: datetime
    engine: str
    revision: str
    tables: tuple[_Part, ...]

    @property
    def rows(self) -> int:
        """Rows of all tables."""
        return sum(part.rows for part in self.tables)


@dataclass(frozen=True, slots=True)
class Restored:
    """What a restore did.

    Attributes
    ----------
    manifest : of the backup
    held : notices that were due and wait for a person now, since they may have gone out
    """

    manifest: Manifest
    held: int


def back_up(engine: Engine, to: Path, now: datetime, passphrase: str | None = None) -> Manifest:
    """Write a backup of one moment, while others go on working.

    Parameters
    ----------
    engine : the database
    to : a file that does not exist yet; it appears whole or not at all, readable by its owner
    now : aware UTC instant
    passphrase : seals the file; None leaves it open

    Raises
    ------
    BadBackup
        The file exists, or the tables are not those of this release.
    WrongEngine
        The SQLite database is damaged.
    """
    if to.exists():
        raise BadBackup(f"{to} exists: name another file")
    if not to.parent.is_dir():
        raise BadBackup(f"there is no folder {to.parent}: make it first")
    with tempfile.TemporaryDirectory(prefix=".backup-", dir=to.parent) as folder:
        written = Path(folder, "written")
        with _still(engine, Path(folder)) as still:
            if not is_current(still):
                raise BadBackup("the tables are not those of this release: start it once first")
            with open(written, "xb", opener=_for_owner) as out:
                manifest = _written(still, engine, out, now, passphrase)
                out.flush()
                os.fsync(out.fileno())
        os.link(written, to)  # refuses to put itself over a file that appeared meanwhile
    return manifest


def _for_owner(path: str, flags: int) -> int:
    return os.open(path, flags, 0o600)


@contextmanager
def _still(engine: Engine, folder: Path) -> Iterator[Engine]:
    """A database that stands still: a copy of a SQLite one, a PostgreSQL one as it is."""
    if engine.dialect.name != "sqlite":
        yield engine
        return
    copy = folder / "copy.sqlite3"
    snapshot.copied_sqlite(engine, copy)
    still = make_engine(f"sqlite:///{copy}")
    try:
        yield still
    finally:
        still.dispose()


def _written(
    still: Engine, engine: Engine, out: BinaryIO, now: datetime, passphrase: str | None
) -> Manifest:
    with ExitStack() as stack:
        target: BinaryIO = out
        if passphrase is not None:
            target = cast(BinaryIO, stack.enter_context(SealedWriter(out, passphrase)))
        archive = stack.enter_context(
            zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, compresslevel=1)
        )
        c = stack.enter_context(reading(still))
        unknown = snapshot.unknown_tables(c)
        if unknown:
            told = ", ".join(unknown)
            raise BadBackup(f"this release does not know the tables {told}: move them elsewhere")
        manifest = Manifest(
            format=FORMAT,
            made_at=now,
            engine=engine.dialect.name,
            revision=str(revision_of(c)),
            tables=tuple(_table(archive, c, each) for each in snapshot.described()),
        )
        archive.writestr(MANIFEST, manifest.model_dump_json(indent=1))
    return manifest


def _table(archive: zipfile.ZipFile, c: Connection, described: Described) -> _Part:
    part = _Part(name=described.name, columns=described.columns, rows=0, sha256="")
    digest, count = hashlib.sha256(), 0
    with archive.open(part.member, "w", force_zip64=True) as member:
        rows = snapshot.rows_of(c, described)
        while batch := list(islice(rows, snapshot.BATCH)):
            lines = b"".join(map(_line, batch))
            digest.update(lines)
            member.write(lines)
            count += len(batch)
    return part.model_copy(update={"rows": count, "sha256": digest.hexdigest()})


def _line(row: list[Value]) -> bytes:
    return json.dumps(row, separators=(",", ":")).encode() + b"\n"


def checked(file: Path, passphrase: str | None = None) -> Manifest:
    """Look a backup over without touching a database.

    Raises
    ------
    BadBackup
        It is no backup, a later release made it, or a checksum or count is wrong.
    BadSeal
        It is sealed and does not open.
    """
    with _opened(file, passphrase) as archive:
        return _checked(archive)


def restore(
    engine: Engine,
    file: Path,
    now: datetime,
    passphrase: str | None = None,
    *,
    hold: bool = True,
) -> Restored:
    """Fill an empty database from a backup, all of it or nothing.

    Parameters
    ----------
    engine : a database without a row; its tables are made if there are none
    file : the backup
    now : aware UTC instant
    passphrase : it was sealed with
    hold : hold what is due by now for a person, since it may have gone out after the backup

    Raises
    ------
    BadBackup
        The database holds rows or other tables, the backup is damaged, or a later release made it.
    BadSeal
        The file is sealed and does not open.
    """
    with _opened(file, passphrase) as archive:
        manifest = _checked(archive)
        with writing(engine) as c:
            _refuse_filled(c, manifest)
            upgrade_within(c, manifest.revision)
            for part in manifest.tables:
                _loaded(c, archive, part)
            upgrade_within(c)
            held = hold_due(c, now, manifest.made_at) if hold else 0
            audit.note(
                c,
                at=now,
                who="command",
                what="restore",
                subject="database",
                after={"of": manifest.made_at.isoformat(), "rows": manifest.rows, "held": held},
            )
    return Restored(manifest, held)


@contextmanager
def _opened(file: Path, passphrase: str | None) -> Iterator[zipfile.ZipFile]:
    with ExitStack() as stack:
        try:
            source: BinaryIO = stack.enter_context(open(file, "rb"))
        except OSError as fault:
            raise BadBackup(f"{file} cannot be read ({fault.strerror}): name a backup") from fault
        if is_sealed(source):
            if passphrase is None:
                raise BadBackup(f"{file} is sealed: give --passphrase-file")
            source = cast(BinaryIO, stack.enter_context(SealedReader(source, passphrase)))
        try:
            archive = stack.enter_context(zipfile.ZipFile(source))
        except zipfile.BadZipFile as fault:
            raise BadBackup(f"{file} is no backup, or is cut off ({fault})") from fault
        yield archive


def _checked(archive: zipfile.ZipFile) -> Manifest:
    try:
        manifest = Manifest.model_validate_json(archive.read(MANIFEST))
    except (KeyError, ValidationError, zipfile.BadZipFile) as fault:
        raise BadBackup("there is no manifest that can be read: use another backup") from fault
    if manifest.format != FORMAT or manifest.revision not in known_revisions():
        raise BadBackup(
            f"a later release made it (format {manifest.format}, migration {manifest.revision}): "
            "restore it with that release"
        )
    for part in manifest.tables:
        digest, count = hashlib.sha256(), 0
        for line in _lines(archive, part):
            digest.update(line)
            count += 1
        if (digest.hexdigest(), count) != (part.sha256, part.rows):
            raise BadBackup(f"table {part.name} was changed or damaged: use another backup")
    return manifest


def _lines(archive: zipfile.ZipFile, part: _Part) -> Iterator[bytes]:
    try:
        with archive.open(part.member) as member:
            yield from member
    except (KeyError, zipfile.BadZipFile) as fault:
        raise BadBackup(f"table {part.name} is missing or damaged: use another backup") from fault


def _refuse_filled(c: Connection, manifest: Manifest) -> None:
    filled = snapshot.filled_tables(c)
    if filled:
        told = ", ".join(filled[:5])
        raise BadBackup(f"the database is not empty ({told}): name a new one to restore into")
    at = revision_of(c)
    if at not in (None, manifest.revision):
        raise BadBackup(
            f"the tables stand at migration {at}, the backup at {manifest.revision}: "
            "name a new database, whose tables the restore makes"
        )


def _loaded(c: Connection, archive: zipfile.ZipFile, part: _Part) -> None:
    rows = (cast("list[Value]", json.loads(line)) for line in _lines(archive, part))
    snapshot.load_rows(c, part.described, rows)
    found = snapshot.row_count(c, part.described)
    if found != part.rows:
        raise BadBackup(f"table {part.name} has {found} rows, expected {part.rows}: nothing kept")
