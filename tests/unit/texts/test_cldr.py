"""Names of months and weekdays, days as written, and plural forms against the Unicode CLDR."""

import gettext
import json
import subprocess
import sys
from datetime import date, timedelta
from functools import cache

import pytest
from babel import Locale
from texts_cast import TASKS, read_as

from reminder_service.kinds import Kind
from reminder_service.texts.catalogues import catalogue_languages, shipped_catalogue
from reminder_service.texts.reading_in import read_in
from reminder_service.texts.terms import folded, plain
from reminder_service.texts.wording import day, full_day
from reminder_service.texts.words import WORD, Role, shipped_languages, word_list

LANGUAGES = shipped_languages()
WEDNESDAY = date(2026, 11, 25)
YEAR = [date(2026, 1, 1) + timedelta(days=n) for n in range(365)]

REGIONS = {"pt": "pt_PT"}
"""Plurals of Portuguese as spoken in Mozambique and Angola: CLDR makes pt_MZ and pt_AO children of
pt_PT (parentLocales); plain pt is Brazil's, where 0 counts as one."""

SHORT_WEEKDAYS = {
    "en": {"Su", "Mo", "Tu", "We", "Th", "Fr", "Sa"},
}
"""CLDR's weekdays of two letters: nobody texts them, and *we* and *sa* are words of their own."""


ASK = """
import json, sys
from babel import Locale
locale = Locale(sys.argv[1])
kinds = {"months": locale.months, "days": locale.days}
widths = ("wide", "abbreviated", "short")
print(json.dumps({
    kind: [[name, number] for context in ("format", "stand-alone") for width in widths
           for number, name in found[context].get(width, {}).items()]
    for kind, found in kinds.items()
}))
"""
"""Names of a locale, asked for in a process of its own: Babel keeps aliases in data that locales
share, so that a second locale would answer with the names that the first one has when alone."""


@cache
def names(language: str) -> dict[str, list[tuple[str, int]]]:
    """All of CLDR's names: wide, abbreviated and short, within a date and alone."""
    asked = [sys.executable, "-c", ASK, language]
    return json.loads(subprocess.run(asked, capture_output=True, check=True).stdout)


def months(language: str) -> list[tuple[str, int]]:
    """Each name of a month, with its number from 1."""
    return names(language)["months"]


def weekdays(language: str) -> list[tuple[str, int]]:
    """Each name of a weekday that is tested; 0 is Monday."""
    skipped = SHORT_WEEKDAYS.get(language, set())
    return [(name, number) for name, number in names(language)["days"] if name not in skipped]


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_month_of_cldr_is_read_as_that_month(language: str) -> None:
    for name, number in months(language):
        (said,) = read_as(language, f"GERM 5 {name}", date(2026, number, 20)).said
        assert said.on == date(2026, number, 5), name


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_weekday_of_cldr_is_read_as_that_weekday(language: str) -> None:
    for name, number in weekdays(language):
        (said,) = read_as(language, f"GERM {name}", WEDNESDAY).said
        assert said.on is not None and said.on.weekday() == number, name
        assert said.on_given and timedelta(0) <= WEDNESDAY - said.on < timedelta(7)


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_name_that_cldr_has_is_listed_as_nothing_else(language: str) -> None:
    listed = word_list(language).phrases
    named = [(name, Role.MONTH, n) for name, n in months(language)]
    named += [(name, Role.WEEKDAY, n) for name, n in weekdays(language)]
    for name, role, number in named:
        meaning = listed.get(tuple(WORD.findall(folded(plain(name)))))
        assert meaning is not None and (meaning.role, meaning.value) == (role, number), name


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_day_as_written_is_read_as_that_day(language: str) -> None:
    for on in YEAR:
        for written in (day(on, language=language), full_day(on, language)):
            (said,) = read_as(language, f"GERM {written}", on + timedelta(days=30)).said
            assert (said.kind, said.on, said.on_given) == (Kind.GERMINATED, on, True), written


@pytest.mark.parametrize("language", catalogue_languages())
def test_plural_forms_follow_cldr(language: str) -> None:
    catalogue = shipped_catalogue(language)
    form = gettext.c2py(catalogue.plural_expr)
    rule = Locale.parse(REGIONS.get(language, language)).plural_form
    categories = {rule(n) for n in range(1001)}
    assert len(categories) == catalogue.num_plurals
    number_of = {rule(n): form(n) for n in (1, 2)}
    for n in range(1001):
        assert form(n) == number_of[rule(n)], n


@pytest.mark.parametrize("farmers", LANGUAGES)
@pytest.mark.parametrize("written_in", LANGUAGES)
def test_a_day_written_in_one_language_is_no_other_day_to_a_farmer_of_another(
    written_in: str, farmers: str
) -> None:
    for on in YEAR:
        written = full_day(on, written_in)
        found, _ = read_in(f"GERM {written}", on + timedelta(days=30), [farmers], TASKS)
        assert {said.on for said in (*found.said, *found.ask)} <= {on}, written
