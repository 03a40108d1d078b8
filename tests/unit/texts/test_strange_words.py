"""A day told by words is no day beside a word that could change it, were it typed rightly."""

from datetime import date

import pytest
from texts_cast import read_as

from reminder_service.kinds import Kind


@pytest.mark.parametrize(
    ("language", "body", "written"),
    [
        pytest.param("en", "rain day befure yesterday", "befure yesterday", id="before yesterday"),
        pytest.param("en", "rain lcst wednesday", "lcst wednesday", id="last Wednesday"),
        pytest.param("en", "rain on the 12th of lst month", "12th lst", id="12th of last month"),
        pytest.param("en", "rain 12 nov lsat year", "12 nov year", id="last year"),
        pytest.param("en", "rain twnty one november", "one november", id="twenty-one"),
        pytest.param("pt", "choveu antos de ontem", "antos ontem", id="antes de ontem"),
        pytest.param("pt", "choveu dia vinet e um de novembro", "", id="vinte e um"),
        pytest.param("sw", "mvua usfku wa kuamkia leo", "kuamkia leo", id="usiku wa kuamkia leo"),
        pytest.param("sw", "mvua tarehe kumi na mopa", "", id="kumi na moja"),
        pytest.param("sw", "mvua ming mm 12.11", "12.11", id="an amount that could be a day"),
        pytest.param("ny", "mvula lachitatu iapitalo", "lachitatu iapitalo", id="lapitalo"),
        pytest.param("ny", "mvula 12 nov chaka chauha", "12 nov chaka", id="chaka chatha"),
    ],
)
def test_it_is_asked_for_again(language: str, body: str, written: str) -> None:
    bad = read_as(language, body).bad_date
    assert bad is not None and written in bad.written


@pytest.mark.parametrize(
    ("language", "body", "day"),
    [
        pytest.param("en", "GERM 21 nov zxqv", date(2026, 11, 21), id="a date"),
        pytest.param("en", "germ yesterday zxqv", date(2026, 11, 24), id="after yesterday"),
        pytest.param("en", "germ plot amina yesterday", date(2026, 11, 24), id="a plot's name"),
        pytest.param("en", "zxqv germ friday", date(2026, 11, 20), id="not beside it"),
        pytest.param("pt", "nasceu vinte e um de novembro", date(2026, 11, 21), id="vinte e um"),
    ],
)
def test_other_days_stay(language: str, body: str, day: date) -> None:
    (said,) = read_as(language, body).said
    assert (said.kind, said.on) == (Kind.GERMINATED, day)


@pytest.mark.parametrize(
    ("language", "body"),
    [
        pytest.param("sw", "yameota bjana", id="jana, not bwana"),
        pytest.param("ny", "mvula mvawa", id="mawa"),
    ],
)
def test_a_word_that_could_be_a_day_is_mended_to_nothing_else(language: str, body: str) -> None:
    assert not read_as(language, body).said
