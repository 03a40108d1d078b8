"""Of the languages that could read a text, the one that knows most of its words reads it."""

import pytest
from texts_cast import SENT_ON, TASKS

from reminder_service.texts.reading_in import read_in


@pytest.mark.parametrize("own", ["en", "ny", "sw"])
@pytest.mark.parametrize("body", ["no rain", "No rain today", "there is no rain"])
def test_english_no_beside_a_report_is_no_portuguese_report(own: str, body: str) -> None:
    reading, language = read_in(body, SENT_ON, [own], TASKS)
    assert (reading.unread, language) == (True, own)


@pytest.mark.parametrize(
    ("body", "day"), [("mvula lero", "2026-11-25"), ("mvula pa 12 mwezi uno", "2026-11-12")]
)
def test_a_language_that_knows_less_does_not_stand_against_it(body: str, day: str) -> None:
    reading, language = read_in(body, SENT_ON, ["en"], TASKS)
    assert ([str(said.on) for said in reading.said], language) == ([day], "ny")


@pytest.mark.parametrize("body", ["mvula yagwa pafupifupi 12 nov", "mvula sinagwe 12 nov"])
def test_what_it_doubts_no_other_one_reports(body: str) -> None:
    assert read_in(body, SENT_ON, ["en"], TASKS)[0].unread
