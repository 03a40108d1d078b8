"""The numbers that the steps of joining show as examples are understood, in every language."""

import re

import pytest

from reminder_service.texts import joining
from reminder_service.texts.catalogues import catalogue_languages
from reminder_service.texts.joining_answers import decimal_number, two_numbers, whole_number

LANGUAGES = ("en", *catalogue_languages())


def example(text: str) -> str:
    """Find the number or measure that a step shows last."""
    return re.findall(r"\d[\d.,x]*(?<![.,])", text)[-1]


@pytest.mark.parametrize("language", LANGUAGES)
def test_examples_of_numbers_are_understood(language):
    assert whole_number(example(joining.stations(language=language))) == 5600
    assert decimal_number(example(joining.hectares(language=language))) == 0.25
    assert two_numbers(example(joining.sides(language=language))) == (50, 20)
    assert two_numbers(example(joining.spacing(language=language))) == (80, 50)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize(
    ("step", "most"),
    [(joining.size, 3), (joining.spacing, 3), (joining.variety, 4), (joining.dressing, 3)],
    ids=["size", "spacing", "variety", "top-dressing"],
)
def test_every_language_offers_the_same_choices(step, most, language):
    offered = re.findall(r"(?<![\dx])[1-9](?= \w)", step(language=language))
    assert [int(each) for each in offered] == list(range(1, most + 1))
