"""Doors of whoever keeps the records: backup and restore."""

from pathlib import Path

import click

from reminder_service.commands.answers import dumped, json_option
from reminder_service.records.engine import make_engine
from reminder_service.settings import load_settings
from reminder_service.work.backups import BadBackup, Manifest, back_up, checked
from reminder_service.work.backups import restore as restored
from reminder_service.work.services import utc_now

passphrase_option = click.option(
    "--passphrase-file", type=click.Path(path_type=Path), help="A file that holds the passphrase."
)


def _passphrase(file: Path | None) -> str | None:
    if file is None:
        return None
    try:
        return file.read_text("utf-8").rstrip("\r\n")
    except (OSError, UnicodeDecodeError) as fault:
        raise BadBackup(f"passphrase file {file} cannot be read: {fault}") from fault


def _told(manifest: Manifest, **more: object) -> dict[str, object]:
    tables = {part.name: part.rows for part in manifest.tables}
    known = {"made_at": manifest.made_at, "engine": manifest.engine, "revision": manifest.revision}
    return {**known, "rows": manifest.rows, "tables": tables, **more}


@click.command("backup")
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--encrypt-to-passphrase-file",
    "passphrase_file",
    type=click.Path(path_type=Path),
    help="Seal it with the passphrase in this file.",
)
@json_option
def backup(file: Path, passphrase_file: Path | None, as_json: bool) -> None:
    """Write every table to FILE, while the programme runs."""
    engine = make_engine(load_settings().database_url)
    manifest = back_up(engine, file, utc_now(), _passphrase(passphrase_file))
    engine.dispose()
    sealed = passphrase_file is not None
    value = _told(manifest, file=str(file), bytes=file.stat().st_size, sealed=sealed)
    text = f"{manifest.rows} rows of {len(manifest.tables)} tables are in {file}"
    click.echo(dumped(value) if as_json else f"{text}{', sealed' if sealed else ''}.")


@click.command("restore")
@click.argument("file", type=click.Path(path_type=Path))
@passphrase_option
@click.option("--check-only", is_flag=True, help="Look the backup over and change nothing.")
@click.option(
    "--as-it-was",
    is_flag=True,
    help="Hold nothing back: nothing was sent since the backup, as when moving to another engine.",
)
@json_option
def restore(
    file: Path, passphrase_file: Path | None, check_only: bool, as_it_was: bool, as_json: bool
) -> None:
    """Fill the empty database of the settings from FILE."""
    passphrase = _passphrase(passphrase_file)
    if check_only:
        manifest = checked(file, passphrase)
        text = f"{file} is whole: {manifest.rows} rows of {len(manifest.tables)} tables."
        click.echo(dumped(_told(manifest)) if as_json else text)
        return
    engine = make_engine(load_settings().database_url)
    done = restored(engine, file, utc_now(), passphrase, hold=not as_it_was)
    engine.dispose()
    text = f"{done.manifest.rows} rows of {len(done.manifest.tables)} tables are restored."
    if done.held:
        text += (
            f" {done.held} notices that may have gone out since the backup are held: release or "
            "withdraw them on the queue page."
        )
    click.echo(dumped(_told(done.manifest, held=done.held)) if as_json else text)
