"""Calendars by a secret link, read by another library than the one that writes them."""

import re
from datetime import date, timedelta

import pytest
import vobject
from page_cast import AUDITOR, NOW, SETIWE, a_task
from sqlalchemy import update

from reminder_service.records import tables as t

one_engine = pytest.mark.parametrize("engine_name", ["sqlite"], indirect=True)


def a_link(visitor, page: str) -> str:
    made = visitor.send(page, page)
    assert made.headers["Cache-Control"] == "no-store"
    return re.search(r"<code>http://localhost(/calendar/[^<]+)</code>", made.text)[1]


def events(app, link: str) -> dict[str, object]:
    answer = app.test_client().get(link)
    assert answer.status_code == 200 and answer.content_type.startswith("text/calendar")
    read = vobject.readOne(answer.data.decode())
    return {event.summary.value: event for event in read.vevent_list}


def test_a_wards_calendar_holds_each_window_as_all_day_event(app, coordinator):
    found = events(app, a_link(coordinator, "/wards/1/calendar"))
    assert len(found) == 2
    event = next(each for summary, each in found.items() if summary.endswith("plot P001"))
    assert (event.dtstart.value, event.dtend.value) == (date(2026, 12, 5), date(2026, 12, 13))
    assert "Due Tuesday 8 December 2026. Because: 14 days after" in event.description.value


def test_a_plots_calendar_holds_that_plot_alone(app, coordinator):
    assert [s[-4:] for s in events(app, a_link(coordinator, "/plots/2/calendar"))] == ["P002"]


@one_engine
def test_a_moved_and_done_task_keeps_its_uid(app, coordinator, cast):
    link = a_link(coordinator, "/plots/1/calendar")
    before = next(iter(events(app, link).values()))
    with cast.begin() as c:
        moved = {"opens_on": date(2026, 12, 7), "done_on": date(2026, 12, 8)}
        c.execute(update(t.tasks).where(t.tasks.c.season_id == 1).values(moved))
        c.execute(update(t.seasons).values(planned_at=NOW + timedelta(days=1)))
    summary, after = next(iter(events(app, link).items()))
    assert after.uid.value == before.uid.value and summary.startswith("Done: ")
    assert after.dtstart.value == date(2026, 12, 7)
    assert after.last_modified.value > before.last_modified.value


@one_engine
def test_uids_differ_from_task_to_task(app, coordinator, cast):
    with cast.begin() as c:
        a_task(c, 1, "weed", date(2026, 12, 1))
        a_task(c, 1, "weed", date(2026, 12, 20), number=2)
    read = events(app, a_link(coordinator, "/wards/1/calendar"))
    assert len({event.uid.value for event in read.values()}) == len(read) == 4


@one_engine
def test_the_file_keeps_to_the_letter_of_the_standard(app, coordinator, cast):
    with cast.begin() as c:
        odd = "Because, it; says \\ \u00e9\n" + "long " * 40
        c.execute(update(t.tasks).where(t.tasks.c.season_id == 1).values(because=odd))
    link = a_link(coordinator, "/plots/1/calendar")
    data = app.test_client().get(link).data
    lines = data.split(b"\r\n")
    assert b"\n" not in data.replace(b"\r\n", b"") and max(map(len, lines)) <= 75
    event = next(iter(events(app, link).values()))
    assert odd.strip() in event.description.value
    assert b"Farmer" not in data and b"4477" not in data


@one_engine
@pytest.mark.parametrize(
    "wrong",
    ["/calendar/ward/1.ics", "/calendar/ward/1.ics?key=x", "/calendar/ward/2.ics?key=KEY",
     "/calendar/plot/1.ics?key=KEY"],
)  # fmt: skip
def test_a_key_opens_its_own_calendar_alone(app, coordinator, wrong):
    key = a_link(coordinator, "/wards/1/calendar").partition("key=")[2]
    assert app.test_client().get(wrong.replace("KEY", key)).status_code == 404


@one_engine
def test_an_ended_link_shows_nothing(app, coordinator):
    link = a_link(coordinator, "/wards/1/calendar")
    assert app.test_client().get(link).status_code == 200
    coordinator.send("/wards/1/calendar", "/wards/1/calendar", end="1")
    assert app.test_client().get(link).status_code == 404
    assert "no link to this calendar yet" in coordinator.see("/wards/1/calendar")


@one_engine
def test_a_link_ends_with_the_rights_of_whoever_made_it(app, coordinator, cast):
    link = a_link(coordinator, "/wards/1/calendar")
    with cast.begin() as c:
        c.execute(update(t.person_wards).values(ward_id=SETIWE))
    assert app.test_client().get(link).status_code == 404


@one_engine
def test_an_unchanged_calendar_is_not_sent_again(app, coordinator):
    link = a_link(coordinator, "/wards/1/calendar")
    tag = app.test_client().get(link).headers["ETag"]
    assert app.test_client().get(link, headers={"If-None-Match": tag}).status_code == 304


@one_engine
def test_an_auditor_makes_no_link(visit):
    auditor = visit(AUDITOR)
    assert "Make a link" not in auditor.see("/wards/1/calendar")
