"""Doors of whoever keeps the records: backup, restore, person-data, erase-person."""

import json

import pytest

from reminder_service.commands import main

NUMBER = "+447700900001"


@pytest.fixture
def at(monkeypatch, tmp_path):
    """Point the settings at a database by its name."""
    monkeypatch.chdir(tmp_path)

    def pointed(name: str) -> None:
        monkeypatch.setenv("REMINDER_DATABASE_URL", f"sqlite:///{tmp_path / name}.sqlite3")

    pointed("first")
    return pointed


@pytest.fixture
def run(at, capsys):
    """Run one command: its exit code and what it printed."""

    def run_one(*arguments: str) -> tuple[int, str, str]:
        code = 0
        try:
            main(list(arguments))
        except SystemExit as stopped:
            code = int(stopped.code or 0)
        printed = capsys.readouterr()
        return code, printed.out, printed.err

    return run_one


@pytest.fixture
def lived(run, capsys):
    """The first database has taken a text."""
    assert run("text", "--from", NUMBER, "HELP")[0] == 0
    return run


def test_what_was_backed_up_is_restored(lived, at, tmp_path):
    (tmp_path / "passphrase").write_text("stations of maize by hand\n")
    sealed = ("--encrypt-to-passphrase-file", "passphrase")
    code, out, _ = lived("backup", "a.backup", *sealed, "--json")
    told = json.loads(out)
    assert code == 0 and told["sealed"] and told["tables"]["inbound"] == 1

    at("second")
    code, out, _ = lived("restore", "a.backup", "--passphrase-file", "passphrase", "--json")
    assert code == 0 and json.loads(out)["rows"] == told["rows"]
    _, out, _ = lived("person-data", NUMBER, "--json")
    assert json.loads(out)["tables"]["inbound"][0]["body"] == "HELP"


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("restore", "a.backup"), "a.backup cannot be read"),
        (("backup", "none/a.backup"), "there is no folder none"),
        (("backup", "a.backup", "--encrypt-to-passphrase-file", "none"), "passphrase file none"),
        (("person-data", "+447700900099"), "there is no phone that ends in"),
        (("person-data", "maize"), "a phone number such as"),
    ],
)
def test_what_cannot_be_done_is_told_in_one_line(lived, arguments, told):
    code, out, err = lived(*arguments)
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert told in err


def test_a_restore_into_the_same_database_is_refused(lived):
    lived("backup", "a.backup")
    code, _, err = lived("restore", "a.backup")
    assert code == 2 and "the database is not empty" in err


def test_a_backup_can_be_looked_over_alone(lived):
    lived("backup", "a.backup")
    assert "is whole" in lived("restore", "a.backup", "--check-only")[1]


def test_a_person_is_erased_once_it_is_said(lived, monkeypatch):
    code, _, _ = lived("erase-person", NUMBER, "--yes")
    assert code == 0
    code, _, err = lived("person-data", NUMBER)
    assert code == 2 and "there is no phone" in err
