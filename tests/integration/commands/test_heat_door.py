"""The door `heat`: its answers, and what it says of bad input."""

import json
from pathlib import Path

import pytest

from reminder_service.commands import main

WARM = "15,25"  # 10 °C d a day


@pytest.fixture
def season(tmp_path: Path) -> Path:
    """Twelve warm days across the new year."""
    days = [f"2025-12-{day}" for day in range(26, 32)] + [f"2026-01-0{day}" for day in range(1, 7)]
    return written(tmp_path / "air.csv", "date,tmin,tmax", *(f"{day},{WARM}" for day in days))


def written(file: Path, *lines: str) -> Path:
    file.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return file


def asked(capsys, file: Path, *more: str) -> dict:
    main(["heat", str(file), "--json", *more])
    return json.loads(capsys.readouterr().out)


def refused(capsys, *arguments: str) -> str:
    with pytest.raises(SystemExit) as stopped:
        main(["heat", *arguments])
    caught = capsys.readouterr()
    assert stopped.value.code == 2
    assert caught.out == ""
    assert caught.err.count("\n") == 1
    return caught.err


def test_answers_sums_by_date_and_stages(capsys, season) -> None:
    answer = asked(capsys, season, "--from", "2025-12-31")
    assert answer["degree_days"]["2025-12-31"] == 10
    assert answer["degree_days"]["2026-01-06"] == 70
    emergence = answer["stages"][0]
    assert (emergence["stage"], emergence["name"], emergence["on"]) == (
        "VE",
        "emergence",
        "2026-01-06",
    )
    assert answer["stages"][-1] == {
        "stage": "R6",
        "name": "maturity",
        "needs": 1397.2,
        "on": None,
        "on_normals": False,
    }


def test_a_missing_day_ends_the_known_sum(capsys, tmp_path) -> None:
    file = written(
        tmp_path / "gap.csv",
        "date,tmin,tmax",
        f"2025-12-01,{WARM}",
        "2025-12-02,,25",
        f"2025-12-04,{WARM}",
    )
    answer = asked(capsys, file, "--from", "2025-12-01")
    assert list(answer["degree_days"].values()) == [10, None, None, None]
    assert answer["by_day"]["2025-12-04"] == 10
    assert answer["unknown"] == ["2025-12-02", "2025-12-03"]


def test_normals_bridge_a_missing_day(capsys, tmp_path) -> None:
    file = written(
        tmp_path / "gap.csv", "date,tmin,tmax", f"2025-12-01,{WARM}", f"2025-12-03,{WARM}"
    )
    normals = written(tmp_path / "usual.csv", "month,tmin,tmax", "12,16,26")
    answer = asked(capsys, file, "--from", "2025-12-01", "--normals", str(normals))
    assert list(answer["degree_days"].values()) == [10, 21, 31]
    assert answer["from_normals"] == ["2025-12-02"]


def test_variant_changes_the_sum_and_not_the_stages(capsys, tmp_path) -> None:
    file = written(
        tmp_path / "hot.csv",
        "date,tmin,tmax",
        *(f"2025-12-{day:02},20,40" for day in range(1, 6)),
    )
    limited = asked(capsys, file, "--from", "2025-12-01")
    plain = asked(capsys, file, "--from", "2025-12-01", "--variant", "plain-mean")
    assert limited["degree_days"]["2025-12-05"] == 75
    assert plain["degree_days"]["2025-12-05"] == 100
    assert plain["stages"] == limited["stages"]


def test_variety_class_changes_the_needs(capsys, season) -> None:
    ripe = [
        asked(capsys, season, "--from", "2025-12-26", "--variety-class", name)["stages"][-1][
            "needs"
        ]
        for name in ("short", "medium", "long")
    ]
    assert ripe == sorted(set(ripe))


