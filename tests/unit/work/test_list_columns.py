"""What each column holds, whatever the order, the language and a letter amiss."""

import random

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from reminder_service.work.lists.columns import (
    NOT_KEPT,
    SEVERAL,
    Field,
    check_columns,
    folded,
    headings_at,
    meanings,
    proposed_columns,
    word_table,
)
from reminder_service.work.lists.errors import WrongColumns

LANGUAGES = ("en", "sw", "pt", "ny")
FIELDS = [field for field in Field if field not in NOT_KEPT]


def first_words(language: str) -> list[str]:
    columns = word_table()["columns"]
    return [columns[field][language][0] for field in FIELDS]


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_field_has_a_heading_in_every_language(language):
    assert list(proposed_columns(first_words(language))) == FIELDS


@given(
    st.permutations(FIELDS),
    st.lists(st.sampled_from(LANGUAGES), min_size=len(FIELDS), max_size=len(FIELDS)),
)
def test_columns_are_told_in_any_order_and_mixed_languages(fields, languages):
    columns = word_table()["columns"]
    headings = [columns[field][each][0] for field, each in zip(fields, languages, strict=True)]
    assert list(proposed_columns(headings)) == fields


@given(st.sampled_from(sorted(meanings("columns"))), st.integers(0, 30), st.sampled_from("aeiou"))
def test_a_long_heading_with_one_letter_amiss_is_still_told(word, at, letter):
    assume(len(word) >= 8 and at < len(word))
    misspelt = word[:at] + letter + word[at + 1 :]
    assert proposed_columns([misspelt]) == (Field(meanings("columns")[word]),)


@pytest.mark.parametrize(
    ("heading", "field"),
    [
        ("FARMER'S NAME", Field.FARMER),
        ("Telephne", Field.PHONE),
        ("Phone 2", Field.PHONE),
        ("N\u00famero de telefone", Field.PHONE),
        ("Espa\u00e7amento (cm)", Field.SPACING),
        ("Top-dressing", Field.DRESSING),
        ("Plot no.", Field.PLOT),
        ("No.", None),
        ("Remarks", None),
        ("", None),
    ],
)
def test_a_heading_is_told(heading, field):
    assert proposed_columns([heading]) == (field,)


def test_of_two_columns_the_better_heading_gets_the_field():
    assert proposed_columns(["Farmer nme", "Farmer name"]) == (None, Field.FARMER)


def test_several_columns_may_hold_phones():
    assert proposed_columns(["Phone 1", "Phone 2"]) == (Field.PHONE, Field.PHONE)


@given(st.lists(st.text(max_size=15) | st.sampled_from(sorted(meanings("columns"))), max_size=12))
def test_no_field_is_given_twice(headings):
    found = [field for field in proposed_columns(headings) if field and field not in SEVERAL]
    assert len(found) == len(set(found))


def test_headings_are_found_below_a_title():
    rows = [["Farmers of the north"], ["", "2026"], ["Ward", "Name", "Phone"], ["Olmara", "N", "1"]]
    assert headings_at(rows) == 2


def test_no_word_means_two_things():
    for section in ("columns", "top-dressing", "maturity"):
        words = [
            folded(word)
            for meaning, languages in word_table()[section].items()
            for word in {folded(each) for known in languages.values() for each in known}
        ]
        assert len(words) == len(set(words)), section


@pytest.mark.parametrize(
    ("columns", "words"),
    [
        ((Field.WARD,), "farmer's name"),
        ((Field.FARMER,), "no column holds the ward"),
        ((Field.FARMER, Field.WARD, Field.WARD), "two columns hold the ward"),
    ],
    ids=["no name", "no ward", "a ward twice"],
)
def test_columns_that_say_too_little_are_refused(columns, words):
    with pytest.raises(WrongColumns, match=words):
        check_columns(columns, ward_given=False)


def test_a_ward_for_all_rows_stands_for_the_column():
    check_columns((Field.FARMER,), ward_given=True)


def test_the_order_of_columns_changes_nothing_about_a_column():
    headings = ["Ward", "Farmer", "Phone", "Plot", "Holes", "Sex", "Notes"]
    expected = dict(zip(headings, proposed_columns(headings), strict=True))
    random.Random(3).shuffle(headings)
    assert dict(zip(headings, proposed_columns(headings), strict=True)) == expected
