"""The corpora: each text is read as it must be, and no day is ever read wrongly."""

from dataclasses import replace

import pytest
from corpus_figures import corpus_figures, table
from texts_cast import Example, corpus, languages_with_a_corpus, read_as

from reminder_service.texts.reading_types import Reading
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


@pytest.mark.parametrize("language", CORPORA)
def test_a_farmers_own_language_is_never_read_wrongly_and_mostly_read(language: str) -> None:
    found = corpus_figures(language, language)
    assert (found.wrong_days, found.precision) == ((), 1.0)
    assert found.recall >= 0.95


@pytest.mark.parametrize("farmers", CORPORA)
@pytest.mark.parametrize("written_in", CORPORA)
def test_no_wrong_day_is_read_under_any_farmers_language(written_in: str, farmers: str) -> None:
    found = corpus_figures(written_in, farmers)
    assert (found.wrong_days, found.precision) == ((), 1.0)


def test_a_wrong_day_would_be_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    right = next(each for each in CORPORA["en"] if each.body == "RAIN 12 NOV")
    monkeypatch.setattr("corpus_figures.corpus", lambda language: [replace(right, reads=())])
    assert corpus_figures("en", "en").wrong_days == ("RAIN 12 NOV",)


def test_the_table_has_a_line_for_every_pair_of_languages() -> None:
    assert len(table().splitlines()) == 1 + len(CORPORA) ** 2
