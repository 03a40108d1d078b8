"""A farmer who writes Chichewa is understood and answered in Chichewa, on both engines."""

import pytest
from season_cast import Programme, a_programme, local
from sqlalchemy import update

from reminder_service.kinds import Kind
from reminder_service.records import tables as t
from reminder_service.records.engine import writing
from reminder_service.texts import refusals, replies


@pytest.fixture
def chichewa(engine) -> Programme:
    programme = a_programme(engine, local("2026-11-25", "10:00"))
    programme.plot("1", name="Amina Dule")
    with writing(programme.services.engine) as c:
        c.execute(update(t.farmers).values(language="ny"))
    return programme


@pytest.mark.parametrize(
    "body, kind, day",
    [
        pytest.param("mvula usiku wa dzulo", "first-rain", "2026-11-24", id="rain last night"),
        pytest.param("ndabzala masiku atatu apitawo", "planted", "2026-11-22", id="days ago"),
        pytest.param("chamera pa 21 mwezi wa 11", "germinated", "2026-11-21", id="month"),
    ],
)
def test_a_report_is_noted_with_its_day(chichewa, body, kind, day):
    received = chichewa.text(body)
    assert [(each["kind"], each["on"]) for each in received.understood] == [(kind, day)]
    on = local(day, "10:00").date()
    assert received.reply == replies.noted(
        Kind(kind), on, name="Amina Dule", plot="1", language="ny"
    )


def test_the_tasks_are_listed_in_chichewa_words(chichewa):
    reply = chichewa.text("NDATHA").reply
    assert "kupatulira" in reply and "kupalira" in reply
    assert "thin" not in reply and "weed" not in reply


@pytest.mark.parametrize("body", ["sindinabzale", "ndidzabzala mawa", "mvula ikagwa ndibzala"])
def test_what_is_not_done_changes_nothing(chichewa, body):
    before = chichewa.snapshot()
    assert chichewa.text(body).reply == refusals.unread(language="ny")
    assert chichewa.snapshot() == before


def test_a_chichewa_stop_is_obeyed(chichewa):
    assert "YAMBANI" in chichewa.text("lekani kutumiza mauthenga").reply
