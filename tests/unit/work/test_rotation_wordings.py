"""Every text of the rotation crops fits its segments, in every language, with longest values."""

import pytest

from reminder_service.rules.shipped import shipped_names, shipped_rulebook
from reminder_service.texts.catalogues import SOURCE_LANGUAGE, catalogue_languages
from reminder_service.work.wordings import faults


@pytest.mark.parametrize("language", [SOURCE_LANGUAGE, *catalogue_languages()])
@pytest.mark.parametrize("name", shipped_names())
def test_texts_of_a_shipped_rulebook_are_there_and_fit(name: str, language: str) -> None:
    assert faults(shipped_rulebook(name), language) == []
