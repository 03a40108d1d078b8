"""The corpus of English texts: each is read as it must be, and no day is ever read wrongly."""

from collections.abc import Callable

import pytest
from texts_cast import Example, corpus, read_en

from reminder_service.texts.reading_types import Reading, Said

CORPUS = corpus()


@pytest.mark.parametrize("example", CORPUS, ids=lambda e: f"{e.body!r} {e.on:%d/%m} {e.keeper}")
def test_read_as_expected(example: Example) -> None:
    reading = read_en(example.body, example.on, gauge_keeper=example.keeper)
    if example.bad is not None:
        assert reading.bad_date is not None, reading
        assert example.bad in ("", reading.bad_date.written)
    else:
        assert reading == Reading(example.reads, example.asks, None, example.unread)


def test_the_corpus_is_large_and_has_no_text_twice() -> None:
    keys = [(example.body, example.on, example.keeper) for example in CORPUS]
    assert len(keys) == len(set(keys)) >= 200


def test_no_wrong_day_is_read_and_most_reports_are_read(
    record_property: Callable[[str, object], None],
) -> None:
    meant: list[Said] = []
    read: list[Said] = []
    right: list[Said] = []
    wrong_days = 0
    for example in CORPUS:
        wanted = example.meant or example.reads
        found = read_en(example.body, example.on, gauge_keeper=example.keeper).said
        meant += wanted
        read += found
        right += [said for said in found if said in wanted]
        days = {said.on for said in wanted}
        wrong_days += sum(said.on not in days for said in found)
    precision, recall = len(right) / len(read), len(right) / len(meant)
    record_property("precision", f"{precision:.3f}")
    record_property("recall", f"{recall:.3f}")
    assert (wrong_days, precision) == (0, 1.0)
    assert recall >= 0.95
