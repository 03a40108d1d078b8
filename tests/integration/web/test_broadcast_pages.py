"""Writing to many farmers, on both engines: whom it reaches, what it comes to, what came back."""

from datetime import date, timedelta

import pytest
from page_cast import NOW, OLMARA, SETIWE, a_plot, a_task, an_inbound, token_in
from sqlalchemy import delete, func, insert, select, update

from reminder_service.kinds import Kind
from reminder_service.records import broadcasts
from reminder_service.records import tables as t
from reminder_service.records.broadcasts import Chosen
from reminder_service.work import broadcasting

DAYS = {"Africa/Lusaka": date(2026, 12, 6), "Africa/Nairobi": date(2026, 12, 6)}
WORDS = "Tandaluwe maize: meeting at the school on Friday at 9."


def reached(engine, chosen: Chosen, scope=None) -> list[int]:
    with engine.connect() as c:
        return [each.farmer_id for each in broadcasts.recipients(c, scope, chosen, DAYS)]


def by_hand(engine) -> list:
    of_ours = t.notices.c.task == broadcasts.TASK
    with engine.connect() as c:
        return c.execute(select(t.notices).where(of_ours).order_by(t.notices.c.id)).all()


def write(visitor, step: str, **form):
    filled = {"token": "once", "ward": [str(OLMARA)], "body-en": WORDS} | form
    return visitor.send("/write", f"/write/{step}", **filled)


def test_a_ward_reaches_its_own_farmers(cast):
    assert reached(cast, Chosen((OLMARA,))) == [1, 2]
    assert reached(cast, Chosen((OLMARA, SETIWE)), scope={OLMARA}) == [1, 2]


def test_who_stopped_on_any_phone_is_left_out(cast):
    with cast.begin() as c:
        c.execute(insert(t.phones).values(id=90, number="+447700900090", stopped_at=NOW))
        c.execute(insert(t.farmer_phones).values(farmer_id=1, phone_id=90))
    assert reached(cast, Chosen((OLMARA,))) == [2]


def test_a_phone_that_two_farmers_share_gets_one_text(cast):
    with cast.begin() as c:
        c.execute(
            update(t.farmer_phones).where(t.farmer_phones.c.farmer_id == 2).values(phone_id=1)
        )
    assert reached(cast, Chosen((OLMARA,))) == [1]


def test_only_who_is_late_and_can_still_do_it_is_chosen(cast):
    with cast.begin() as c:
        c.execute(delete(t.tasks))
        a_task(c, 1, "weed", date(2026, 12, 2))  # due 5, closes 9 December
        a_task(c, 2, "weed", date(2026, 12, 6))
    assert reached(cast, Chosen((OLMARA,), late_task="weed")) == [1]


def test_only_who_has_not_reported_is_chosen(cast):
    assert reached(cast, Chosen((OLMARA,), without=Kind.GERMINATED)) == [2]


def test_the_preview_counts_and_queues_nothing(cast, coordinator):
    text = write(coordinator, "preview").text
    assert "Send 2 texts?" in text and "2 segments in all" in text
    assert "Farmers of Olmara." in text and by_hand(cast) == []


def test_farmers_without_words_in_their_language_are_told_of(cast, coordinator):
    with cast.begin() as c:
        c.execute(update(t.farmers).where(t.farmers.c.id == 2).values(language="sw"))
    text = write(coordinator, "preview").text
    assert "Send 1 text?" in text and "1 farmer reads Swahili" in text


def test_it_is_queued_once_with_its_line_on_the_audit_log(cast, coordinator):
    first = write(coordinator, "send")
    assert first.request.path == "/write/1" or first.request.path.startswith("/write/")
    assert "was sent before" in write(coordinator, "send").text
    rows = by_hand(cast)
    assert [row.phone_id for row in rows] == [1, 2]
    assert all(
        row.body == WORDS and row.expires_at - row.send_at >= broadcasting.LIFE for row in rows
    )
    with cast.connect() as c:
        noted = select(func.count()).select_from(t.audit).where(t.audit.c.what == "write")
        assert c.execute(noted).scalar_one() == 1


