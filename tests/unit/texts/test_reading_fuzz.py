"""No body whatever makes reading raise or takes long: thousands of them, a million at night."""

import os
import random
import time
from datetime import date, timedelta
from itertools import islice

import pytest
from fuzzed_texts import LONGEST_INBOUND, fuzzed_bodies
from texts_cast import SENT_ON, TASKS

from reminder_service.texts.reading import decode
from reminder_service.texts.reading_in import read_in
from reminder_service.texts.reading_types import Reading
from reminder_service.texts.words import shipped_languages

NIGHTLY = os.environ.get("HYPOTHESIS_PROFILE") == "nightly"

SHARES = 10
"""Tests that the bodies are shared among, so that two processes can work on them."""

BODIES = 1_000_000 if NIGHTLY else 3_000

MOST_CPU_S = 2.0
"""Processor time that one body may take: twenty times the most that was measured."""


def answers(reading: Reading) -> int:
    """How many of the four answers are given."""
    return sum(map(bool, (reading.said, reading.ask, reading.bad_date, reading.unread)))


@pytest.mark.timeout(3600)
@pytest.mark.parametrize("seed", range(SHARES))
def test_any_body_gets_exactly_one_answer_in_time(seed: int) -> None:
    rng = random.Random(seed)
    slowest_s = 0.0
    for body in islice(fuzzed_bodies(seed), BODIES // SHARES):
        on = date(2001, 1, 1) + timedelta(days=rng.randrange(35_000))
        languages = rng.sample([*shipped_languages(), "xx"], rng.randint(0, 2))
        started = time.process_time()
        text = decode(body)
        if text is not None:
            reading, language = read_in(text, on, languages, TASKS, rng.random() < 0.2)
            assert answers(reading) == 1 and language in shipped_languages(), body
            days = [said.on for said in (*reading.said, *reading.ask) if said.on is not None]
            assert all(2000 <= day.year < 2100 for day in days), body
        slowest_s = max(slowest_s, time.process_time() - started)
        assert slowest_s < MOST_CPU_S, body
    print(f"{BODIES // SHARES} bodies, the slowest took {1000 * slowest_s:.0f} ms")


def test_the_bodies_are_of_every_sort() -> None:
    bodies = list(islice(fuzzed_bodies(1), 5_000))
    texts = [text for body in bodies if (text := decode(body)) is not None]
    readings = [read_in(text, SENT_ON, ["en"], TASKS)[0] for text in texts]
    sorts = {
        "no text": len(bodies) - len(texts),
        "long": sum(len(body) > LONGEST_INBOUND * 0.9 for body in bodies),
        "read": sum(bool(reading.said) for reading in readings),
        "asked back": sum(bool(reading.ask) for reading in readings),
        "no date": sum(reading.bad_date is not None for reading in readings),
        "unread": sum(reading.unread for reading in readings),
    }
    assert all(sorts.values()), sorts
    assert max(map(len, bodies)) <= LONGEST_INBOUND


def test_one_seed_makes_the_same_bodies() -> None:
    assert list(islice(fuzzed_bodies(7), 200)) == list(islice(fuzzed_bodies(7), 200))
