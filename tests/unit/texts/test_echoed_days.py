"""A day as a text shows it is understood when a farmer sends it back, in every language."""

from datetime import timedelta

import pytest
from texts_cast import SENT_ON, read_as

from reminder_service.texts.wording import day, full_day
from reminder_service.texts.words import shipped_languages


@pytest.mark.parametrize("language", shipped_languages())
def test_a_shown_day_is_read_as_that_day(language: str) -> None:
    for back in range(180):
        on = SENT_ON - timedelta(days=back)
        for shown in (day(on, language=language), full_day(on, language)):
            (said,) = read_as(language, f"GERM {shown}").said
            assert said.on == on, shown


@pytest.mark.parametrize("language", shipped_languages())
def test_a_day_shown_as_an_estimate_is_no_report(language: str) -> None:
    assert not read_as(language, f"GERM {day(SENT_ON, about=True, language=language)}").said
