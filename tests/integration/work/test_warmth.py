"""A season planned by usual temperatures, on both engines: plan, page words, texts."""

from datetime import date

import pytest
from season_cast import AMINA, Programme, a_programme, local

ROWS = "".join(f"Olmara,{month},17,29\n" for month in range(1, 13))


@pytest.fixture
def normals(tmp_path) -> str:
    path = tmp_path / "normals.csv"
    path.write_text(f"ward,month,tmin,tmax\n{ROWS}")
    return str(path)


def planned(engine, **settings: object) -> Programme:
    """Amina's plot; germination is reported for 21 November."""
    programme = a_programme(engine, local("2026-11-25", "10:00"), **settings)
    programme.plot()
    programme.text("GERM 21/11")
    return programme


def dressing(programme: Programme) -> dict:
    (row,) = programme.rows("tasks", name="top-dress-tassel")
    return row


def test_without_them_the_class_decides(engine):
    assert dressing(planned(engine))["opens_on"] == date(2027, 1, 22)


def test_with_them_warmth_decides_and_is_an_estimate(engine, normals):
    task = dressing(planned(engine, normals=normals))
    assert task["opens_on"] == date(2027, 1, 8)
    assert "estimated" in task["because"] and task["basis"] == "estimated"


def test_a_ward_that_the_file_does_not_name_keeps_to_the_class(engine, tmp_path):
    path = tmp_path / "others.csv"
    path.write_text(f"ward,month,tmin,tmax\n{ROWS.replace('Olmara', 'Setiwe')}")
    assert dressing(planned(engine, normals=str(path)))["opens_on"] == date(2027, 1, 22)


def test_texts_say_about(engine, normals):
    programme = planned(engine, normals=normals)
    (ready,) = programme.rows(task="top-dress-tassel", stage="getting-ready")
    assert "about Fri 8 Jan" in ready["body"]
    assert "about" in programme.text("WHY TASSEL DRESS").reply


def test_a_report_of_tassels_gives_the_same_plan_as_without(engine, normals, tmp_path):
    programme = planned(engine, normals=normals)
    programme.clock.now = local("2027-01-12", "10:00")
    programme.text("TASSEL 11/1", sender=AMINA)
    assert dressing(programme)["opens_on"] == date(2027, 1, 11)
