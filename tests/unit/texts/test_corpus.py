"""The corpora: each text is read as it must be, and no day is ever read wrongly."""

from collections.abc import Callable

import pytest
from texts_cast import Example, corpus, languages_with_a_corpus, read_as

from reminder_service.texts.reading_types import Reading, Said
from reminder_service.texts.words import shipped_languages

CORPORA = {language: corpus(language) for language in languages_with_a_corpus()}
TEXTS = [example for examples in CORPORA.values() for example in examples]

FEWEST_TEXTS, FEWEST_IN_ALL = 150, 600
"""Texts that each language's corpus must hold, and all of them together."""


def named(example: Example) -> str:
    return f"{example.language} {example.body!r} {example.on:%d/%m} {example.keeper}"


@pytest.mark.parametrize("example", TEXTS, ids=named)
def test_read_as_expected(example: Example) -> None:
    reading = read_as(example.language, example.body, example.on, gauge_keeper=example.keeper)
    if example.bad is not None:
        assert reading.bad_date is not None, reading
        assert example.bad in ("", reading.bad_date.written)
    else:
        assert reading == Reading(example.reads, example.asks, None, example.unread)


def test_every_language_has_a_corpus() -> None:
    assert set(CORPORA) == set(shipped_languages())
    assert len(TEXTS) >= FEWEST_IN_ALL


@pytest.mark.parametrize("examples", CORPORA.values(), ids=CORPORA.keys())
def test_a_corpus_is_large_and_has_no_text_twice(examples: list[Example]) -> None:
    keys = [(example.body, example.on, example.keeper) for example in examples]
    assert len(keys) == len(set(keys)) >= FEWEST_TEXTS


@pytest.mark.parametrize("examples", CORPORA.values(), ids=CORPORA.keys())
def test_no_wrong_day_is_read_and_most_reports_are_read(
    examples: list[Example], record_property: Callable[[str, object], None]
) -> None:
    meant: list[Said] = []
    read: list[Said] = []
    right: list[Said] = []
    wrong_days = 0
    for example in examples:
        wanted = example.meant or example.reads
        found = read_as(example.language, example.body, example.on, gauge_keeper=example.keeper)
        meant += wanted
        read += found.said
        right += [said for said in found.said if said in wanted]
        days = {said.on for said in wanted}
        wrong_days += sum(said.on not in days for said in found.said)
    precision, recall = len(right) / len(read), len(right) / len(meant)
    record_property("precision", f"{precision:.3f}")
    record_property("recall", f"{recall:.3f}")
    assert (wrong_days, precision) == (0, 1.0)
    assert recall >= 0.95
