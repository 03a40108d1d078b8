"""The door of the rains: a file of daily rain in, onset, false starts and cessation out."""

import json
from datetime import date, timedelta

import pytest

from reminder_service.commands import main

NOVEMBER = date(2026, 11, 1)
SEASON = [25.0, *[0.0] * 9, 30.0, *[5.0, 0.0, 3.0] * 40, *[0.0] * 30]
OWN_NUMBERS = (
    *("--wet-mm", "20", "--within-days", "3", "--reject-dry-days", "8"),
    *("--look-ahead-days", "30", "--wet-day-mm", "1.0"),
)


@pytest.fixture
def file(tmp_path):
    """Write a file of daily rain; answers its path."""

    def written(text: str):
        path = tmp_path / "rain.csv"
        path.write_text(text, "utf-8")
        return str(path)

    return written


@pytest.fixture
def season(file):
    days = [f"{NOVEMBER + timedelta(n)},{mm}" for n, mm in enumerate(SEASON)]
    return file("\n".join(["date,mm", *days]) + "\n")


@pytest.fixture
def run(capsys):
    def run_one(*arguments: str) -> str:
        main(["onset", *arguments])
        return capsys.readouterr().out

    return run_one


@pytest.fixture
def refusal(capsys):
    """Run the door on bad input; answers its one line."""

    def refused(*arguments: str) -> str:
        with pytest.raises(SystemExit) as stopped:
            main(["onset", *arguments])
        printed = capsys.readouterr()
        assert (stopped.value.code, printed.out) == (2, "")
        assert printed.err.count("\n") == 1
        return printed.err

    return refused


@pytest.mark.parametrize(
    "asked",
    [
        pytest.param(("--criterion", "programme"), id="by name"),
        pytest.param(OWN_NUMBERS, id="by own numbers"),
        pytest.param((), id="the programme's if nothing is said"),
    ],
)
def test_the_answer_as_json(run, season, asked):
    answer = json.loads(run(season, "--search-from", "2026-11-01", *asked, "--json"))
    assert answer == {
        "onset": "2026-11-11",
        "status": "confirmed",
        "false_starts": ["2026-11-01"],
        "cessation": "2027-03-12",
        "cessation_status": "confirmed",
        "dry_runs": [{"from": "2026-11-02", "days": 9}],
        "undecided": [],
        "look_ahead_until": "2026-12-11",
    }


def test_the_answer_for_people(run, season):
    assert run(season, "--search-from", "2026-11-01").splitlines() == [
        "Onset 2026-11-11, confirmed.",
        "False start 2026-11-01: 9 dry days from 2026-11-02.",
        "Cessation 2027-03-12, confirmed.",
    ]


def test_an_onset_whose_look_ahead_is_not_over_says_until_when(run, season):
    printed = run(season, "--search-from", "2026-11-01", "--known-until", "2026-11-20")
    assert printed.startswith(
        "Onset 2026-11-11, provisional: the look-ahead runs until 2026-12-11.\n"
    )


def test_own_numbers_differ_from_the_programmes_where_given(run, season):
    printed = run(season, "--search-from", "2026-11-01", "--reject-dry-days", "10", "--json")
    assert json.loads(printed)["onset"] == "2026-11-01"


def test_the_search_begins_on_the_criterions_usual_day(run, season):
    asked = ("--criterion", "zimbabwe-manual", "--json")
    assert run(season, *asked) == run(season, "--search-from", "2026-11-10", *asked)


def test_a_usual_day_before_the_file_begins_is_next_years(run, file):
    path = file("date,mm\n2027-01-01,0\n2027-11-09,30\n2027-11-10,0\n2027-11-11,30\n")
    answer = json.loads(run(path, "--criterion", "zimbabwe-manual", "--json"))
    assert answer["onset"] == "2027-11-11"


def test_the_search_ends_where_asked(run, season):
    printed = run(season, "--search-from", "2026-11-01", "--search-until", "2026-11-10")
    assert printed.splitlines()[0] == "No onset yet."


