"""Words of the pages."""

from datetime import UTC, date, datetime

import pytest

from reminder_service.kinds import Kind, NoticeState
from reminder_service.web.wording import (
    counted,
    day_words,
    day_words_year,
    kind_words,
    local_words,
    state_words,
)


def test_a_day_carries_its_weekday():
    assert day_words(date(2026, 12, 5)) == "Sat 5 Dec"
    assert day_words_year(date(2026, 12, 5)) == "Sat 5 Dec 2026"


def test_an_instant_is_told_in_the_wards_zone():
    at = datetime(2026, 12, 4, 22, 30, tzinfo=UTC)
    assert local_words(at, "Africa/Lusaka") == "Sat 5 Dec, 00:30"


@pytest.mark.parametrize("kind", Kind)
def test_every_kind_has_words(kind):
    assert kind_words(kind.value) and "-" not in kind_words(kind)


@pytest.mark.parametrize("state", NoticeState)
def test_every_state_has_words(state):
    assert state_words(state.value)


def test_one_is_counted_in_the_singular():
    assert counted(1, "text", "texts") == "1 text"
    assert counted(0, "text", "texts") == "0 texts"
