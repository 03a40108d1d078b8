"""Swahili says not, not yet, will, if and when by how a verb begins: none of that is a report."""

from itertools import product

import pytest
from texts_cast import read_as

from reminder_service.kinds import REPORTS

PEOPLE = ("ni", "tu", "a", "wa")
NO_PEOPLE = ("si", "hatu", "ha", "hawa")
MAIZE, NO_MAIZE = ("i", "ya", "zi"), ("hai", "haya", "hazi")
OF_PEOPLE = ("panda", "vuna", "punguza", "palilia", "loweka", "kuzia", "mwaga", "maliza")
OF_MAIZE = ("ota", "chipua", "chomoza")
OF_RAIN = ("nyesha",)
TO_COME, ONLY_IF, WHEN = "ta", "ki", "lipo"
NOT_YET, DID_NOT, WILL_NOT = "ja", "ku", "ta"


def forms(subjects: tuple[str, ...], markers: tuple[str, ...], stems: tuple[str, ...]) -> list[str]:
    return ["".join(parts) for parts in product(subjects, markers, stems)]


DOUBTED = [
    *forms(PEOPLE, (TO_COME, ONLY_IF, WHEN), OF_PEOPLE),
    *forms(NO_PEOPLE, (NOT_YET, DID_NOT, WILL_NOT), OF_PEOPLE),
    *forms(MAIZE, (TO_COME, ONLY_IF, WHEN), (*OF_MAIZE, *OF_RAIN)),
    *forms(NO_MAIZE, (NOT_YET, DID_NOT, WILL_NOT), (*OF_MAIZE, *OF_RAIN)),
]
SAID = [
    *forms(("ni", "tu"), ("me", "li"), OF_PEOPLE[:6]),
    *forms(MAIZE, ("me", "li"), OF_MAIZE[:2]),
    *forms(("i", "zi"), ("me", "li"), OF_RAIN),
]


@pytest.mark.parametrize("template", ["{}", "{} jana", "mahindi {} tarehe 12", "{} 14 nov"])
def test_a_verb_of_doubt_is_no_report(template: str) -> None:
    for verb in DOUBTED:
        reading = read_as("sw", template.format(verb))
        kinds = {each.kind for each in (*reading.said, *reading.ask)}
        assert not kinds & set(REPORTS), (verb, reading)


def test_a_report_beside_a_verb_of_doubt_is_none() -> None:
    for verb in DOUBTED:
        assert not read_as("sw", f"mvua jana {verb}").said, verb


def test_what_has_happened_is_a_report() -> None:
    for verb in SAID:
        reading = read_as("sw", f"{verb} jana")
        assert reading.said or reading.ask, (verb, reading)
