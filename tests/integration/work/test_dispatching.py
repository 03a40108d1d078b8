"""What leaves, when, and what becomes of it, on both engines."""

from datetime import timedelta

import pytest
from scripted_gateway import ScriptedGateway
from season_cast import AMINA, a_programme, local

from gateways.errors import Refused, TryLater, Unsure
from gateways.protocol import Abilities, Taken
from reminder_service.records import queue
from reminder_service.records.engine import writing
from reminder_service.work.dispatch import sweep

KEEPS_REFERENCES = Abilities(client_reference=True, receipts=False, inbound=False)


def a_due_programme(engine, *answers, abilities=None, **settings):
    """A programme at ten in the morning with one notice due: thinning opens."""
    gateway = ScriptedGateway(answers, **({"abilities": abilities} if abilities else {}))
    programme = a_programme(engine, local("2026-12-05", "10:00"), gateway, **settings)
    programme.plot("1")
    programme.text("GERM 21/11")
    return programme, gateway


def states(programme) -> list[str]:
    return [row["state"] for row in programme.rows() if row["send_at"] <= programme.clock()]


def test_what_is_due_is_handed_over_with_its_attempt(engine):
    programme, gateway = a_due_programme(engine)
    programme.at("2026-12-05", "10:30")
    assert set(states(programme)) == {"handed over"}
    attempts = programme.rows("attempts")
    assert {attempt["outcome"] for attempt in attempts} == {"taken"}
    assert len(attempts) == len(gateway.offered)


def test_notices_of_one_phone_leave_as_one_text(engine):
    programme, gateway = a_due_programme(engine, segment_limit=4)
    programme.at("2026-12-05", "17:00")
    reminders = [m for m in gateway.offered if "Thank you" not in m.body]
    due = [r for r in programme.rows() if r["stage"] != "reply" and r["state"] == "handed over"]
    assert len(due) > len(reminders) == 1
    assert all(row["body"] in reminders[0].body for row in due)


def test_a_refusal_is_final_and_its_reason_is_kept(engine):
    programme, _ = a_due_programme(engine, Refused("the number is not in use"))
    programme.dispatch()
    assert programme.rows(stage="reply")[0]["state"] == "refused"
    assert programme.rows(stage="reply")[0]["reason"] == "the number is not in use"


def test_a_wait_is_kept_and_grows(engine):
    programme, _ = a_due_programme(engine, TryLater("busy", 1), TryLater("busy", 1), Taken("ok"))
    asked_at = programme.clock()
    programme.dispatch()
    first = programme.rows(stage="reply")[0]
    assert (first["state"], first["send_at"] - asked_at) == ("waiting", timedelta(seconds=60))
    programme.clock.now = first["send_at"]
    programme.dispatch()
    second = programme.rows(stage="reply")[0]
    assert second["send_at"] - first["send_at"] == timedelta(seconds=120)
    programme.clock.now = second["send_at"]
    programme.dispatch()
    assert programme.rows(stage="reply")[0]["state"] == "handed over"


def test_a_gateway_may_ask_for_a_longer_wait(engine):
    programme, _ = a_due_programme(engine, TryLater("busy", 1800))
    asked_at = programme.clock()
    programme.dispatch()
    assert programme.rows(stage="reply")[0]["send_at"] - asked_at == timedelta(minutes=30)


def test_tries_run_out(engine):
    programme, _ = a_due_programme(engine, *[TryLater("busy", 1)] * 9, retry_attempts=2)
    for _ in range(3):
        programme.dispatch()
        programme.clock.now += timedelta(minutes=10)
    reply = programme.rows(stage="reply")[0]
    assert (reply["state"], reply["tries"]) == ("refused", 2)
    assert "given up after 2 tries" in reply["reason"]


def test_a_retry_never_falls_outside_the_hours(engine):
    programme, _ = a_due_programme(engine)
    programme.at("2026-12-05", "17:59")
    programme.services.gateways["console"]._answers.extend([TryLater("busy", 600)])
    programme.text("GERM 20/11")
    programme.dispatch()
    for row in programme.rows(state="waiting"):
        if row["stage"] != "reply":
            assert row["send_at"] >= local("2026-12-06", "08:00")


def test_doubt_stays_for_a_person_where_repeats_are_not_dropped(engine):
    programme, gateway = a_due_programme(engine, Unsure("the line was cut"))
    programme.dispatch()
    programme.clock.now += timedelta(hours=2)
    programme.dispatch()
    assert programme.rows(stage="reply")[0]["state"] == "in doubt"
    assert [m.body for m in gateway.offered].count(programme.rows(stage="reply")[0]["body"]) == 1


