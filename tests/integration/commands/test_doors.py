"""Every door: its answer for people, its JSON, its lines, and what it says of bad input."""

import io
import json
import re
from pathlib import Path

import pytest

from reminder_service.commands import main
from reminder_service.rules.shipped import rulebook_folder


@pytest.fixture(autouse=True)
def an_empty_database(tmp_path, monkeypatch):
    monkeypatch.setenv("REMINDER_DATABASE_URL", f"sqlite:///{tmp_path / 'doors.sqlite3'}")
    monkeypatch.delenv("REMINDER_GATEWAY", raising=False)


@pytest.fixture
def run(capsys):
    """Run one command; answers what it printed."""

    def run_one(*arguments: str) -> str:
        main(list(arguments))
        return capsys.readouterr().out

    return run_one


@pytest.fixture
def run_json(run):
    return lambda *arguments: json.loads(run(*arguments, "--json"))


@pytest.fixture
def run_lines(run, monkeypatch):
    """Give a door one JSON request a line; answers the list of its answers."""

    def run_many(door: str, *lines: str) -> list[dict]:
        monkeypatch.setattr("sys.stdin", io.StringIO("\n".join(lines) + "\n"))
        return [json.loads(line) for line in run(door, "--lines").splitlines()]

    return run_many


@pytest.fixture
def refusal(capsys):
    """Run a command that must be refused; answers its one line."""

    def refused(*arguments: str) -> str:
        with pytest.raises(SystemExit) as stopped:
            main(list(arguments))
        printed = capsys.readouterr()
        assert stopped.value.code == 2
        assert printed.out == ""
        assert printed.err.count("\n") == 1
        return printed.err

    return refused


FACTS = ("--fact", "first-rain=2026-11-12", "--fact", "germinated=2026-11-21")


def task(answer: dict, name: str, number: int = 1) -> dict:
    return next(t for t in answer["tasks"] if (t["task"], t["number"]) == (name, number))


def test_calendar_answers_common_practice(run_json):
    """Check values: common practice, no source."""
    answer = run_json("calendar", *FACTS, "--top-dressing", "both")
    thin = task(answer, "thin")
    assert (thin["opens"], thin["closes"], thin["basis"]) == (
        "2026-12-05",
        "2026-12-12",
        "reported",
    )
    assert task(answer, "top-dress-first")["due"] == "2026-12-12"
    assert task(answer, "borer")["opens"] == "2026-12-10"
    assert task(answer, "manure-tea")["due"] == "2026-12-12"
    assert task(answer, "manure-brew")["due"] == "2026-11-21"
    assert task(answer, "top-dress-tassel")["basis"] == "estimated"


def test_calendar_names_every_task_of_the_rulebook(run_json):
    answer = run_json("calendar", *FACTS, "--top-dressing", "both")
    assert {each["task"] for each in answer["tasks"]} == {
        "stand-check", "thin", "top-dress-first", "top-dress-tassel", "manure-brew", "manure-tea",
        "borer", "weed", "stalks-down", "keep-clean", "rotate",
    }  # fmt: skip
    assert all(each["because"].endswith(".") for each in answer["tasks"])


def test_calendar_keeps_tea_out_of_the_hygiene_stop(run_json):
    answer = run_json(
        "calendar", *FACTS, "--fact", "harvested=2027-03-20", "--top-dressing", "manure-tea"
    )
    teas = [each for each in answer["tasks"] if each["task"] == "manure-tea"]
    assert [each["due"] for each in teas] == ["2026-12-12"]


def test_calendar_opens_the_borer_window_with_thinning_when_germination_is_late(run_json):
    answer = run_json(
        "calendar", "--fact", "first-rain=2026-11-12", "--fact", "germinated=2026-12-18"
    )
    assert task(answer, "borer")["opens"] == "2027-01-01"


def test_calendar_for_people_says_why(run):
    printed = run("calendar", *FACTS)
    assert "14 days after germination on Sat 21 Nov 2026 (reported)" in printed


def test_calendar_without_facts_says_what_to_give(run):
    assert "--fact germinated=" in run("calendar")


def test_calendar_lines_answer_in_order_and_survive_a_bad_one(run_lines):
    good = json.dumps({"facts": {"germinated": "2026-11-21"}, "top-dressing": "manure-tea"})
    answers = run_lines("calendar", good, "no json", '{"facts": {"moon": "2026-11-21"}}', good)
    assert ["tasks" in answer for answer in answers] == [True, False, False, True]
    assert "moon" in answers[2]["error"]


@pytest.mark.parametrize(
    "facts",
    [
        pytest.param({"facts": {"germinated": "2026-11-21"}}, id="by name"),
        pytest.param({"fact": ["germinated=2026-11-21"]}, id="as pairs"),
    ],
)
def test_calendar_lines_take_facts_in_either_form(run_lines, facts):
    (answer,) = run_lines("calendar", json.dumps(facts))
    assert task(answer, "thin")["opens"] == "2026-12-05"


