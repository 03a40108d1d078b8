"""CSV that a spreadsheet shows as written."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reminder_service.web.csv_cells import FORMULA_SIGNS, csv_text


@pytest.mark.parametrize("cell", ["=1+1", "+27", "-3", "@name", "\tx", "\rx", "  =1+1"])
def test_no_words_begin_like_a_formula(cell: str) -> None:
    (row,) = csv.reader(io.StringIO(csv_text([[cell]]), newline=""))
    assert row == [f"'{cell}"]


@pytest.mark.parametrize(("cell", "written"), [(-3, "-3"), (2.5, "2.5"), ("Olmara", "Olmara")])
def test_numbers_and_plain_words_stay(cell: str | float, written: str) -> None:
    assert csv_text([[cell]]) == f"{written}\r\n"


@given(st.lists(st.text(st.characters(blacklist_categories=["Cs"])), min_size=2, max_size=4))
def test_words_come_back_as_they_were_but_for_the_apostrophe(cells: list[str]) -> None:
    (row,) = csv.reader(io.StringIO(csv_text([cells]), newline=""))
    for cell, read in zip(cells, row, strict=True):
        assert read in (cell, f"'{cell}")
        assert not read.lstrip(" ").startswith(FORMULA_SIGNS)
