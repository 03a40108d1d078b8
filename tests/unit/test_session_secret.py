"""The secret that signs sessions: given, kept, or refused."""

import stat
from concurrent.futures import ThreadPoolExecutor

import pytest

from reminder_service.errors import BadSettings
from reminder_service.session_secret import session_secret
from reminder_service.settings import Settings


@pytest.fixture
def settings(tmp_path):
    return Settings(database_url=f"sqlite:///{tmp_path}/data/reminder.sqlite3")


@pytest.fixture
def file(tmp_path):
    return tmp_path / "data" / "secret"


def test_a_secret_that_was_set_is_used(tmp_path, file):
    set_one = Settings(database_url=f"sqlite:///{tmp_path}/data/r.sqlite3", secret_key="s" * 32)

    assert session_secret(set_one) == "s" * 32 and not file.exists()


def test_one_is_made_beside_the_database(settings, file):
    assert session_secret(settings) == file.read_text() and len(file.read_text()) == 64


def test_the_next_start_has_the_same(settings):
    assert session_secret(settings) == session_secret(settings)


def test_nobody_else_can_read_it(settings, file):
    session_secret(settings)

    assert stat.S_IMODE(file.stat().st_mode) == 0o600


def test_starts_at_the_same_moment_agree(settings, file):
    with ThreadPoolExecutor(8) as pool:
        secrets = set(pool.map(session_secret, [settings] * 16))

    assert len(secrets) == 1 and list(file.parent.iterdir()) == [file]


def test_a_file_without_a_secret_is_refused(settings, file):
    file.parent.mkdir()
    file.write_text("\n")

    with pytest.raises(BadSettings, match="too short for a secret: remove it"):
        session_secret(settings)
