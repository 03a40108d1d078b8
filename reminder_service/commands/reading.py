"""The door that reads one text without a database."""

from datetime import date

import click

from reminder_service.commands.answers import (
    BadInput,
    Door,
    Request,
    Value,
    json_option,
    lines_option,
)
from reminder_service.commands.rulebooks import rulebook_given
from reminder_service.texts.reading_in import read_in
from reminder_service.texts.reading_types import Reading, Said, said_value
from reminder_service.texts.words import shipped_languages


class ReadRequest(Request):
    """A text, the local day it was sent, the language it is in, and the rulebook of its tasks."""

    body: str
    on: date
    language: str = "en"
    rulebook: str = "maize-hand-hoe"


def _reading(asked: ReadRequest) -> Reading:
    if asked.language not in shipped_languages():
        raise BadInput("language", asked.language, f"one of {', '.join(shipped_languages())}")
    rulebook = rulebook_given(asked.rulebook)
    tasks = {task.name: task.words for task in rulebook.tasks}
    reading, _ = read_in(asked.body, asked.on, [asked.language], tasks)
    return reading


def _reading_value(reading: Reading) -> Value:
    if reading.ask:
        return {"ask": [said_value(said) for said in reading.ask]}
    if reading.bad_date is not None:
        return {"unread": True, "bad_date": reading.bad_date.written}
    if reading.unread:
        return {"unread": True}
    return {"reports": [said_value(said) for said in reading.said]}


def _reading_text(reading: Reading) -> str:
    if reading.bad_date is not None:
        return f"No such day: {reading.bad_date.written}"
    if reading.unread:
        return "Nobody can read this."
    if reading.ask:
        choices = [f"{n}: {_said_text(said)}" for n, said in enumerate(reading.ask, start=1)]
        return "\n".join(["Ambiguous; ask back:", *choices])
    return "\n".join(_said_text(said) for said in reading.said)


def _said_text(said: Said) -> str:
    parts = [f"{name} {got}" for name, got in said_value(said).items() if name != "kind" and got]
    return ", ".join([said.kind.value, *parts])


READ = Door(ReadRequest, _reading, _reading_value, _reading_text)


@click.command("read")
@click.argument("body", required=False)
@click.option("--on", metavar="DATE", help="The local day it was sent.")
@click.option("--language", help="The sender's language; en if not given.")
@click.option("--rulebook", help="Whose tasks it may name; maize-hand-hoe if not given.")
@lines_option
@json_option
def read(body: str | None, lines: bool, as_json: bool, **given: str | None) -> None:
    """What one text is read as."""
    READ.run_lines() if lines else READ.run({"body": body, **given}, as_json)
