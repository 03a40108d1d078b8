"""Which texts wait for a person."""

import pytest

from reminder_service.records.types import Waits
from reminder_service.work.talk import Answer
from reminder_service.work.waiting import waits_for

GERM = {"kind": "germinated", "on": "2026-11-21"}


@pytest.mark.parametrize(
    "said, why",
    [
        pytest.param(Answer("Sorry", unread=True), Waits.UNREAD, id="could not be read"),
        pytest.param(Answer("Which?", ask=[GERM]), Waits.ASKED_BACK, id="asked with choices"),
        pytest.param(Answer("Plot?", [GERM]), Waits.ASKED_BACK, id="kept for no plot"),
        pytest.param(Answer("Noted", [GERM | {"plot": "1"}]), None, id="taken"),
        pytest.param(Answer("Next", [{"kind": "next", "on": None}]), None, id="a question"),
        pytest.param(Answer(None), None, id="nothing to say"),
    ],
)
def test_a_text_waits_if_a_report_may_lie_in_it(said, why):
    assert waits_for(said) == why