@pytest.mark.parametrize(
    "arguments, named",
    [
        pytest.param(["--fact", "germinated"], "germinated", id="no date"),
        pytest.param(["--fact", "germinated=31/02"], "facts.germinated", id="no such date"),
        pytest.param(["--fact", "moon=2026-11-21"], "moon", id="no such fact"),
        pytest.param(["--top-dressing", "gold"], "gold", id="no such choice"),
        pytest.param(["--rulebook", "nowhere.toml"], "nowhere.toml", id="no such rulebook"),
        pytest.param(["--colour", "red"], "--colour", id="no such option"),
    ],
)
def test_calendar_refuses_in_one_line(refusal, arguments, named):
    assert named in refusal("calendar", *arguments)


@pytest.mark.parametrize(
    "counts, leave, short",
    [
        pytest.param("1 3 2 2", [1, 3, 2, 2], 0, id="the spare stands beside the lone plant"),
        pytest.param("3 0 4", [3, 0, 3], 0, id="one on both sides of an empty station"),
        pytest.param("1 2 2 2", [1, 2, 2, 2], 1, id="nothing to spare"),
    ],
)
def test_stand_answers_common_practice(run_json, counts, leave, short):
    """Check values: common practice, no source."""
    answer = run_json("stand", *counts.split())
    assert (answer["leave"], answer["short"]) == (leave, short)
    assert answer["mean"] == pytest.approx(sum(leave) / len(leave), abs=0.001)


def test_stand_lines_take_counts(run_lines):
    answers = run_lines("stand", '{"counts": [3, 0, 4]}', '{"counts": [-1]}')
    assert answers[0]["leave"] == [3, 0, 3]
    assert "counts" in answers[1]["error"]


@pytest.mark.parametrize("counts", [[], ["two"], ["-1"], ["99"]], ids=str)
def test_stand_refuses_in_one_line(refusal, counts):
    assert "count" in refusal("stand", "--", *counts)


def test_segments_counts(run_json, run):
    assert run_json("segments", "Thin {plot}") == {
        "encoding": "gsm-7", "units": 13, "segments": 1,
    }  # fmt: skip
    assert run_json("segments", "ŵ" * 71)["segments"] == 2
    assert "1 segment" in run("segments", "Thin")


def test_segments_lines_take_a_body(run_lines):
    assert run_lines("segments", '{"body": "x"}', "{}")[0]["units"] == 1


def test_dressing_answers_the_cup(run_json):
    """5 ml of AN at 0.90 g/ml on 75 x 60 cm: 34.5 kg N/ha, see agronomy's own checks."""
    answer = run_json("dressing", "--stations", "5600", "--cup-ml", "5", "--product", "an")
    assert answer["grams_per_station"] == pytest.approx(4.5)
    assert answer["kg"] == pytest.approx(25.2)
    assert answer["bags_50kg"] == 1
    assert answer["n_kg_per_ha"] == pytest.approx(34.5, abs=0.1)


def test_dressing_answers_the_cup_for_a_wanted_rate(run_json, run):
    asked = ("dressing", "--stations", "5600", "--product", "an", "--target-n-kg-per-ha", "69")
    answer = run_json(*asked, "--doses", "2")
    assert answer["cup_ml"] == pytest.approx(5, abs=0.01)
    assert answer["n_kg_per_ha"] == pytest.approx(69)
    by_cup = run_json("dressing", "--stations", "5600", "--cup-ml", "5", "--product", "an")
    assert set(answer) - set(by_cup) == {"cup_ml"}
    assert run(*asked).startswith("A level cup of 10.0 ml:")


def test_dressing_for_people_carries_the_caution(run):
    printed = run("dressing", "--stations", "5600", "--cup-ml", "5", "--product", "urea")
    assert "label" in printed and "adviser" in printed


@pytest.mark.parametrize(
    "arguments, named",
    [
        pytest.param([], "stations", id="nothing given"),
        pytest.param(["--stations", "0"], "stations", id="no stations"),
        pytest.param(["--stations", "9", "--cup-ml", "5", "--product", "gold"], "gold", id="gold"),
        pytest.param(["--stations", "9", "--product", "an"], "cup-ml or target", id="no cup"),
        pytest.param(
            ["--stations", "9", "--product", "an", "--cup-ml", "5", "--target-n-kg-per-ha", "9"],
            "one of them",
            id="cup and rate",
        ),
        pytest.param(
            ["--stations", "9", "--product", "an", "--target-n-kg-per-ha", "900"],
            "n_kg_per_ha",
            id="a rate for no maize",
        ),
    ],
)
def test_dressing_refuses_in_one_line(refusal, arguments, named):
    assert named in refusal("dressing", *arguments)


def test_read_answers_what_was_said(run_json):
    answer = run_json("read", "RAIN 12/11 GERM 21/11", "--on", "2026-11-25")
    assert [(said["kind"], said["on"]) for said in answer["reports"]] == [
        ("first-rain", "2026-11-12"),
        ("germinated", "2026-11-21"),
    ]


def test_read_asks_back_and_says_unread(run_json):
    assert [said["kind"] for said in run_json("read", "RAIN 12", "--on", "2026-11-25")["ask"]] == [
        "first-rain",
        "rain",
    ]
    assert run_json("read", "good day", "--on", "2026-11-25")["unread"] is True
    assert run_json("read", "RAIN 31/02", "--on", "2026-11-25")["unread"] is True