def test_it_waits_for_the_sending_hours(cast, coordinator, clock):
    clock.now = NOW.replace(hour=20)  # 22:00 in Olmara
    write(coordinator, "send")
    assert by_hand(cast)[0].send_at == NOW.replace(hour=6) + timedelta(days=1)


def test_what_has_not_gone_out_is_withdrawn(cast, coordinator):
    write(coordinator, "send")
    rows = by_hand(cast)
    with cast.begin() as c:
        gone = {"state": "handed over", "sent_at": NOW}
        c.execute(update(t.notices).where(t.notices.c.id == rows[0].id).values(**gone))
    id_ = int(rows[0].key.split("/")[1])
    answer = coordinator.send(f"/write/{id_}", f"/write/{id_}/withdraw")
    assert "Withdrew 1 text" in answer.text
    assert [row.state for row in by_hand(cast)] == ["handed over", "withdrawn"]


def test_answers_are_gathered(cast, coordinator):
    write(coordinator, "send")
    rows = by_hand(cast)
    with cast.begin() as c:
        gone = {"state": "delivered", "sent_at": NOW}
        c.execute(update(t.notices).where(t.notices.c.id == rows[0].id).values(**gone))
        later = NOW + timedelta(hours=1)
        an_inbound(c, 60, 1, b"I will come", sent_at=later, received_at=later)
        an_inbound(c, 61, 2, b"who are you", sent_at=later, received_at=later)
    text = coordinator.see(f"/write/{rows[0].key.split('/')[1]}")
    assert "I will come" in text and "who are you" not in text


def test_nobody_writes_to_another_ward_or_sees_what_another_wrote(cast, coordinator, lead):
    assert write(coordinator, "send", ward=[str(SETIWE)]).status_code == 404
    write(lead, "send", ward=[str(SETIWE)])
    id_ = by_hand(cast)[0].key.split("/")[1]
    assert coordinator.client.get(f"/write/{id_}").status_code == 404


@pytest.mark.parametrize(
    ("form", "said"),
    [
        pytest.param({"body-en": " "}, "no words yet", id="no words"),
        pytest.param({"ward": []}, "No ward is ticked", id="no ward"),
        pytest.param({"body-en": "é" * 70 + "ŵ" * 400}, "shorten them to 3", id="too long"),
    ],
)
def test_what_is_missing_is_said_and_the_form_kept(cast, coordinator, form, said):
    answer = write(coordinator, "preview", **form)
    assert answer.status_code == 400 and said in answer.text
    assert by_hand(cast) == []


def test_the_form_comes_back_filled_in(cast, coordinator):
    text = write(coordinator, "change", late="weed").text
    assert WORDS in text and '<option value="weed" selected>' in text and "checked" in text


def test_an_unknown_choice_is_refused(cast, coordinator):
    assert write(coordinator, "preview", late="dig a pond").status_code == 400
    token = token_in(coordinator.see("/write"))
    bare = coordinator.client.post("/write/preview", data={"csrf_token": token})
    assert bare.status_code == 400


def test_a_new_farmer_not_let_in_is_left_out(cast):
    with cast.begin() as c:
        a_plot(c, 70, OLMARA)
        an_inbound(c, 71, 70, b"yes")
        consent = {"id": 72, "phone_id": 70, "given": True, "language": "en", "wording": "w"}
        c.execute(insert(t.consents).values(**consent, inbound_id=71, at=NOW))
        new = {"farmer_id": 70, "phone_id": 70, "consent_id": 72, "joined_at": NOW}
        c.execute(insert(t.newcomers).values(**new, decision="waiting"))
    assert reached(cast, Chosen((OLMARA,))) == [1, 2]
