"""The page of today, on both engines: what waits, who is late, what goes out, what rained."""

from datetime import date, datetime, timedelta

import pytest
from page_cast import NOW, OLMARA, SETIWE, a_notice, a_task, an_inbound
from sqlalchemy import delete, insert, update

from reminder_service.agronomy.rain_book import Observer
from reminder_service.kinds import NoticeState
from reminder_service.records import tables as t
from reminder_service.records import today_views
from reminder_service.records.rain import NewObservation, keep_observations
from reminder_service.web.hour_bars import hour_bars
from reminder_service.web.today_pages import hours_of

DAYS = {"UTC": date(2026, 12, 6), "Africa/Lusaka": date(2026, 12, 6)}
DAYS["Africa/Nairobi"] = DAYS["UTC"]


@pytest.fixture
def bare(cast):
    """The wards and plots of the cast, without a task or a notice."""
    with cast.begin() as c:
        c.execute(delete(t.notices))
        c.execute(delete(t.tasks))
    return cast


def test_a_day_without_anything_says_so(bare, lead):
    text = lead.see("/")
    for words in ("Nothing: every text is read", "Nobody: no task", "0 texts gone"):
        assert words in text
    assert '<svg class="hours"' not in text


def test_late_tasks_stand_by_the_day_their_window_closes(bare, lead):
    with bare.begin() as c:
        a_task(c, 1, "weed", date(2026, 12, 2), 1)  # due 5, closes 9 December
        a_task(c, 2, "thin", date(2026, 11, 29), 1)  # due 2, closes today
        a_task(c, 3, "weed", date(2026, 12, 4), 1)  # due tomorrow
        a_task(c, 1, "weed", date(2026, 11, 1), 2)  # closed long ago
        a_task(c, 2, "weed", date(2026, 12, 1), 3, done_on=date(2026, 12, 2))
        found = today_views.late_tasks(c, None, DAYS, 10)

    assert [(task.season_id, task.name) for task in found] == [(2, "thin"), (1, "weed")]
    text = lead.see("/")
    assert text.index("Plot P002") < text.index("Plot P001")
    assert "today is the last" in text and "Plot P003" not in text


def test_more_late_tasks_than_fit_lead_to_the_wards(bare, lead):
    with bare.begin() as c:
        for number in range(1, 27):
            a_task(c, 1, "weed", date(2026, 12, 2), number)
    text = lead.see("/")
    assert text.count("Plot P001") == 25 and "More, ward by ward" in text


def test_nobody_sees_another_wards_day(bare, coordinator):
    with bare.begin() as c:
        for season_id in (1, 3):  # 3 grows in Setiwe, which is not hers
            a_task(c, season_id, "weed", date(2026, 12, 2))
        a_notice(c, 50, 3, SETIWE, send_at=NOW + timedelta(hours=1))
        keep_observations(c, [an_amount(SETIWE, 63.0)], NOW)
    text = coordinator.see("/")
    assert "Plot P001" in text and "Plot P003" not in text
    assert "0 still to go" in text and "63" not in text


def test_a_closed_seasons_tasks_are_nobodys(bare):
    with bare.begin() as c:
        a_task(c, 1, "weed", date(2026, 12, 2))
        c.execute(update(t.seasons).values(closed_at=NOW))
        assert today_views.late_tasks(c, None, DAYS, 10) == []


def test_states_of_the_day_are_counted_by_the_wards_day(bare):
    with bare.begin() as c:
        a_notice(c, 1, 1, OLMARA, send_at=NOW)
        a_notice(c, 2, 1, OLMARA, "delivered", send_at=NOW)
        a_notice(c, 3, 1, OLMARA, send_at=NOW + timedelta(days=1))
        found = today_views.states_of_day(c, None, DAYS)
    assert found == {NoticeState.PLANNED: 1, NoticeState.DELIVERED: 1}


def test_texts_of_an_hour_are_drawn_as_gone_and_to_go(bare, lead):
    at = datetime.fromisoformat("2026-12-06T09:30:00+00:00")  # 11:30 in Olmara
    with bare.begin() as c:
        a_notice(c, 1, 1, OLMARA, send_at=at)
        a_notice(c, 2, 1, OLMARA, "handed over", send_at=at, sent_at=at)
        a_notice(c, 3, 1, OLMARA, "withdrawn", send_at=at)
    assert "11:00 to 12:00: 1 gone, 1 to go" in lead.see("/")


def test_rain_of_the_week_keeps_unknown_apart_from_dry(bare, lead):
    dry = [an_amount(OLMARA, 0.0, date(2026, 12, 5)), an_amount(OLMARA, 27.4, date(2026, 12, 4))]
    with bare.begin() as c:
        keep_observations(c, dry, NOW)
    text = lead.see("/")
    row = text[text.index(">Olmara</a>") : text.index(">Setiwe</a>")]
    assert row.count("?</span>") == 5 and "<td>27</td>" in row and "<td>0</td>" in row


def test_what_waits_for_a_person_is_linked(bare, lead):
    with bare.begin() as c:
        an_inbound(c, 40, 1, b"what is this")
        c.execute(insert(t.waiting_texts).values(inbound_id=40, why="unread"))
        a_notice(c, 5, 1, OLMARA, "refused", send_at=NOW)
    text = lead.see("/")
    assert (
        "1 text that nobody could read, or asked back" in text
        and "1 text of today did not arrive" in text
    )


def test_a_day_has_25_edges_also_where_the_clock_is_put_on():
    edges = hours_of(date(2026, 4, 24), "Africa/Cairo")  # midnight to one does not exist there
    assert len(edges) == 25 and edges == sorted(edges)
    assert edges[-1] - edges[0] == timedelta(hours=23)


@pytest.mark.parametrize(
    ("carried", "drawn"),
    [
        pytest.param(None, False, id="no limit"),
        pytest.param(20.0, True, id="about as much as there is"),
        pytest.param(900.0, False, id="far more than there is"),
    ],
)
def test_the_routes_limit_is_drawn_where_it_matters(carried, drawn):
    bars = hour_bars([today_views.HourLoad(8, 2)], 8, carried)
    assert (bars.limit_y is not None) is drawn
    assert "10 texts" in bars.description


def an_amount(ward_id: int, mm: float, day: date = date(2026, 12, 6)) -> NewObservation:
    return NewObservation(ward_id, None, day, mm, False, Observer.KEEPER, "keeper")
