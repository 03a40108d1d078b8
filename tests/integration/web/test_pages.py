"""What the pages show, how heavy they are, and how many statements they take."""

import json
from datetime import date, timedelta

import pytest
from page_cast import (
    NOW,
    OLMARA,
    a_notice,
    a_plot,
    a_task,
    an_inbound,
    statements,
)
from sqlalchemy import insert, update

from reminder_service.records import tables

PAGES = [
    "/",
    "/wards",
    "/wards/1",
    "/wards/1/inputs",
    "/queue",
    "/plots/1",
    "/practice",
    "/practice?phone=1",
    "/unread",
    "/write",
]
HEAVIEST = 100_000
NAUGHTY = "<script>alert('x')</script>"


def a_full_ward(engine, plots: int, texts_a_plot: int) -> None:
    body = "Plot P100: thinning opens Sat 5 Dec and closes Sat 12 Dec. " * 5
    with engine.begin() as c:
        for id_ in range(100, 100 + plots):
            a_plot(c, id_, OLMARA)
            for number in range(1, 13):
                a_task(c, id_, "weed", date(2026, 11, 1) + timedelta(days=20 * number), number)
            for kind, day in (("first-rain", 12), ("germinated", 21)):
                c.execute(
                    insert(tables.reports).values(
                        season_id=id_, kind=kind, on=date(2026, 11, day), sent_at=NOW
                    )
                )
            for number in range(texts_a_plot):
                a_notice(c, 1000 * id_ + number, id_, OLMARA, body=body[:300], segments=2)


@pytest.mark.parametrize("page", [*PAGES, "/plots/100", "/queue?state=any", "/login"])
def test_a_first_load_stays_under_100_kb(app, lead, cast, page):
    a_full_ward(cast, plots=30, texts_a_plot=12)
    text = lead.see(page)
    with lead.client.get("/static/page.css") as style:
        assert len(text.encode()) + len(style.data) < HEAVIEST
    assert "<script" not in text and " style=" not in text and " onclick" not in text


@pytest.mark.parametrize(
    "page", ["/", "/wards", "/wards/1", "/queue", "/plots/1", "/practice?phone=1"]
)
def test_statements_do_not_grow_with_rows(cast, lead, page):
    with statements(cast) as few:
        lead.see(page)
    a_full_ward(cast, plots=20, texts_a_plot=3)
    with cast.begin() as c:
        for id_ in range(200, 220):
            a_notice(c, id_, 1, OLMARA)
            an_inbound(c, id_, 1, b"help")
    with statements(cast) as many:
        lead.see(page)
    assert len(many) == len(few) <= 12


def test_names_and_texts_are_shown_as_text(cast, lead):
    with cast.begin() as c:
        c.execute(update(tables.farmers).values(name=NAUGHTY))
        c.execute(update(tables.wards).where(tables.wards.c.id == 1).values(name=NAUGHTY))
        c.execute(update(tables.notices).values(body=NAUGHTY, reason=NAUGHTY))
        c.execute(update(tables.tasks).values(because=NAUGHTY))
        an_inbound(c, 40, 1, NAUGHTY.encode(), read_as={"unread": True})
    for page in (*PAGES, "/queue/11/again", f"/practice?name={NAUGHTY}"):
        text = lead.see(page)
        assert "<script" not in text, page
    assert "&lt;script&gt;" in lead.see("/plots/1")


def test_the_overview_links_into_ward_and_queue(cast, lead):
    with cast.begin() as c:
        a_task(c, 1, "weed", date(2026, 11, 20))
    text = lead.see("/wards")
    assert 'href="/wards/1?show=late">1 (1 closed)</a>' in text
    assert 'href="/queue?ward=1&amp;state=not-arrived">1</a>' in text
    assert "Text number 11." in lead.see("/queue?ward=1&state=not-arrived")


def test_a_ward_shows_what_is_late_and_what_comes_next(cast, coordinator):
    with cast.begin() as c:
        a_task(c, 2, "weed", date(2026, 11, 20))
    text = coordinator.see("/wards/1")
    assert "due Tue 8 Dec." in text
    assert "closed Fri 27 Nov" in text
    only_late = coordinator.see("/wards/1?show=late")
    assert "Plot P002" in only_late and "Plot P001" not in only_late


def test_a_ward_is_leafed_through(cast, coordinator):
    a_full_ward(cast, plots=30, texts_a_plot=0)
    first = coordinator.see("/wards/1")
    assert 'href="/wards/1?after=P122"' in first
    second = coordinator.see("/wards/1?after=P122")
    assert "Plot P123" in second and "Plot P122<" not in second and "More plots" not in second


def test_the_queue_tells_time_in_the_wards_zone(lead):
    text = lead.see("/queue")
    assert "Sun 6 Dec, 12:00" in text  # 10:00 UTC in Olmara
    assert "Sun 6 Dec, 15:00" in text  # 12:00 UTC in Setiwe


def test_the_queue_is_leafed_through_without_losing_the_sieve(cast, lead):
    a_full_ward(cast, plots=5, texts_a_plot=12)
    page, seen = "/queue?ward=1&state=planned", []
    while page:
        text = lead.see(page)
        seen += [part.split('"')[0] for part in text.split('name="id" value="')[1:]]
        onward = text.split('<a href="/queue?')[-1].split('">More texts')
        page = "/queue?" + onward[0].replace("&amp;", "&") if len(onward) > 1 else None
    assert len(seen) == len(set(seen)) == 62


