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
    return read_as("en", body, on, gauge_keeper=gauge_keeper)


def read_as(language: str, body: str, on: date = SENT_ON, *, gauge_keeper: bool = False) -> Reading:
    return read(body, on, word_list(language), TASKS, gauge_keeper)


@dataclass(frozen=True)
class Example:
    """One text of a corpus."""

    language: str
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
    if name == "whole_ward":
        return name, value == "yes"
    return name, int(value) if name in ("number", "damaged") else value


def languages_with_a_corpus() -> list[str]:
    files = Path(__file__).parent.glob("corpus_*.toml")
    return sorted(file.stem.removeprefix("corpus_") for file in files)


def corpus(language: str) -> list[Example]:
    path = Path(__file__).with_name(f"corpus_{language}.toml")
    entries = tomllib.loads(path.read_text("utf-8"))["texts"]
    return [_example(entry, language) for entry in entries]


def _example(entry: dict[str, Any], language: str) -> Example:
    on = entry.get("on", SENT_ON)
    reads, asks, meant = (
        tuple(parsed_said(line, on) for line in entry.get(key, ()))
        for key in ("reads", "asks", "meant")
    )
    keeper, unread = entry.get("keeper", False), entry.get("unread", False)
    return Example(
        language, entry["body"], on, keeper, reads, asks, entry.get("bad"), unread, meant
    )
