"""A text in doubt on the pages: who may settle it, what is asked, and what then stands there."""

from datetime import timedelta

import pytest
from page_cast import NOW, OLMARA, SETIWE, a_notice
from sqlalchemy import insert, select, update

from reminder_service.records import tables as t
from reminder_service.records.doubts import settle_as
from reminder_service.records.engine import writing

TRIED = {
    "gateway": "scripted",
    "client_reference": "text-1",
    "started_at": NOW - timedelta(hours=1),
    "ended_at": NOW - timedelta(hours=1),
    "outcome": "unsure",
    "reason": "cut after the body",
}


@pytest.fixture
def doubt(cast):
    """A text of two notices to plot 1, in doubt since an hour ago, and one of Setiwe."""
    with cast.begin() as c:
        c.execute(insert(t.attempts).values(id=1, **TRIED))
        c.execute(insert(t.attempts).values(id=2, **TRIED | {"client_reference": "text-2"}))
        sent = {"send_at": NOW - timedelta(hours=1), "attempt_id": 1}
        a_notice(c, 41, 1, OLMARA, "in doubt", **sent)
        a_notice(c, 42, 1, OLMARA, "in doubt", **sent)
        a_notice(c, 43, 3, SETIWE, "in doubt", **sent | {"attempt_id": 2})
    return cast


def row(engine, id_: int):
    with engine.connect() as c:
        return c.execute(select(t.notices).where(t.notices.c.id == id_)).one()


def attempt(engine, id_: int = 1):
    with engine.connect() as c:
        return c.execute(select(t.attempts).where(t.attempts.c.id == id_)).one()


def notes(engine) -> list[tuple]:
    with engine.connect() as c:
        known = select(t.audit).order_by(t.audit.c.id)
        return [(n.who, n.what, n.subject, n.before, n.after) for n in c.execute(known)]


def say(visitor, verdict: str, notice_id: int = 41):
    page = f"/queue/{notice_id}/settle"
    return visitor.send(page, page, verdict=verdict)


def test_the_queue_leads_to_what_can_be_said(doubt, coordinator):
    assert "/queue/41/settle" in coordinator.see("/queue?state=in_doubt")
    asked = coordinator.see("/queue/41/settle")
    assert "cut after the body" in asked
    assert "Text number 41." in asked and "Text number 42." in asked
    assert "never sent again" in asked and "reads it twice" in asked


def test_a_text_that_arrived_is_delivered_whole_and_noted(doubt, coordinator):
    assert "Noted: the text arrived." in say(coordinator, "arrived").text
    assert [row(doubt, id_).state for id_ in (41, 42)] == ["delivered"] * 2
    assert row(doubt, 41).sent_at == TRIED["started_at"]
    assert (attempt(doubt).settled_at, attempt(doubt).settled_by) == (NOW, "person")
    before, after = {"state": "in doubt"}, {"state": "delivered", "settled by": "person"}
    assert notes(doubt) == [("tembi", "settle", f"notice {id_}", before, after) for id_ in (41, 42)]


def test_a_text_that_did_not_arrive_is_not_sent_again(doubt, coordinator):
    assert "Noted: the text did not arrive." in say(coordinator, "lost").text
    assert [row(doubt, id_).state for id_ in (41, 42)] == ["undelivered"] * 2
    with doubt.connect() as c:
        assert (
            c.scalars(select(t.notices.c.id).where(t.notices.c.key.contains("again"))).all() == []
        )


def test_a_text_that_goes_again_is_queued_anew_and_noted(doubt, coordinator):
    assert "Queued once more" in say(coordinator, "again").text
    assert [row(doubt, id_).state for id_ in (41, 42)] == ["undelivered"] * 2
    with doubt.connect() as c:
        again = select(t.notices).where(t.notices.c.key.contains("again")).order_by(t.notices.c.id)
        rows = c.execute(again).all()
    assert [(r.state, r.body) for r in rows] == [("planned", row(doubt, i).body) for i in (41, 42)]
    assert {r.attempt_id for r in rows} == {None}
    assert [what for _, what, *_ in notes(doubt)] == ["settle"] * 2 + ["send again"] * 2


def test_a_settled_text_says_when_and_how_on_its_row(doubt, coordinator):
    say(coordinator, "arrived")
    line = "was in doubt; settled Sun 6 Dec, 11:00 by a person"
    assert line in coordinator.see("/queue?state=delivered")


def test_the_row_says_so_too_when_the_text_was_planned_again(doubt, coordinator):
    with writing(doubt) as c:
        by = t.SettledBy.ASKED
        settle_as(c, 1, t.NoticeState.UNDELIVERED, by=by, who="route x", at=NOW)
        c.execute(update(t.notices).where(t.notices.c.id == 41).values(attempt_id=None))
    assert "by asking the carrier" in coordinator.see("/queue?state=undelivered")


def test_a_doubt_of_another_ward_is_not_there(doubt, coordinator, lead):
    assert coordinator.client.get("/queue/43/settle").status_code == 404
    answer = coordinator.send("/queue/41/settle", "/queue/43/settle", verdict="arrived")
    assert answer.status_code == 404 and row(doubt, 43).state == "in doubt"
    assert say(lead, "arrived", 43).status_code == 200 and row(doubt, 43).state == "delivered"


def test_a_text_that_reaches_into_another_ward_is_left_to_who_sees_both(doubt, coordinator, lead):
    with doubt.begin() as c:
        c.execute(update(t.notices).where(t.notices.c.id == 42).values(ward_id=SETIWE))
    assert coordinator.client.get("/queue/41/settle").status_code == 404
    assert coordinator.send("/queue", "/queue/41/settle", verdict="lost").status_code == 404
    assert row(doubt, 41).state == "in doubt"
    say(lead, "lost")
    assert row(doubt, 41).state == "undelivered"


def test_an_auditor_settles_nothing(doubt, visit):
    auditor = visit("odala")
    assert auditor.client.get("/queue/41/settle").status_code == 403
    answer = auditor.send("/queue", "/queue/41/settle", verdict="arrived")
    assert answer.status_code == 403 and row(doubt, 41).state == "in doubt"
    assert "Settle…" not in auditor.see("/queue?state=in_doubt")


def test_what_was_settled_meanwhile_is_left_as_it_is(doubt, coordinator):
    say(coordinator, "arrived")
    answer = coordinator.send("/queue", "/queue/41/settle", verdict="again")
    assert "in doubt no more" in answer.text and row(doubt, 41).state == "delivered"
    assert (
        "in doubt no more" in coordinator.client.get("/queue/41/settle", follow_redirects=True).text
    )


def test_a_stopped_phone_is_not_texted_again(doubt, coordinator):
    with doubt.begin() as c:
        c.execute(update(t.phones).where(t.phones.c.id == 1).values(stopped_at=NOW))
    assert "Send it again" not in coordinator.see("/queue/41/settle")
    assert "texted STOP" in say(coordinator, "again").text
    assert row(doubt, 41).state == "in doubt"


def test_a_verdict_that_is_none_is_refused(doubt, coordinator):
    assert say(coordinator, "perhaps").status_code == 400


def test_a_doubt_is_not_copied_past_its_settlement(doubt, coordinator):
    assert "cannot be sent again" in coordinator.see("/queue/41/again")
