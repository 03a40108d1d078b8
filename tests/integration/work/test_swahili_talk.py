"""A farmer who writes Swahili is understood and answered in Swahili, on both engines."""

import pytest
from season_cast import Programme, a_programme, local
from sqlalchemy import update

from reminder_service.kinds import Kind
from reminder_service.records import tables as t
from reminder_service.records.engine import writing
from reminder_service.texts import refusals, replies
from reminder_service.texts.wording import full_day


@pytest.fixture
def swahili(engine) -> Programme:
    programme = a_programme(engine, local("2026-11-25", "10:00"))
    programme.plot("1", name="Amina Dule")
    with writing(programme.services.engine) as c:
        c.execute(update(t.farmers).values(language="sw"))
    return programme


@pytest.mark.parametrize(
    "body, kind, day",
    [
        pytest.param("mvua jana usiku", "first-rain", "2026-11-24", id="rain last night"),
        pytest.param("nimepanda siku 3 zilizopita", "planted", "2026-11-22", id="days ago"),
        pytest.param("yameota tarehe 21 mwezi wa 11", "germinated", "2026-11-21", id="month"),
    ],
)
def test_a_report_is_noted_with_its_day(swahili, body, kind, day):
    received = swahili.text(body)
    assert [(each["kind"], each["on"]) for each in received.understood] == [(kind, day)]
    on = local(day, "10:00").date()
    assert full_day(on, "sw") in received.reply
    assert received.reply == replies.noted(
        Kind(kind), on, name="Amina Dule", plot="1", language="sw"
    )


def test_the_tasks_are_listed_in_swahili_words(swahili):
    reply = swahili.text("TAYARI").reply
    assert "punguza" in reply and "palilia" in reply
    assert "thin" not in reply and "weed" not in reply


def test_what_is_not_yet_done_changes_nothing(swahili):
    before = swahili.snapshot()
    assert swahili.text("bado sijapanda").reply == refusals.unread(language="sw")
    assert swahili.snapshot() == before
