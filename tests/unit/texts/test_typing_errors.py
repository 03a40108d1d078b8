"""One wrong key anywhere in a text of the corpora never gives a day that nobody meant."""

import os
import random
from collections.abc import Iterator

import pytest
from texts_cast import TASKS, Example, corpus, languages_with_a_corpus

from reminder_service.kinds import REPORTS, Kind
from reminder_service.texts.reading_in import read_in
from reminder_service.texts.reading_types import Said
from reminder_service.texts.terms import plain
from reminder_service.texts.words import WORD, folded, word_list

NIGHTLY = os.environ.get("HYPOTHESIS_PROFILE") == "nightly"

ERRORS = 300 if NIGHTLY else 4
"""Wrong keys tried in each text."""

KEYS = "abcdefghijklmnopqrstuvwxyz"


def meant(example: Example) -> tuple[Said, ...]:
    return example.meant or example.reads or example.asks


def mistyped(body: str, rng: random.Random) -> str:
    """Text with one letter left out, changed, added, or swapped with the next one of its word."""
    at = rng.choice([n for n, char in enumerate(body) if char.isalpha()])
    kept, rest = body[:at], body[at + 1 :]
    key = rng.choice(KEYS)
    swapped = kept + rest[:1] + body[at] + rest[1:] if rest[:1].isalpha() else kept + rest
    return rng.choice((kept + rest, kept + key + rest, kept + key + body[at:], swapped))


def words_of(body: str) -> set[str]:
    return set(WORD.findall(folded(plain(body))))


def errors(language: str) -> Iterator[tuple[Example, str]]:
    """Reports of a corpus, each with one wrong key that makes a word which is not listed."""
    rng = random.Random(language)
    listed = {word for phrase in word_list(language).phrases for word in phrase}
    for example in corpus(language):
        reports = [said for said in meant(example) if said.kind in REPORTS]
        if len(reports) == len(meant(example)) > 0 and any(map(str.isalpha, example.body)):
            for _ in range(ERRORS):
                body = mistyped(example.body, rng)
                if words_of(body) - words_of(example.body) - listed:
                    yield example, body


def is_taken(said: Said, wanted: tuple[Said, ...]) -> bool:
    """Whether the service takes it: a task done is named, and so are plots that the sender has."""
    plots = {plot for each in wanted for plot in each.plots}
    named = said.kind is not Kind.DONE or said.task is not None
    return said.kind in REPORTS and named and set(said.plots) <= plots


@pytest.mark.timeout(3600)
@pytest.mark.parametrize("language", languages_with_a_corpus())
def test_one_wrong_key_gives_no_other_day(language: str) -> None:
    tried = taken = 0
    for example, body in errors(language):
        found, _ = read_in(body, example.on, [language], TASKS, example.keeper)
        wanted = meant(example)
        for said in found.said:
            if is_taken(said, wanted):
                assert said.on in {each.on for each in wanted}, (example.body, body)
        tried += 1
        taken += bool(found.said)
    print(f"{language}: {taken} of {tried} texts with a wrong key are read, none on another day")
    assert tried > 100 * ERRORS and taken > tried / 4
