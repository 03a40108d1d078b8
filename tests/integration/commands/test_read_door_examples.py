"""The door `read` understands every command that a sent text shows, in its language."""

import io
import json
import re

import pytest
from shown_commands import commands_in

from reminder_service.commands import main
from reminder_service.rules.shipped import shipped_names, shipped_rulebook
from reminder_service.texts.catalogues import SOURCE_LANGUAGE, catalogue_languages
from reminder_service.texts.samples import PLOT
from reminder_service.work import wordings

MAIZE = "maize-hand-hoe"
LANGUAGES = (SOURCE_LANGUAGE, *catalogue_languages())

CODES = {language.upper() for language in LANGUAGES}
"""What LANGUAGE is followed by; the texts list them by themselves too."""

MOST_ROUNDS = 9
"""A higher number beside a task could be a day; no task of a shipped rulebook has so many."""


@pytest.fixture
def read_lines(monkeypatch, capsys):
    """Runs the door on one text a line and answers what it printed for each."""

    def run(bodies: list[str], language: str, rulebook: str) -> list[dict[str, object]]:
        given = {"on": "2026-11-25", "language": language, "rulebook": rulebook}
        asked = [{"body": body, **given} for body in bodies]
        lines = "\n".join(map(json.dumps, asked)).encode()
        monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(lines), encoding="utf-8"))
        main(["read", "--lines"])
        return [json.loads(line) for line in capsys.readouterr().out.splitlines()]

    return run


def shown(language: str, rulebook: str) -> list[str]:
    """Every command in a text as it is sent, each once.

    The examples that replies show are of maize, so other crops' own texts alone are looked at.
    """
    texts_of = wordings.wordings if rulebook == MAIZE else wordings.rulebook_wordings
    sent = texts_of(shipped_rulebook(rulebook), language)
    bodies = [each.body.replace(PLOT, "3") for each in sent]
    return list(dict.fromkeys(found for body in bodies for found in commands_in(body)))


@pytest.mark.parametrize("rulebook", shipped_names())
@pytest.mark.parametrize("language", LANGUAGES)
def test_every_command_in_every_sent_text_is_understood(
    language, rulebook, read_lines, monkeypatch
):
    monkeypatch.setattr(wordings, "LONGEST_NUMBER", MOST_ROUNDS)
    commands = [each for each in shown(language, rulebook) if each not in CODES]
    assert len(commands) > (30 if rulebook == MAIZE else 3)
    # COUNT and BORER stand without the numbers that the farmer is to add.
    alone, counted = (
        read_lines([f"{c}{more}" for c in commands], language, rulebook) for more in ("", " 2")
    )
    for command, answer, with_number in zip(commands, alone, counted, strict=True):
        assert "reports" in answer or "reports" in with_number, (command, answer)


@pytest.mark.parametrize("name", shipped_names())
def test_no_task_has_more_rounds_than_a_command_may_name(name):
    told = {
        task.name: task.repeat.count
        for task in shipped_rulebook(name).tasks
        if any(re.search(r"[A-Z] \{number\}", text) for text in task.wordings.values())
    }
    assert set(told) >= {"weed"} and all(1 <= count <= MOST_ROUNDS for count in told.values())
