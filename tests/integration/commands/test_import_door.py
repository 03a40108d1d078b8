"""The door of lists."""

import json

import pytest
from sqlalchemy import select

from reminder_service.commands import main
from reminder_service.records import farmers
from reminder_service.records import tables as t
from reminder_service.records.engine import make_engine, upgrade, writing
from reminder_service.records.list_tables import imports

GOOD = "Kata;Jina;Simu;Mashimo\nOlmara;Nalo Teme;+447700900001;5600\n"
FAULTY = GOOD + "Birikao;Juma Keto;+447700900002;900\n"


@pytest.fixture
def database(tmp_path, monkeypatch):
    address = f"sqlite:///{tmp_path / 'lists.sqlite3'}"
    monkeypatch.setenv("REMINDER_DATABASE_URL", address)
    engine = make_engine(address)
    upgrade(engine)
    with writing(engine) as c:
        farmers.add_ward(c, "Olmara", "Africa/Lusaka")
    yield engine
    engine.dispose()


@pytest.fixture
def door(tmp_path, capsys, database):
    """Run the door on a file with some text; answers what it printed."""

    def run(text: str, *more: str) -> str:
        file = tmp_path / "list.csv"
        file.write_text(text, "utf-8")
        main(["import", str(file), *more])
        return capsys.readouterr().out

    return run


def names(engine) -> list[str]:
    with engine.connect() as c:
        return list(c.execute(select(t.farmers.c.name)).scalars())


def test_a_dry_run_says_what_would_be_and_leaves_no_trace(door, database):
    answer = json.loads(door(FAULTY, "--dry-run", "--json"))
    assert answer["counts"]["new farmer"] == 1 and answer["written"] is False
    assert answer["columns"] == {
        "Kata": "ward",
        "Jina": "farmer",
        "Simu": "phone",
        "Mashimo": "stations",
    }
    assert answer["faults"] == [{"row": 3, "wrong": ['no ward of yours is called "Birikao"']}]
    with database.connect() as c:
        assert names(database) == [] and c.execute(select(imports.c.id)).all() == []


def test_a_list_goes_in_and_a_second_time_changes_nothing(door, database):
    assert "The list is in." in door(GOOD, "--asked-by", "Tembi")
    answer = json.loads(door(GOOD, "--json"))
    assert answer["counts"]["same"] == 1 and answer["written"] is False
    assert names(database) == ["Nalo Teme"]


@pytest.mark.parametrize(
    ("text", "more", "words"),
    [
        (FAULTY, ["--asked-by", "Tembi"], "faulty rows is 1"),
        (GOOD, [], "asked-by is None"),
        (GOOD, ["--ward", "Setiwe"], "expected one of Olmara"),
        (GOOD, ["--column", "Kata=colour"], "column is 'Kata=colour'"),
        (GOOD, ["--column", "Colour=ward"], "column is 'Colour=ward'"),
        (GOOD, ["--language", "fr"], "language is 'fr'"),
        ("Kata\nOlmara\n", [], "no column holds the farmer's name"),
        ("", [], "this file is empty"),
    ],
    ids=[
        "a faulty row",
        "nobody asked them",
        "no such ward",
        "no such field",
        "no such heading",
        "no such language",
        "no names",
        "an empty file",
    ],
)
def test_bad_input_ends_with_one_line_and_writes_nothing(door, database, capsys, text, more, words):
    with pytest.raises(SystemExit) as ended:
        door(text, *more)
    said = capsys.readouterr().err
    assert ended.value.code == 2 and words in said and said.count("\n") == 1
    with database.connect() as c:
        assert names(database) == [] and c.execute(select(imports.c.id)).all() == []


def test_a_file_that_is_not_there_ends_with_one_line(database, capsys):
    with pytest.raises(SystemExit) as ended:
        main(["import", "no-such-file.csv"])
    assert ended.value.code == 2 and "a file that can be read" in capsys.readouterr().err


def test_good_rows_go_in_and_the_others_into_a_file(door, database, tmp_path):
    back = tmp_path / "back.csv"
    out = door(FAULTY, "--good-rows", "--asked-by", "Tembi", "--faulty", str(back))
    assert "The good rows are in." in out and names(database) == ["Nalo Teme"]
    assert "Juma Keto,'+447700900002" in back.read_text("utf-8-sig")


def test_a_column_and_a_ward_can_be_chosen(door, database):
    text = "Who;Holes\nNalo Teme;5600\n"
    door(text, "--column", "Who=farmer", "--ward", "Olmara", "--asked-by", "Tembi")
    assert names(database) == ["Nalo Teme"]
