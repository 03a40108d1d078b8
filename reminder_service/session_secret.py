"""The secret that signs sessions."""

import os
import secrets
import tempfile
from pathlib import Path

from reminder_service.errors import BadSettings, SettingFault
from reminder_service.setting_values import sqlite_file
from reminder_service.settings import Settings

FILE_NAME = "secret"
SHORTEST = 32
"""Letters; as for ``REMINDER_SECRET_KEY``."""


def session_secret(settings: Settings) -> str:
    """Answer the secret that was set, else the one kept beside the SQLite database.

    The first call makes that file, readable by its owner alone; processes that start at the same
    moment get the same one.

    Raises
    ------
    BadSettings
        The file holds no secret, or there is neither setting nor SQLite database.
    """
    if settings.secret_key is not None:
        return settings.secret_key.get_secret_value()
    database = sqlite_file(settings.database_url)
    if database is None:
        fault = SettingFault("REMINDER_SECRET_KEY", "", "must be given with PostgreSQL")
        raise BadSettings([fault])
    path = database.parent / FILE_NAME
    if not path.exists():
        _make(path)
    secret = path.read_text("ascii").strip()
    if len(secret) < SHORTEST:
        expected = f"the file {path} is too short for a secret: remove it, and a new one is made"
        raise BadSettings([SettingFault("REMINDER_SECRET_KEY", "", expected)])
    return secret


def _make(path: Path) -> None:
    """Write a new secret whole or not at all; one that appears meanwhile stays."""
    path.parent.mkdir(parents=True, exist_ok=True)
    file, written = tempfile.mkstemp(dir=path.parent, prefix=FILE_NAME)  # mode 0600
    try:
        os.write(file, secrets.token_hex(SHORTEST).encode())
        os.link(written, path)
    except FileExistsError:
        return
    finally:
        os.close(file)
        os.unlink(written)
