"""Usual temperatures from a file: what is read, and that all faults are told at once."""

from pathlib import Path

import pytest

from reminder_service.agronomy.heat import Temperatures
from reminder_service.settings import Settings
from reminder_service.work.normals import BadNormals, load_normals, ward_normals
from reminder_service.work.services import make_services


def written(folder: Path, *rows: str, head: str = "ward,month,tmin,tmax") -> str:
    path = folder / "normals.csv"
    path.write_text("\n".join([head, *rows]) + "\n")
    return str(path)


def test_each_ward_has_its_months(tmp_path):
    path = written(tmp_path, "Olmara,11,17.5,30", "Olmara,12,17,28.5", "Setiwe,11,14,27")
    settings = Settings(normals=path)
    assert ward_normals(settings, "OLMARA") == {
        11: Temperatures(17.5, 30.0),
        12: Temperatures(17.0, 28.5),
    }
    assert ward_normals(settings, "Setiwe").keys() == {11}
    assert ward_normals(settings, "Hakunde") == {}


def test_without_a_file_nothing_is_known():
    assert ward_normals(Settings(), "Olmara") == {}


def test_a_byte_order_mark_and_empty_lines_do_no_harm(tmp_path):
    path = written(tmp_path, "", "Olmara, 1 ,17,28", " , ", head="\ufeffWard, Month,TMIN,tmax")
    assert load_normals(path) == {"olmara": {1: Temperatures(17, 28)}}


@pytest.mark.parametrize(
    "row, fault",
    [
        ("Olmara,13,17,28", "line 3: month is 13, expected 1 to 12"),
        ("Olmara,1,28,17", "line 3: tmin_c is 28.0"),
        ("Olmara,2,warm,30", "line 3: could not convert"),
        ("Olmara,2,nan,30", "line 3: tmin_c is nan"),
        (",2,17,30", "line 3: expected a ward"),
        ("Olmara,2,17", "line 3: expected a ward, a month and two temperatures"),
        ("olmara,1,17,28", "line 3: month 1 of olmara stands there twice"),
    ],
    ids=["no month", "low above high", "a word", "no number", "no ward", "too short", "twice"],
)
def test_a_faulty_row_is_named(tmp_path, row, fault):
    with pytest.raises(BadNormals, match=fault):
        load_normals(written(tmp_path, "Olmara,1,17,28", row))


def test_all_faults_are_told_at_once(tmp_path):
    with pytest.raises(BadNormals) as told:
        load_normals(written(tmp_path, "Olmara,0,17,28", "Olmara,1,17", "Olmara,2,17,28"))
    assert [fault.partition(":")[0] for fault in told.value.faults] == ["line 2", "line 3"]


@pytest.mark.parametrize(
    "content, fault",
    [("ward,month,mean\n", "expected the columns"), ("ward,month,tmin,tmax\n", "got none")],
    ids=["other columns", "no rows"],
)
def test_a_file_of_another_kind_is_refused(tmp_path, content, fault):
    path = tmp_path / "normals.csv"
    path.write_text(content)
    with pytest.raises(BadNormals, match=fault):
        load_normals(str(path))


@pytest.mark.parametrize("name", ["missing.csv", "binary.csv"])
def test_a_file_that_is_no_text_is_refused(tmp_path, name):
    (tmp_path / "binary.csv").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(BadNormals, match="expected a text file"):
        load_normals(str(tmp_path / name))


def test_a_faulty_file_stops_the_start(tmp_path):
    url = f"sqlite:///{tmp_path / 'x.sqlite3'}"
    settings = Settings(database_url=url, normals=written(tmp_path, "Olmara,13,17,28"))
    with pytest.raises(BadNormals):
        make_services(settings, gateways={})