def test_doubt_goes_out_again_under_the_same_reference_where_repeats_are_dropped(engine):
    programme, gateway = a_due_programme(
        engine, Unsure("the line was cut"), abilities=KEEPS_REFERENCES
    )
    programme.dispatch()
    programme.clock.now += timedelta(minutes=5)
    programme.dispatch()
    assert programme.rows(stage="reply")[0]["state"] == "handed over"
    assert gateway.offered[0].reference in [m.reference for m in gateway.offered[1:]]


@pytest.mark.parametrize("answer", [TryLater("busy", 1), Unsure("cut again")], ids=["later", "cut"])
def test_doubt_that_is_not_cleared_stays_doubt(engine, answer):
    programme, gateway = a_due_programme(
        engine, Unsure("the line was cut"), answer, abilities=KEEPS_REFERENCES
    )
    programme.dispatch()
    programme.clock.now += timedelta(minutes=5)
    with writing(programme.services.engine) as c:
        queue.expire(c, programme.clock())
    # Only the reply is left to send, so the second answer is for it.
    programme.services.gateways["console"]._answers.clear()
    programme.services.gateways["console"]._answers.extend([answer])
    programme.dispatch()
    assert programme.rows(stage="reply")[0]["state"] == "in doubt"
    assert gateway.offered[-1].body == programme.rows(stage="reply")[0]["body"]


def test_a_lapsed_lease_brings_back_what_was_never_tried(engine):
    programme, gateway = a_due_programme(engine)
    now = programme.clock()
    with writing(programme.services.engine) as c:
        taken = queue.claim_due(
            c, now=now, claim="lost", lease_until=now + timedelta(minutes=2), limit=10
        )
    assert taken and {row["state"] for row in programme.rows(claim="lost")} == {"claimed"}
    programme.dispatch()
    assert gateway.offered == []
    programme.clock.now += timedelta(minutes=3)
    returned, doubtful, _ = sweep(programme.services)
    assert (returned, doubtful) == (len(taken), 0)
    programme.dispatch()
    assert set(states(programme)) == {"handed over"}


def test_a_lapsed_lease_puts_in_doubt_what_was_tried(engine):
    programme, _ = a_due_programme(engine)
    now = programme.clock()
    with writing(programme.services.engine) as c:
        taken = queue.claim_due(
            c, now=now, claim="lost", lease_until=now + timedelta(minutes=2), limit=1
        )
        queue.begin_attempt(
            c,
            notice_ids=[taken[0].id],
            claim="lost",
            gateway="scripted",
            client_reference="r1",
            at=now,
        )
    programme.clock.now += timedelta(minutes=3)
    assert sweep(programme.services)[1] == 1
    assert programme.rows(id=taken[0].id)[0]["state"] == "in doubt"
    assert programme.rows("attempts")[0]["outcome"] == "unsure"


def test_a_late_worker_cannot_overwrite_what_was_settled_meanwhile(engine):
    from reminder_service.records.tables import Outcome

    programme, _ = a_due_programme(engine)
    now = programme.clock()
    with writing(programme.services.engine) as c:
        taken = queue.claim_due(
            c, now=now, claim="slow", lease_until=now + timedelta(minutes=2), limit=1
        )
        attempt_id, _ids = queue.begin_attempt(
            c,
            notice_ids=[taken[0].id],
            claim="slow",
            gateway="scripted",
            client_reference="r1",
            at=now,
        )
    programme.clock.now += timedelta(minutes=3)
    sweep(programme.services)
    with writing(programme.services.engine) as c:
        changed = queue.end_attempt(
            c, attempt_id=attempt_id, claim="slow", outcome=Outcome.REFUSED, at=programme.clock()
        )
    assert changed == 0
    assert programme.rows(id=taken[0].id)[0]["state"] == "in doubt"


def test_what_was_due_in_an_outage_waits_for_the_hours(engine):
    programme, gateway = a_due_programme(engine)
    programme.dispatch()
    sent = len(gateway.offered)
    due = [row["send_at"] for row in programme.rows(state="planned")]
    programme.clock.now = local(min(due).date(), "20:00")
    sweep(programme.services)
    programme.dispatch()
    assert len(gateway.offered) == sent
    assert all(row["send_at"] > programme.clock() for row in programme.rows(state="planned"))


def test_what_nobody_could_send_in_time_expires_in_sight(engine):
    programme, gateway = a_due_programme(engine)
    programme.clock.now = local("2028-01-01")
    sweep(programme.services)
    programme.dispatch()
    assert gateway.offered == []
    assert {row["state"] for row in programme.rows()} <= {"expired", "withdrawn"}


def test_texts_go_to_the_phone_they_are_for(engine):
    programme, gateway = a_due_programme(engine)
    programme.at("2026-12-05", "17:00")
    assert {message.to for message in gateway.offered} == {AMINA}
