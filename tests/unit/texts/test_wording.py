"""Days and templates put into words."""

from datetime import date

import pytest

from reminder_service.kinds import REPORTS, Kind
from reminder_service.texts.errors import WordingError
from reminder_service.texts.wording import (
    day,
    echo,
    example,
    fact_name,
    fill,
    full_day,
    placeholders,
    with_caution,
)

OPENS, CLOSES = date(2026, 12, 5), date(2026, 12, 12)


def test_a_day_carries_its_weekday() -> None:
    assert day(OPENS) == "Sat 5 Dec"


def test_an_estimate_says_so() -> None:
    assert day(OPENS, about=True) == "about Sat 5 Dec"


@pytest.mark.parametrize(
    ("near", "words"),
    [
        pytest.param(date(2026, 11, 25), "Sat 5 Dec", id="near"),
        pytest.param(date(2026, 2, 8), "Sat 5 Dec", id="300 days"),
        pytest.param(date(2026, 2, 7), "Sat 5 Dec 2026", id="301 days"),
    ],
)
def test_the_year_is_named_far_from_the_day_of_reference(near: date, words: str) -> None:
    assert day(OPENS, near=near) == words


def test_a_full_day_names_the_year() -> None:
    assert full_day(OPENS) == "Sat 5 Dec 2026"


def test_days_follow_the_language() -> None:
    assert full_day(OPENS, "sw") == "Jumamosi 5 Des 2026"


def test_a_template_is_filled_in() -> None:
    text = fill(
        "{name}, thin plot {plot} from {opens} to {closes}.",
        about={"opens"},
        name="Amina",
        plot="3",
        opens=OPENS,
        closes=CLOSES,
        number=1,
    )
    assert text == "Amina, thin plot 3 from about Sat 5 Dec to Sat 12 Dec."


def test_a_value_with_braces_is_taken_as_it_is() -> None:
    assert fill("{name}.", name="{plot}") == "{plot}."


@pytest.mark.parametrize(
    ("template", "got"),
    [
        pytest.param("{nobody}", r"\{nobody\}", id="unknown"),
        pytest.param("{}", r"\{\}", id="no name"),
        pytest.param("{name.__class__}", r"\{name.__class__\}", id="attribute"),
        pytest.param("{name[0]}", r"\{name\[0\]\}", id="index"),
        pytest.param("{name:>9}", "a format", id="format"),
        pytest.param("{name!r}", "a format", id="conversion"),
        pytest.param("{name", "unmatched braces", id="broken"),
    ],
)
def test_a_wrong_placeholder_is_named(template: str, got: str) -> None:
    with pytest.raises(WordingError, match=got):
        fill(template, name="Amina")


def test_placeholders_are_listed_in_order() -> None:
    assert placeholders("{name}: {closes} {{kept}}", ()) == ["name", "closes"]


def test_a_caution_stands_at_the_end_once() -> None:
    both = with_caution("Dress.", "Wash your hands.")
    assert (both, with_caution(both, "Wash your hands."), with_caution("Weed.", "")) == (
        "Dress. Wash your hands.",
        both,
        "Weed.",
    )


def test_an_echo_is_short_and_in_the_cheap_alphabet() -> None:
    assert echo("31/02\nŵ" + "x" * 99) == "31/02??" + "x" * 13


@pytest.mark.parametrize("kind", REPORTS, ids=str)
def test_every_report_has_a_name_and_an_example(kind: Kind) -> None:
    assert fact_name(kind) and example(kind)


@pytest.mark.parametrize(
    ("template", "text"),
    [
        pytest.param("Desbaste até {closes}.", "Desbaste até sáb. 12 dez.", id="at the end"),
        pytest.param("Até {closes}. Envie", "Até sáb. 12 dez. Envie", id="between sentences"),
        pytest.param("Até {closes}, envie", "Até sáb. 12 dez., envie", id="before a comma"),
    ],
)
def test_the_dot_of_a_short_month_and_a_full_stop_are_one(template: str, text: str) -> None:
    assert fill(template, closes=CLOSES, language="pt") == text


def test_a_day_without_a_dot_keeps_its_full_stop() -> None:
    far = fill("Até {closes}.", closes=CLOSES, near=date(2025, 1, 1), language="pt")
    assert (far, fill("By {closes}.", closes=CLOSES)) == (
        "Até sáb. 12 dez. 2026.",
        "By Sat 12 Dec.",
    )
