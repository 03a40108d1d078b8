"""A report in the own language gives way where another language knows its words better."""

from datetime import date

import pytest
from texts_cast import SENT_ON, TASKS

from reminder_service.kinds import Kind
from reminder_service.texts.reading_in import read_in
from reminder_service.texts.reading_types import Said


@pytest.mark.parametrize(
    ("own", "body"),
    [
        pytest.param("pt", "no rain", id="an English no that is a Portuguese word"),
        pytest.param("pt", "No rain today", id="the same with a day"),
        pytest.param("sw", "mvula lachisanu 12 nov", id="a Chichewa Friday beside a Thursday"),
        pytest.param("sw", "mvula 12 nov chaka chatha", id="a Chichewa last year"),
        pytest.param("en", "mvua ya kwanza 23mm 12 nov", id="a Swahili first rain with its amount"),
    ],
)
def test_what_a_better_one_reads_otherwise_is_not_read(own: str, body: str) -> None:
    assert read_in(body, SENT_ON, [own], TASKS)[0].unread


@pytest.mark.parametrize(
    ("own", "body", "plots"),
    [
        pytest.param("en", "germ 21 nov for tatu", ("TATU",), id="a name, Swahili for three"),
        pytest.param("en", "germ 21 nov for dona", ("DONA",), id="a name, Portuguese for madam"),
        pytest.param("sw", "germ 21 nov kwa amina", ("AMINA",), id="a name, Swahili for amen"),
        pytest.param("pt", "germinou no 21 nov", (), id="a Portuguese no in a Portuguese report"),
    ],
)
def test_what_none_reads_otherwise_is_read(own: str, body: str, plots: tuple[str, ...]) -> None:
    reading, language = read_in(body, SENT_ON, [own], TASKS)
    said = Said(Kind.GERMINATED, date(2026, 11, 21), on_given=True, plots=plots)
    assert (reading.said, language) == ((said,), own)