def test_read_refuses_a_language_it_has_not(refusal):
    assert "language" in refusal("read", "RAIN", "--on", "2026-11-25", "--language", "xx")


def test_text_and_queue_work_on_one_database(run, run_json):
    run("demo", "--load")
    answer = run_json("text", "--from", "+447700900001", "NEXT")
    assert answer["understood"] == [{"kind": "next", "on": None}]
    assert answer["reply"].startswith("Next on plot 1.")
    assert (answer["segments"], answer["changes"]) == (1, [])
    queued = run_json("queue", "--state", "planned", "--ward", "Olmara")["notices"]
    assert queued and {notice["ward"] for notice in queued} == {"Olmara"}
    assert {notice["state"] for notice in queued} == {"planned"}
    day = queued[0]["day"]
    on_day = run_json("queue", "--day", day)["notices"]
    assert on_day and {notice["day"] for notice in on_day} == {day}


def test_text_says_when_it_was_sent(run_json):
    answer = run_json(
        "text", "--from", "+447700900999", "RAIN today", "--at", "2026-11-12T18:00:00+02:00"
    )
    assert answer["understood"][0]["on"] == "2026-11-12"
    assert "not on our list" in answer["reply"]


def test_text_lines_answer_one_by_one(run_lines):
    request = json.dumps({"from": "+447700900999", "body": "HELP"})
    answers = run_lines("text", request, '{"from": "nobody", "body": "HELP"}')
    assert "not on our list" in answers[0]["reply"]
    assert "nobody" in answers[1]["error"]


@pytest.mark.parametrize(
    "arguments, named",
    [
        pytest.param(["text", "RAIN"], "from", id="no sender"),
        pytest.param(["text", "--from", "me", "RAIN"], "me", id="a sender that is no phone"),
        pytest.param(["text", "--from", "+447700900001", "RAIN", "--at", "noon"], "at", id="time"),
        pytest.param(["queue", "--state", "lost"], "state", id="no such state"),
        pytest.param(["queue", "--ward", "Nowhere"], "Nowhere", id="no such ward"),
        pytest.param(["queue", "--day", "12/11"], "day", id="no such day"),
        pytest.param(["nothing"], "nothing", id="no such command"),
    ],
)
def test_programme_doors_refuse_in_one_line(refusal, arguments, named):
    assert named in refusal(*arguments)


def test_an_empty_queue_says_so(run):
    assert run("queue") == "No notices.\n"


def test_a_bad_setting_is_named(refusal, monkeypatch):
    monkeypatch.setenv("REMINDER_PORT", "eight")
    assert "REMINDER_PORT" in refusal("queue")


def test_check_rules_passes_the_shipped_rulebook(run, run_json):
    shipped = str(rulebook_folder() / "maize-hand-hoe.toml")
    assert run("check-rules", shipped).startswith("No faults.")
    assert run_json("check-rules", shipped)["errors"] == []


def test_check_rules_reports_every_fault_with_its_line(capsys, tmp_path: Path):
    text = (rulebook_folder() / "maize-hand-hoe.toml").read_text("utf-8")
    broken = re.sub(r"^version = \d+", 'version = "two"', text, flags=re.M).replace(
        'name = "thin"', 'name = "Thin It"'
    )
    file = tmp_path / "broken.toml"
    file.write_text(broken, "utf-8")
    with pytest.raises(SystemExit) as stopped:
        main(["check-rules", str(file), "--json"])
    errors = json.loads(capsys.readouterr().out)["errors"]
    assert stopped.value.code == 2
    assert len(errors) >= 2
    for error in errors:
        assert set(error) == {"line", "path", "expected", "got"}
    lines = broken.splitlines()
    assert any('version = "two"' in lines[error["line"] - 1] for error in errors)


def test_check_rules_refuses_a_file_that_is_not_there(refusal):
    assert "gone.toml" in refusal("check-rules", "gone.toml")


def test_a_taken_port_is_refused_before_anything_is_made(refusal, monkeypatch, tmp_path):
    import socket

    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        monkeypatch.setenv("REMINDER_PORT", str(other.getsockname()[1]))
        assert "choose another" in refusal("demo")
    assert not (tmp_path / "doors.sqlite3").exists()


def test_demo_once_prints_the_season_and_leaves_nothing_behind(run_json, tmp_path):
    answer = run_json("demo", "--once")
    out = [text["body"] for text in answer["texts"] if text["way"] == "out"]
    assert any("thin by" in body for body in out)
    assert any("look for stalk borer" in body for body in out)
    assert not (tmp_path / "doors.sqlite3").exists()


def test_a_person_is_added_once_with_a_decent_password(run, refusal):
    added = ("add-person", "lead", "--name", "Lead", "--role", "programme lead")
    assert "too short" in refusal(*added, "--password", "short")
    assert "can log in" in run(*added, "--password", "stations of maize")
    assert "lead" in refusal(*added, "--password", "stations of maize")
