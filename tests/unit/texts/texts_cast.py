"""What the tests of this room share: the day of sending, a rulebook's words, the corpus."""

import tomllib
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

from reminder_service.kinds import Kind
from reminder_service.texts.reading import read
from reminder_service.texts.reading_types import Reading, Said
from reminder_service.texts.words import word_list

SENT_ON = date(2026, 11, 25)

TASKS = {
    "stand-check": ["stand", "stand check", "count"],
    "thin": ["thin", "thinning", "thinned"],
    "top-dress-first": ["dress", "first dressing", "top dress"],
    "top-dress-tassel": ["dress", "second dressing", "tassel dressing"],
    "manure-brew": ["brew", "brewing"],
    "manure-tea": ["tea", "manure tea"],
    "borer": ["borer", "granules"],
    "weed": ["weed", "weeding", "weeded", "hoeing"],
    "stalks-down": ["stalks", "stalks down"],
    "keep-clean": ["clean", "keep clean"],
    "rotate": ["rotate", "rotation"],
}


def read_en(body: str, on: date = SENT_ON, *, gauge_keeper: bool = False) -> Reading:
    return read(body, on, word_list("en"), TASKS, gauge_keeper)


@dataclass(frozen=True)
class Example:
    """One text of the corpus."""

    body: str
    on: date
    keeper: bool
    reads: tuple[Said, ...]
    asks: tuple[Said, ...]
    bad: str | None
    unread: bool
    meant: tuple[Said, ...]


def parsed_said(line: str, sent_on: date) -> Said:
    kind, day, *rest = line.split()
    said = Said(Kind(kind))
    if day == "sent":
        said = replace(said, on=sent_on)
    elif day != "-":
        said = replace(said, on=date.fromisoformat(day), on_given=True)
    return replace(said, **dict(_field(*part.split("=")) for part in rest))


def _field(name: str, value: str) -> tuple[str, Any]:
    if name == "plots":
        return name, tuple(value.split(","))
    if name == "counts":
        return name, tuple(map(int, value.split(",")))
    if name == "mm":
        return name, float(value)
    return name, int(value) if name in ("number", "damaged") else value


def corpus() -> list[Example]:
    path = Path(__file__).with_name("corpus_en.toml")
    return [_example(entry) for entry in tomllib.loads(path.read_text("utf-8"))["texts"]]


def _example(entry: dict[str, Any]) -> Example:
    on = entry.get("on", SENT_ON)
    reads, asks, meant = (
        tuple(parsed_said(line, on) for line in entry.get(key, ()))
        for key in ("reads", "asks", "meant")
    )
    keeper, unread = entry.get("keeper", False), entry.get("unread", False)
    return Example(entry["body"], on, keeper, reads, asks, entry.get("bad"), unread, meant)
