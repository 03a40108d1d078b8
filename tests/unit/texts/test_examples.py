"""Every command that a catalogue's text shows is understood, and asks what the English one asks."""

from functools import cache

import pytest
from shown_commands import commands_in
from texts_cast import SENT_ON

from reminder_service.kinds import Kind
from reminder_service.rules.shipped import shipped_names, shipped_rulebook
from reminder_service.texts.catalogues import catalogue_languages, shipped_catalogue
from reminder_service.texts.reading import read
from reminder_service.texts.reading_types import Said
from reminder_service.texts.words import word_list

TASKS = {task.name: task.words for name in shipped_names() for task in shipped_rulebook(name).tasks}

Asked = set[tuple[Kind, str | None]]


def said_by(language: str, command: str) -> tuple[Said, ...]:
    return read(command, SENT_ON, word_list(language), TASKS).said


def asked(language: str, text: str) -> Asked:
    """What the commands of a text say, and which task they report done."""
    found: Asked = set()
    for command in commands_in(text):
        # COUNT and BORER stand without the numbers that the farmer is to add.
        said = said_by(language, command) or said_by(language, f"{command} 2")
        assert said, f"{command} is not understood in {language}: {text}"
        found |= {(one.kind, one.task if one.kind is Kind.DONE else None) for one in said}
    return found


@cache
def translated(language: str) -> list[tuple[str, str]]:
    """English text and translation of every message that shows a command."""
    pairs = []
    for message in shipped_catalogue(language):
        source = message.id if isinstance(message.id, str) else message.id[-1]
        forms = (message.string,) if isinstance(message.string, str) else message.string or ()
        pairs += [(source, form) for form in forms if form and commands_in(source)]
    return pairs


@pytest.mark.parametrize("language", catalogue_languages())
def test_commands_in_every_text_ask_what_the_english_ones_ask(language: str) -> None:
    for source, text in translated(language):
        assert asked(language, text) == asked("en", source), (source, text)


def test_commands_are_really_found() -> None:
    found = commands_in("Report: RAIN 12 NOV, GERM 21/11. Done? Text DONE WEED {number}")
    assert found == ["RAIN 12 NOV", "GERM 21/11", "DONE WEED 2"]


def test_a_translated_catalogue_shows_every_task_that_can_be_reported() -> None:
    shown = {task for _, text in translated("pt") for _, task in asked("pt", text)}
    assert shown >= set(TASKS) - {"stand-check", "borer"}


@pytest.mark.parametrize("language", ["en", *catalogue_languages()])
def test_the_words_that_a_farmer_is_told_for_tasks_are_understood(language: str) -> None:
    words = word_list(language)
    done = next(" ".join(p) for p, meaning in words.phrases.items() if meaning.name == Kind.DONE)
    for task, spoken in TASKS.items():
        told = (words.tasks.get(task) or spoken)[0]
        found = read(f"{done} {told}", SENT_ON, words, TASKS)
        assert task in {said.task for said in (*found.said, *found.ask)}, told
