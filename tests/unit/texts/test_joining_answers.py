"""Answers to the steps of joining: understood as meant, or not at all."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reminder_service.texts.joining_answers import (
    LONGEST_NAME,
    by_likeness,
    decimal_number,
    name_in,
    two_numbers,
    ward_named,
    whole_number,
)

WARDS = ["Olmara", "Setiwe", "Hakunde", "Birikao"]


@pytest.mark.parametrize(
    "body, name",
    [
        pytest.param("amina dule", "Amina Dule", id="small letters"),
        pytest.param("AMINA", "Amina", id="capitals"),
        pytest.param("Amina de Dule", "Amina de Dule", id="mixed letters stay"),
        pytest.param("  Pelo   Bol ", "Pelo Bol", id="spaces"),
        pytest.param("N'golo Bol-Dule", "N'golo Bol-Dule", id="marks inside"),
        pytest.param("A", None, id="one letter"),
        pytest.param("Amina 2", None, id="a digit"),
        pytest.param("Amina!", None, id="a mark at the end"),
        pytest.param("x" * (LONGEST_NAME + 1), None, id="too long"),
        pytest.param("", None, id="nothing"),
    ],
)
def test_a_name_is_letters_alone(body, name):
    assert name_in(body) == name


@pytest.mark.parametrize(
    "body, number",
    [
        ("5600", 5600),
        ("5,600", 5600),
        ("5 600 stations", 5600),
        ("about 5600.", 5600),
        ("0.250", None),
        ("0,25", None),
        ("5.6", None),
        ("50x20", None),
        ("none", None),
        ("123456789", None),
    ],
)
def test_a_whole_number(body, number):
    assert whole_number(body) == number


@pytest.mark.parametrize(
    "body, number",
    [("0.25", 0.25), ("0,25 ha", 0.25), (".5", 0.5), ("2", 2.0), ("1 or 2", None), ("ha", None)],
)
def test_a_decimal_number(body, number):
    assert decimal_number(body) == number


@pytest.mark.parametrize(
    "body, pair",
    [
        ("50x20", (50, 20)),
        ("50 X 20", (50, 20)),
        ("50 by 20", (50, 20)),
        ("50m x 20m", (50, 20)),
        ("50 20", (50, 20)),
        ("12,5x20", (12.5, 20)),
        ("50", None),
        ("0.25", None),
        ("50x20x3", None),
    ],
)
def test_two_lengths(body, pair):
    assert two_numbers(body) == pair


@pytest.mark.parametrize(
    "body, exact, near",
    [
        pytest.param("Olmara", 0, (), id="as it is"),
        pytest.param("ward setiwe", 1, (), id="with the word ward"),
        pytest.param("HAKUNDE", 2, (), id="capitals"),
        pytest.param("olmra", None, (0,), id="a letter less"),
        pytest.param("birkiao", None, (3,), id="two letters swapped"),
        pytest.param("Tandaluwe", None, (), id="something else"),
        pytest.param("", None, (), id="nothing"),
    ],
)
def test_a_ward_is_named_exactly_or_nearly(body, exact, near):
    found = ward_named(body, WARDS)
    assert (found.exact, found.near) == (exact, near)


def test_wards_are_offered_the_likest_first():
    assert by_likeness("hakude", WARDS)[0] == 2
    assert sorted(by_likeness("x", WARDS)) == [0, 1, 2, 3]


@given(st.text(max_size=200))
def test_no_answer_makes_reading_fail(body):
    name = name_in(body)
    assert name is None or not any(char.isdecimal() for char in name)
    whole, decimal, pair = whole_number(body), decimal_number(body), two_numbers(body)
    assert whole is None or whole > 0
    assert decimal is None or decimal >= 0
    assert pair is None or len(pair) == 2
    assert len(ward_named(body, WARDS).near) <= len(WARDS)


@given(st.integers(1, 9_999_999))
def test_a_number_is_read_as_it_is_written(number):
    assert whole_number(str(number)) == whole_number(f" {number} stations") == number
    if number >= 1000:
        assert whole_number(f"{number:,}") == number
