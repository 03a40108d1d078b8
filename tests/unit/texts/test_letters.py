"""Costly letters are replaced by the language's own rule, and only where that saves segments."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reminder_service.texts import letters
from reminder_service.texts.alphabets import SHIFT_TABLES
from reminder_service.texts.letters import Economical, costly_letters, economical
from reminder_service.texts.segments import is_gsm, segments

RULE = {"ŵ": "w", "Ŵ": "W", "ã": "a"}
"""A rule made up for these tests."""


@pytest.fixture(autouse=True)
def rule(monkeypatch):
    monkeypatch.setattr(letters, "letters_of", lambda language: RULE if language == "ny" else {})


def test_a_text_in_the_cheap_alphabet_stays():
    assert economical("a" * 400, "ny") == Economical("a" * 400, 0)


def test_letters_that_cost_a_segment_are_replaced():
    found = economical("ŵ" + "a" * 99 + "Ŵ", "ny")
    assert found == Economical("w" + "a" * 99 + "W", 1, ("Ŵ", "ŵ"))


def test_a_short_text_keeps_its_letters():
    assert economical("Ŵeed by Sat 5 Dec", "ny") == Economical("Ŵeed by Sat 5 Dec", 0)


def test_nothing_is_replaced_where_another_letter_costs_all_the_same():
    body = "ŵ" + "a" * 99 + "ẹ"
    assert economical(body, "ny") == Economical(body, 0)


def test_nothing_is_replaced_in_a_language_without_a_rule():
    body = "ŵ" + "a" * 99
    assert economical(body, "sw") == Economical(body, 0)


def test_a_letter_that_the_carriers_table_holds_is_kept():
    body = "ã" * 100
    assert economical(body, "ny").saved == 1
    assert economical(body, "ny", SHIFT_TABLES["portuguese"]) == Economical(body, 0)


def test_the_room_of_a_header_is_saved_too():
    body = "a" * 157 + "ã"
    found = economical(body, "ny", SHIFT_TABLES["portuguese"])
    assert (found.body, found.saved) == ("a" * 158, 1)


@given(st.text("abŵŴãẹ😀€", max_size=400))
@pytest.mark.parametrize("tables", [None, *SHIFT_TABLES.values()], ids=["none", *SHIFT_TABLES])
def test_the_saving_is_what_was_saved(tables, body):
    given_tables = () if tables is None else (tables,)
    found = economical(body, "ny", *given_tables)
    before, after = (segments(each, *given_tables).segments for each in (body, found.body))
    assert before - after == found.saved
    assert (found.body == body) == (found.saved == 0)


def test_the_letters_that_cost_are_named_once_each():
    assert costly_letters("ŵeed, ẹ, ŵeed") == ("ŵ", "ẹ")
    assert costly_letters("weed") == () == costly_letters("até É €")


@given(st.text(max_size=100))
def test_without_its_costly_letters_a_text_is_cheap(body):
    costly = costly_letters(body)
    assert is_gsm("".join(letter for letter in body if letter not in costly))
