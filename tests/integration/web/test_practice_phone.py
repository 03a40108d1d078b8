"""The practice phone works a text as if the farmer had sent it."""

import re

from page_cast import AUDITOR, OLMARA, a_plot, token_in
from sqlalchemy import func, select

from reminder_service.records import tables


def practise(visitor, body: str, phone: int = 2, **form):
    page = f"/practice?phone={phone}"
    return visitor.send(page, "/practice", phone=str(phone), body=body, token="t1", **form)


def count(engine, table, *where) -> int:
    with engine.connect() as c:
        return c.scalar(select(func.count()).select_from(table).where(*where))


def test_a_text_is_kept_read_and_answered(cast, coordinator):
    answer = practise(coordinator, "rain 12 nov")
    assert answer.status_code == 200
    assert "What came of it" in answer.text and "Reply: " in answer.text
    reports = tables.reports.c
    assert count(cast, tables.reports, reports.season_id == 2, reports.kind == "first-rain") == 1
    with cast.connect() as c:
        row = c.execute(select(tables.inbound).where(tables.inbound.c.gateway == "practice")).one()
    assert row.body == b"rain 12 nov" and row.sender == "+447700900002"
    assert row.message_id == "person-2-t1"  # leaves a trace of who wrote it


def test_what_changed_in_the_plan_is_told(coordinator):
    text = practise(coordinator, "rain 12 nov").text
    outcome = text.split("<h2>What came of it")[1].split("</section>")[0]
    assert "Nothing in the plan has changed" not in outcome and "<li>" in outcome


def test_a_page_sent_twice_is_one_text(cast, coordinator):
    practise(coordinator, "rain 12 nov")
    again = practise(coordinator, "rain 12 nov")
    assert "worked once" in again.text
    assert count(cast, tables.inbound, tables.inbound.c.gateway == "practice") == 1


def test_an_empty_text_is_answered_too(cast, coordinator):
    answer = practise(coordinator, "")
    assert answer.status_code == 200 and "Nothing in the plan has changed" in answer.text


def test_letters_beyond_ascii_are_counted_and_shown(coordinator):
    answer = practise(coordinator, "mvua ☔ leo")
    assert "mvua ☔ leo" in answer.text and "Your text: 1 segment" in answer.text


def test_each_page_brings_a_fresh_token(coordinator):
    found = [
        re.search(r'name="token" value="(\w+)"', coordinator.see("/practice?phone=1"))[1]
        for _ in range(2)
    ]
    assert found[0] != found[1]


def test_a_real_gateway_is_named_before_anything_is_sent(coordinator):
    assert "by the gateway scripted" in coordinator.see("/practice?phone=1")


def test_phones_are_found_by_name(cast, coordinator):
    with cast.begin() as c:
        a_plot(c, 60, OLMARA, farmer="Zuberi Anwalo")
    text = coordinator.see("/practice?name=zube")
    assert "Zuberi Anwalo" in text and "Farmer 001" not in text
    assert "No farmer of your wards has" in coordinator.see("/practice?name=qq")


def test_a_phone_number_that_is_none_is_refused(coordinator):
    token = token_in(coordinator.see("/"))
    form = {"csrf_token": token, "phone": "x", "body": "rain"}
    assert coordinator.client.post("/practice", data=form).status_code == 400


def test_an_invented_number_can_join(cast, coordinator):
    taken = coordinator.send("/practice", "/practice/new")
    phone = int(taken.request.args["phone"])
    page = taken.text
    assert "an invented number of nobody" in page and "Write JOIN" in page
    practise(coordinator, "JOIN", phone)
    assert count(cast, tables.joinings, tables.joinings.c.phone_id == phone) == 1


def test_a_real_number_of_nobody_is_not_to_be_written_from(cast, coordinator):
    with cast.begin() as c:
        c.execute(tables.phones.insert().values(id=77, number="+441632960001"))
    assert coordinator.client.get("/practice?phone=77").status_code == 404


def test_an_auditor_takes_no_number(visit):
    auditor = visit(AUDITOR)
    token = token_in(auditor.see("/practice"))
    assert auditor.client.post("/practice/new", data={"csrf_token": token}).status_code == 403
