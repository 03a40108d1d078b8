"""What the cells of a row say, and what is wrong with them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reminder_service.work.lists.cells import Reader, amount, row_said
from reminder_service.work.lists.columns import Field
from reminder_service.work.lists.reading import language_names, phone_number, phone_reader

FIELDS = tuple(field for field in Field if field is not Field.WRONG)
CHOICES = {
    "top-dressing": ("mineral", "manure-tea", "both"),
    "maturity": ("medium", "short", "long"),
}
GOOD = {Field.WARD: "Olmara", Field.FARMER: "Nalo Teme", Field.STATIONS: "5600"}


def reader(**changed) -> Reader:
    known = {
        "columns": FIELDS,
        "wards": {"Olmara": 1, "Setiwe": 2},
        "ward_id": None,
        "languages": language_names(),
        "choices": CHOICES,
        "phone": phone_reader("ZZ"),
    }
    return Reader(**(known | changed))


def said(cells=(), using=None, **more):
    filled = GOOD | dict(cells)
    return row_said(using or reader(**more), 2, [filled.get(field, "") for field in FIELDS])


def test_a_plain_row_has_no_fault():
    found = said({Field.PHONE: "+447700900001"})
    assert (found.ward_id, found.name, found.stations, found.faults) == (1, "Nalo Teme", 5600, ())
    assert found.phones == ("+447700900001",)


@pytest.mark.parametrize(
    "written",
    [
        "+447700900001; +447700900002",
        "+447700900001/+447700900002",
        "+447700900001 +447700900002",
        "447700900001, 447700900002",
        "+44 7700 900001 and +44 7700 900002",
    ],
)
def test_several_phones_stand_in_one_cell(written):
    assert said({Field.PHONE: written}).phones == ("+447700900001", "+447700900002")


def test_a_number_without_its_country_code_is_of_the_programmes_country():
    assert phone_number("07700 900001", "GB") == "+447700900001"
    assert phone_number("07700 900001", "ZZ") is None


@pytest.mark.parametrize(
    ("field", "written", "words"),
    [
        (Field.WARD, "", "the ward is missing"),
        (Field.WARD, "Olmarra", 'called "Olmarra"; did you mean Olmara?'),
        (Field.WARD, "Birikao", 'called "Birikao"'),
        (Field.FARMER, "", "name is missing"),
        (Field.FARMER, "x" * 81, "longer than 80"),
        (Field.FARMER, "12", "is no name"),
        (Field.PHONE, "4.477E+11", "shortened"),
        (Field.PHONE, "call her", "no phone number"),
        (Field.LANGUAGE, "Klingon", "no texts are written"),
        (Field.PLOT, "pl\u00f6t", "no plot number"),
        (Field.PLOT, "P1234567890123", "no plot number"),
        (Field.STATIONS, "many", "no whole number"),
        (Field.STATIONS, "5", "a plot has 10 to 200,000"),
        (Field.HECTARES, "40", "a plot has 0.005 to 10"),
        (Field.HECTARES, "2.0", "do not agree"),
        (Field.SPACING, "0.75 x 0.6", "both distances in cm"),
        (Field.MATURITY, "purple", "use one of medium, short, long"),
    ],
)
def test_a_cell_is_faulty_and_says_why(field, written, words):
    (fault,) = said({field: written}).faults
    assert words in fault


def test_every_fault_of_a_row_is_named():
    assert len(said({Field.WARD: "", Field.PHONE: "x", Field.STATIONS: "y"}).faults) == 3


def test_a_ward_chosen_for_all_rows_stands_in_for_a_missing_one():
    assert said({Field.WARD: ""}, ward_id=2).ward_id == 2


@pytest.mark.parametrize(
    ("written", "code"),
    [("Kiswahili", "sw"), ("EN", "en"), ("Portugu\u00eas", "pt"), ("Chichwa", "ny"), ("", None)],
)
def test_a_language_is_named_or_coded(written, code):
    assert said({Field.LANGUAGE: written}).language == code


@pytest.mark.parametrize(
    ("written", "choice"),
    [("Chai ya samadi", "manure-tea"), ("Fertilizer", "mineral"), ("BOTH", "both")],
)
def test_a_choice_is_named_in_any_language(written, choice):
    assert said({Field.DRESSING: written}).choices == {"top-dressing": choice}


def test_a_choice_that_the_rulebook_does_not_know_is_left_out_with_a_note():
    found = said({Field.MATURITY: "short"}, choices={})
    assert (found.choices, found.faults) == ({}, ())
    assert "left out" in found.notes[0]


def test_gender_is_not_kept():
    assert said({Field.GENDER: "F"}) == said()


@pytest.mark.parametrize(
    ("written", "per_ha"), [("75x60", 22_222), ("90 cm by 60 cm", 18_519), ("22222/ha", 22_222)]
)
def test_a_spacing_is_read(written, per_ha):
    assert said({Field.SPACING: written}).per_ha == per_ha


@pytest.mark.parametrize(
    ("written", "number"), [("plot 7", "7"), ("p 2", "P2"), ("a-12", "A-12"), ("", None)]
)
def test_a_plot_number_is_put_in_capitals(written, number):
    assert said({Field.PLOT: written}).number == number


@given(st.integers(1, 200_000), st.sampled_from(["{}", "{:,}", "{}.0", "{} stations"]))
def test_a_count_is_read_however_it_is_written(count, form):
    assert amount(form.format(count), whole=True) == count


@given(st.text(max_size=40))
def test_no_cell_at_all_is_a_fault_of_ours(cell):
    found = row_said(reader(), 2, [cell] * len(FIELDS))
    assert all(isinstance(fault, str) for fault in found.faults)


@pytest.mark.parametrize(
    ("written", "soil"),
    [("Clay", "clay"), ("mfinyanzi", "clay"), ("Arenoso", "sand"), ("loam", "loam")],
)
def test_a_soil_is_known_by_its_word_in_any_language(written, soil):
    found = said({Field.SOIL: written}, choices={**CHOICES, "soil": ("sand", "loam", "clay")})
    assert (found.choices, found.faults) == ({"soil": soil}, ())


def test_an_unknown_soil_is_a_fault():
    found = said({Field.SOIL: "peat"}, choices={**CHOICES, "soil": ("sand", "loam", "clay")})
    assert found.faults == ('soil "peat": use one of sand, loam, clay',)
