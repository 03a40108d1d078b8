"""Chichewa says not, not yet, will, may, if and when by how a verb begins: none is a report."""

from itertools import product

import pytest
from texts_cast import read_as

from reminder_service.kinds import REPORTS

PEOPLE, MAIZE, RAIN = ("ndi", "ti"), ("chi", "zi"), ("i",)
NO_PEOPLE, NO_MAIZE, NO_RAIN = ("sindi", "siti"), ("sichi", "sizi"), ("si", "sii")
OF_PEOPLE = (
    "bzala", "dzala", "byala", "kolola", "palira", "patulira", "thira feteleza", "viika",
    "thirira", "goneka mapesi", "yeretsa", "werenga", "maliza kubzala",
)  # fmt: skip
OF_MAIZE, OF_RAIN = ("mera", "phuka"), ("gwa", "vumba")
TO_COME, MAY, WHEN, AFTER, OFTEN, NOT_YET = "dza", "nga", "ka", "ta", "ma", "sana"
MARKERS = (TO_COME, MAY, WHEN, AFTER, OFTEN, NOT_YET)
DID_NOT = ("na", "da", "dza")
HAS, DID, DID_LONG_AGO = "a", "na", "da"


def forms(subjects: tuple[str, ...], markers: tuple[str, ...], stems: tuple[str, ...]) -> list[str]:
    return ["".join(parts) for parts in product(subjects, markers, stems)]


DOUBTED = [
    *forms(PEOPLE, (*MARKERS, ""), OF_PEOPLE),
    *forms(NO_PEOPLE, DID_NOT, OF_PEOPLE),
    *forms(MAIZE, MARKERS, OF_MAIZE),
    *forms(NO_MAIZE, DID_NOT, OF_MAIZE),
    *forms(RAIN, MARKERS, OF_RAIN),
    *forms(NO_RAIN, DID_NOT, OF_RAIN),
]
SAID = [
    *forms(("nd", "t"), (HAS,), OF_PEOPLE[:11]),
    *forms(PEOPLE, (DID,), OF_PEOPLE[:11]),
    *forms(PEOPLE, (DID_LONG_AGO,), OF_PEOPLE[:6]),
    *forms(("ch", "z"), (HAS,), OF_MAIZE),
    *forms(MAIZE, (DID,), OF_MAIZE),
    *forms(("y",), (HAS,), OF_RAIN),
    *forms(RAIN, (DID, DID_LONG_AGO), OF_RAIN),
]


@pytest.mark.parametrize("template", ["{}", "{} dzulo", "chimanga {} pa 12", "{} 14 nov"])
def test_a_verb_of_doubt_is_no_report(template: str) -> None:
    for verb in DOUBTED:
        reading = read_as("ny", template.format(verb))
        kinds = {each.kind for each in (*reading.said, *reading.ask)}
        assert not kinds & set(REPORTS), (verb, reading)


def test_a_report_beside_a_verb_of_doubt_is_none() -> None:
    for verb in DOUBTED:
        assert not read_as("ny", f"mvula dzulo {verb}").said, verb


@pytest.mark.parametrize("verb", SAID)
def test_what_has_happened_is_a_report(verb: str) -> None:
    reading = read_as("ny", f"{verb} dzulo")
    assert reading.said or reading.ask, reading