@pytest.mark.parametrize(
    "address",
    [
        "/queue?state=lost",
        "/queue?day=tomorrow",
        "/queue?ward=one",
        "/queue?after=nowhere",
        "/queue?after=2026-12-06T10:00:00~1",
        "/queue?ward=99999999999999999999",
        "/practice?phone=x",
    ],
)
def test_an_address_that_makes_no_sense_says_what_to_do(lead, address):
    answer = lead.client.get(address)
    assert answer.status_code == 400
    assert "load the page again" in answer.text


def test_the_plot_page_holds_strip_table_and_conversation(cast, coordinator):
    with cast.begin() as c:
        c.execute(
            update(tables.notices)
            .where(tables.notices.c.id == 11)
            .values(state="delivered", sent_at=NOW + timedelta(minutes=1))
        )
    text = coordinator.see("/plots/1")
    assert '<svg viewBox="' in text and 'role="img"' in text
    assert "<desc" in text and "germinated Sat 21 Nov" in text
    assert "14 days after germination on 21 November" in text
    asked, answered = text.index("germinated 21 nov"), text.index("Text number 11.")
    assert asked < answered  # in the order of time


def test_an_estimated_day_is_marked_in_strip_and_table(cast, coordinator):
    with cast.begin() as c:
        a_task(c, 1, "rotate", date(2027, 1, 5), basis="estimated", estimated=["due"], because="b")
    text = coordinator.see("/plots/1")
    assert 'class="window estimated"' in text
    assert 'Fri 8 Jan <span class="faint">estimated</span>' in text


def test_an_empty_plot_says_what_to_do_first(cast, coordinator):
    with cast.begin() as c:
        a_plot(c, 50, OLMARA)
    text = coordinator.see("/plots/50")
    assert "No task has a date yet" in text and "No text has gone either way" in text


def test_a_long_list_of_reminders_is_folded(cast, coordinator):
    with cast.begin() as c:
        for id_ in range(30, 40):
            a_notice(c, id_, 1, OLMARA)
        a_notice(c, 41, 1, OLMARA, "expired")
    text = coordinator.see("/plots/1")
    assert "<summary>6 later reminders</summary>" in text
    assert "<summary>2 reminders withdrawn, expired or refused</summary>" in text


def test_a_stopped_phone_is_marked(cast, coordinator):
    with cast.begin() as c:
        c.execute(update(tables.phones).where(tables.phones.c.id == 1).values(stopped_at=NOW))
    assert "stopped: no reminders go there" in coordinator.see("/plots/1")
    assert "Only the farmer can start again" in coordinator.see("/queue/11/again")


def test_unread_texts_are_listed(cast, coordinator):
    assert "could be read" in coordinator.see("/unread")
    with cast.begin() as c:
        an_inbound(c, 40, 1, b"mvua imenyesha", read_as={"unread": True})
    assert "mvua imenyesha" in coordinator.see("/unread")


def test_no_page_runs_foreign_code_or_is_framed(app):
    headers = app.test_client().get("/login").headers
    policy = headers["Content-Security-Policy"]
    assert "default-src 'self'" in policy and "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "same-origin"


@pytest.mark.parametrize(
    ("method", "address", "code", "words"),
    [
        pytest.param("get", "/nowhere", 404, "Start again from your wards", id="no such page"),
        pytest.param("delete", "/login", 405, "use the buttons", id="no such method"),
    ],
)
def test_faults_say_what_to_do(app, method, address, code, words):
    answer = getattr(app.test_client(), method)(address)
    assert answer.status_code == code
    assert words in " ".join(answer.text.split())


def test_too_much_at_once_is_refused(lead):
    answer = lead.client.post("/practice", data={"body": "x" * 300_000})
    assert answer.status_code == 413


def test_a_fault_of_ours_shows_no_traceback(app, monkeypatch):
    def broken(*_):
        raise RuntimeError("secret detail")

    monkeypatch.setitem(app.view_functions, "login.page", broken)
    answer = app.test_client().get("/login")
    assert answer.status_code == 500
    assert "secret detail" not in answer.text and "try again" in answer.text


def test_health_tells_of_the_database_and_the_ticks(app, cast):
    with cast.begin() as c:
        c.execute(insert(tables.ticks).values(name="dispatch", started_at=NOW, error="it broke"))
    answer = app.test_client().get("/health")
    assert answer.status_code == 200
    told = json.loads(answer.text)
    assert told["database"] is True
    assert told["ticks"]["dispatch"] == {
        "started_at": NOW.isoformat(),
        "ended_at": None,
        "failed": True,
    }
    assert "it broke" not in answer.text


def test_health_fails_when_the_database_does(app, cast, monkeypatch):
    from sqlalchemy.exc import OperationalError

    from reminder_service.records import ticks

    def away(_):
        raise OperationalError("select", {}, Exception("gone"))

    monkeypatch.setattr(ticks, "ticks", away)
    answer = app.test_client().get("/health")
    assert (answer.status_code, json.loads(answer.text)["database"]) == (503, False)
