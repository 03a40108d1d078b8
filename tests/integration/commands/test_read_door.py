"""The door `read` in every language, line by line, and with whatever bytes."""

import io
import json
import random

import pytest

from reminder_service.commands import main


@pytest.fixture
def answers(monkeypatch, capsys):
    """Runs the door on lines of bytes and answers what it printed."""

    def run(lines: bytes) -> list[dict[str, object]]:
        stdin = io.TextIOWrapper(io.BytesIO(lines), encoding="utf-8", errors="strict")
        monkeypatch.setattr("sys.stdin", stdin)
        main(["read", "--lines"])
        return [json.loads(line) for line in capsys.readouterr().out.splitlines()]

    return run


@pytest.mark.parametrize(
    ("language", "body"),
    [("en", "GERM yesterday"), ("sw", "GERM jana"), ("pt", "GERM ontem"), ("ny", "GERM dzulo")],
)
def test_each_language_knows_its_yesterday(capsys, language, body):
    main(["read", body, "--on", "2026-11-25", "--language", language, "--json"])
    assert json.loads(capsys.readouterr().out) == {
        "reports": [{"kind": "germinated", "on": "2026-11-24"}]
    }


def test_a_report_for_the_ward_says_so(capsys):
    main(["read", "GERM 20/11 FOR ALL", "--on", "2026-11-25", "--json"])
    assert json.loads(capsys.readouterr().out)["reports"] == [
        {"kind": "germinated", "on": "2026-11-20", "whole_ward": True}
    ]


def test_lines_are_answered_in_order_each_in_its_language(answers):
    asked = [("mvua jana", "sw"), ("chuva ontem", "pt"), ("mvula dzulo", "ny"), ("RAIN", "xx")]
    lines = [
        json.dumps({"body": body, "on": "2026-11-25", "language": language})
        for body, language in asked
    ]
    found = answers("\n".join(lines).encode())
    assert [each.get("reports") for each in found] == [
        [{"kind": "first-rain", "on": "2026-11-24"}]
    ] * 3 + [None]
    assert "language" in found[3]["error"]


def test_a_line_that_is_no_utf_8_spoils_only_itself(answers):
    found = answers(
        b'{"body": "RAIN \xff", "on": "2026-11-25"}\n\xfe\n{"body": "NEXT", "on": "2026-11-25"}\n'
    )
    assert found[0] == {"unread": True}
    assert "error" in found[1]
    assert found[2] == {"reports": [{"kind": "next", "on": None}]}


def test_ten_thousand_bytes_of_anything_are_answered(answers):
    rng = random.Random(11)
    bodies = [rng.randbytes(10_000).decode("utf-8", "surrogateescape") for _ in range(20)]
    lines = [json.dumps({"body": body, "on": "2026-11-25"}) for body in bodies]
    assert answers("\n".join(lines).encode()) == [{"unread": True}] * 20