def test_answers_people_in_plain_text(capsys, season) -> None:
    main(["heat", str(season), "--from", "2025-12-26"])
    text = capsys.readouterr().out
    assert "120.0 degree days (86-50, base 10 °C, cap 30 °C), 2025-12-26 to 2026-01-06." in text
    assert "VE emergence, 64 degree days: 2026-01-01" in text
    assert "VT tasselling, 681 degree days: not yet" in text


def test_says_in_text_where_the_sum_ends(capsys, tmp_path) -> None:
    file = written(
        tmp_path / "gap.csv", "date,tmin,tmax", f"2025-12-01,{WARM}", f"2025-12-03,{WARM}"
    )
    main(["heat", str(file), "--from", "2025-12-01"])
    text = capsys.readouterr().out
    assert "2025-12-01 to 2025-12-01" in text
    assert "No temperatures on 2025-12-02: the sum is not known from that day on." in text


@pytest.mark.parametrize(
    ("heading", "row", "said"),
    [
        ("date,tmin,tmax", "2025-12-01,25,15", "line 2, tmin is 25.0, expected at most tmax_c"),
        ("date,tmin,tmax", "2025-12-01,15,250", "line 2, tmax is 250.0, expected -60.0 to 60.0"),
        ("date,tmin,tmax", "2025-12-01,warm,25", "line 2, tmin is 'warm', expected a number in °C"),
        ("date,tmin,tmax", "2025-12-01,nan,25", "line 2, tmin is nan"),
        ("date,tmin,tmax", "01.12.2025,15,25", "line 2, date is '01.12.2025', expected a day as"),
        ("date,tmin,tmax", "2025-12-01,15,5,25,5", "line 2 is '2025-12-01,15,5,25,5', expected 3"),
        ("date,low,high", "2025-12-01,15,25", "expected columns date, tmin, tmax"),
    ],
    ids=[
        "upside down",
        "too hot",
        "a word",
        "no number",
        "another date form",
        "decimal commas",
        "other columns",
    ],
)
def test_refuses_a_bad_file(capsys, tmp_path, heading: str, row: str, said: str) -> None:
    file = written(tmp_path / "bad.csv", heading, row)
    assert said in refused(capsys, str(file), "--from", "2025-12-01")


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (("--from", "2026-02-01"), "from is '2026-02-01', expected a day up to 2026-01-06"),
        (("--from", "first of May"), "from is 'first of May'"),
        (("--from", "2025-12-26", "--variant", "magic"), "expected one of 86-50, capped-mean"),
        (("--from", "2025-12-26", "--variety-class", "early"), "one of short, medium, long"),
        ((), "from"),
    ],
    ids=["after the file", "no day", "unknown variant", "unknown class", "no first day"],
)
def test_refuses_bad_options(capsys, season, more: tuple[str, ...], said: str) -> None:
    assert said in refused(capsys, str(season), *more)


def test_refuses_a_day_given_twice(capsys, tmp_path) -> None:
    row = f"2025-12-01,{WARM}"
    file = written(tmp_path / "twice.csv", "date,tmin,tmax", row, row)
    assert "line 3, date is '2025-12-01', expected each day once" in refused(
        capsys, str(file), "--from", "2025-12-01"
    )


def test_refuses_an_empty_file(capsys, tmp_path) -> None:
    file = written(tmp_path / "empty.csv", "date,tmin,tmax")
    assert "without a row" in refused(capsys, str(file), "--from", "2025-12-01")


def test_refuses_a_file_that_is_not_there(capsys, tmp_path) -> None:
    said = refused(capsys, str(tmp_path / "none.csv"), "--from", "2025-12-01")
    assert "a file that can be read" in said


@pytest.mark.parametrize(
    ("row", "said"),
    [("13,15,25", "a month from 1 to 12"), ("12,,25", "each month once, with both temperatures")],
    ids=["no month", "half a normal"],
)
def test_refuses_bad_normals(capsys, season, tmp_path, row: str, said: str) -> None:
    normals = written(tmp_path / "usual.csv", "month,tmin,tmax", row)
    assert said in refused(capsys, str(season), "--from", "2025-12-26", "--normals", str(normals))