def test_the_end_is_looked_for_from_where_asked(run, season):
    asked = ("--search-from", "2026-11-01", "--cessation-from", "2027-03-20", "--json")
    assert json.loads(run(season, *asked))["cessation"] == "2027-03-20"


def test_missing_days_and_empty_amounts_are_unknown(run, file):
    path = file("\ufeffDate, mm ,gauge\n2026-11-03,25,a\n2026-11-01,0,a\n2026-11-02,,a\n")
    answer = json.loads(run(path, "--search-from", "2026-11-01", "--json"))
    assert (answer["onset"], answer["status"]) == ("2026-11-03", "provisional")
    assert answer["undecided"] == ["2026-11-02"]


def test_undecided_days_are_told_to_people(run, file):
    path = file("date,mm\n2026-11-01,0\n2026-11-03,0\n")
    assert run(path, "--search-from", "2026-11-01").splitlines() == [
        "No onset yet.",
        "1 day from 2026-11-02 on may have been the onset: amounts are missing.",
    ]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        pytest.param("", "columns date and mm", id="an empty file"),
        pytest.param("date;mm\n2026-11-01;3\n", "columns date and mm", id="semicolons"),
        pytest.param("date,mm\n", "one row a day", id="a heading alone"),
        pytest.param("date,mm\n1/11/2026,3\n", "line 2, date is '1/11/2026'", id="another date"),
        pytest.param("date,mm\n2026-11-01,-3\n", "line 2, mm is '-3'", id="less than nothing"),
        pytest.param("date,mm\n2026-11-01,nan\n", "line 2, mm is 'nan'", id="no number"),
        pytest.param("date,mm\n2026-11-01,dry\n", "line 2, mm is 'dry'", id="a word"),
        pytest.param("date,mm\n2026-11-01,2500\n", "0 to 2,000 mm", id="more than can fall"),
        pytest.param("date,mm\n2026-11-01,12,5\n", "line 2 is ['5']", id="a decimal comma"),
        pytest.param("date,mm\n2026-11-01,1\n2026-11-01,2\n", "line 3, date", id="a day twice"),
    ],
)
def test_a_file_that_cannot_be_used_is_refused_with_its_line(refusal, file, text, said):
    assert said in refusal(file(text), "--search-from", "2026-11-01")


def test_a_file_that_is_no_text_is_refused(refusal, tmp_path):
    path = tmp_path / "rain.csv"
    path.write_bytes(b"date,mm\n2026-11-01,\xff\n")
    assert "UTF-8" in refusal(str(path), "--search-from", "2026-11-01")


def test_a_file_that_is_not_there_is_refused(refusal, tmp_path):
    missing = str(tmp_path / "nothing.csv")
    assert "a file that can be read" in refusal(missing, "--search-from", "2026-11-01")


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        pytest.param(("--search-from", "1/11/2026"), "YYYY-MM-DD", id="another date"),
        pytest.param((), "--search-from", id="no first day"),
        pytest.param(
            ("--search-from", "2026-11-01", "--criterion", "tuesday"),
            "sivakumar",
            id="no such name",
        ),
        pytest.param(
            ("--search-from", "2026-11-01", "--criterion", "met", "--wet-mm", "20"),
            "not --wet-mm",
            id="a name and own numbers",
        ),
        pytest.param(("--search-from", "2026-11-01", "--wet-mm", "0"), "wet-mm", id="no rain"),
        pytest.param(("--search-from", "2026-11-01", "--wet-mm", "inf"), "wet-mm", id="no end"),
        pytest.param(
            ("--search-from", "2026-11-01", "--reject-dry-days", "40"),
            "reject_dry_days is 40",
            id="a run longer than the look-ahead",
        ),
    ],
)
def test_a_question_that_cannot_be_answered_is_refused(refusal, season, asked, said):
    assert said in refusal(season, *asked)
