"""Texts in doubt: asked for, left to the policy, settled once: on both engines."""

from dataclasses import replace
from datetime import timedelta
from itertools import pairwise

import pytest
from asking_gateway import ASKED, AskingGateway, PolledGateway
from scripted_gateway import NO_PROMISES, ScriptedGateway
from season_cast import AMINA, a_programme, local
from sqlalchemy import update

from gateways.errors import TryLater, Unsure
from gateways.protocol import Incoming, NotKnown, Receipt, ReceiptState
from reminder_service.records import farmers
from reminder_service.records import tables as t
from reminder_service.records.engine import writing
from reminder_service.work import ticks
from reminder_service.work.at_once import at_once
from reminder_service.work.dispatch import sweep
from reminder_service.work.doubts import (
    FIRST_ASK,
    LONGEST_WAIT,
    MOST_ASKS,
    Settled,
    follow_policy,
    settle_doubts,
)
from reminder_service.work.events import keep_event, match_receipts, poll_carriers

MORNING = local("2026-11-25", "10:00")
MINUTE = timedelta(minutes=1)


def receipt(state: ReceiptState, reference: str | None = None, **fields) -> Receipt:
    known = {"client_reference": None, "at": MORNING, "reason": ""}
    return Receipt(reference=reference, state=state, **(known | fields))


def programme_with(engine, *gateways, **settings):
    """A programme with one plot whose texts go by the first of some gateways."""
    programme = a_programme(engine, MORNING, **settings)
    named = {gateway.name: gateway for gateway in gateways}
    programme.services = replace(programme.services, gateways=named, routes=())
    programme.plot("1")
    return programme


def in_doubt(engine, *said, abilities=ASKED, **settings):
    """A reply in doubt, old enough to be asked for, at a carrier that says some things."""
    gateway = AskingGateway([Unsure("cut after the body")], said, abilities)
    programme = programme_with(engine, gateway, **settings)
    programme.text("HELP")
    programme.dispatch()
    assert programme.rows()[-1]["state"] == "in doubt"
    programme.clock.now += FIRST_ASK
    return programme, gateway


def left_to_the_policy(engine, policy: str, **settings):
    """A reply in doubt for longer than the policy's wait, at a carrier that cannot be asked."""
    programme, gateway = in_doubt(engine, abilities=NO_PROMISES, doubt_policy=policy, **settings)
    programme.clock.now += timedelta(seconds=programme.services.settings.doubt_wait_s)
    return programme, gateway


def the_reply(programme) -> dict:
    return programme.rows(stage="reply")[-1]


def settlements(programme) -> list[tuple[str, str]]:
    return [(n["who"], n["after"]["settled by"]) for n in programme.rows("audit", what="settle")]


@pytest.mark.parametrize(
    ("said", "state"),
    [
        pytest.param(ReceiptState.DELIVERED, "delivered", id="delivered"),
        pytest.param(ReceiptState.UNDELIVERED, "undelivered", id="undelivered"),
        pytest.param(ReceiptState.UNDERWAY, "handed over", id="under way"),
    ],
)
def test_an_answer_settles_a_doubt_and_is_on_record(engine, said, state):
    programme, _ = in_doubt(engine, receipt(said, "carrier-9", reason="001"))
    assert settle_doubts(programme.services) == Settled(asked=1, by_answer=1)
    reply, (attempt,) = the_reply(programme), programme.rows("attempts")
    assert (reply["state"], reply["reason"]) == (state, "001")
    assert reply["sent_at"] == attempt["started_at"]
    assert (attempt["settled_by"], attempt["settled_at"]) == ("asked", programme.clock())
    assert (attempt["outcome"], attempt["carrier_reference"]) == ("unsure", "carrier-9")
    assert settlements(programme) == [("route asking", "asked")]
    (kept,) = programme.rows("receipts")
    assert (kept["attempt_id"], kept["state"]) == (attempt["id"], said.value)


def test_the_question_names_the_phone_the_reference_and_the_time(engine):
    programme, gateway = in_doubt(engine, NotKnown())
    settle_doubts(programme.services)
    (question,) = gateway.questions
    assert (question.to, question.reference, question.sent_at) == (AMINA, None, MORNING)
    assert question.client_reference == gateway.offered[0].reference


def test_what_the_carrier_never_took_goes_again(engine):
    programme, gateway = in_doubt(engine, NotKnown())
    settle_doubts(programme.services)
    reply = the_reply(programme)
    assert (reply["state"], reply["attempt_id"]) == ("planned", None)
    assert "does not know it" in reply["reason"]
    programme.dispatch()
    assert the_reply(programme)["state"] == "handed over"
    assert len(gateway.offered) == 2
    assert settlements(programme) == [("route asking", "asked")]


def test_what_came_to_be_useless_meanwhile_does_not_go_again(engine):
    programme, _ = in_doubt(engine, NotKnown())
    programme.clock.now = the_reply(programme)["expires_at"]
    settle_doubts(programme.services)
    reply = the_reply(programme)
    assert (reply["state"], reply["reason"]) == ("expired", "not sent again: too late to be of use")


def test_a_reminder_to_a_stopped_phone_does_not_go_again(engine):
    programme, _ = in_doubt(engine, NotKnown())
    with writing(engine) as c:
        c.execute(update(t.notices).where(t.notices.c.stage == "reply").values(stage="nudge"))
        farmers.stop_phone(c, the_reply_phone(programme), programme.clock())
    settle_doubts(programme.services)
    (nudge,) = programme.rows(stage="nudge")
    assert (nudge["state"], nudge["reason"]) == (
        "withdrawn",
        "not sent again: the farmer said stop",
    )


def the_reply_phone(programme) -> int:
    return programme.rows("phones")[0]["id"]


def test_tries_are_bounded(engine):
    programme, _ = in_doubt(engine, NotKnown(), retry_attempts=1)
    settle_doubts(programme.services)
    assert the_reply(programme)["state"] == "refused"


def test_a_fresh_try_may_still_be_on_its_way_and_is_not_asked_for(engine):
    programme, gateway = in_doubt(engine, NotKnown())
    programme.clock.now -= timedelta(seconds=1)
    assert settle_doubts(programme.services).asked == 0
    assert gateway.questions == []


def test_questions_come_after_growing_waits_and_end(engine):
    programme, _ = in_doubt(engine)
    with writing(engine) as c:
        far = programme.clock() + timedelta(days=30)
        c.execute(update(t.notices).values(expires_at=far))
    asked = []
    for _ in range(24 * 60):
        if settle_doubts(programme.services).asked:
            asked.append(programme.clock())
        programme.clock.now += MINUTE
    waits = [(b - a) for a, b in pairwise(asked)]
    assert len(asked) == MOST_ASKS
    assert waits[:5] == [2 * MINUTE, 4 * MINUTE, 8 * MINUTE, 16 * MINUTE, 32 * MINUTE]
    assert set(waits[5:]) == {LONGEST_WAIT}
    assert the_reply(programme)["state"] == "in doubt"


def test_a_text_is_asked_for_once_more_shortly_before_it_expires(engine):
    programme, _ = in_doubt(engine)
    soon = programme.clock() + 30 * MINUTE
    with writing(engine) as c:
        c.execute(update(t.notices).where(t.notices.c.stage == "reply").values(expires_at=soon))
    asked = []
    for _ in range(30):
        if settle_doubts(programme.services).asked:
            asked.append(soon - programme.clock())
        programme.clock.now += MINUTE
    assert 10 * MINUTE in asked


def test_a_carrier_is_not_asked_sooner_than_it_wishes(engine):
    programme, _ = in_doubt(engine, TryLater("busy", 3600), NotKnown())
    settle_doubts(programme.services)
    programme.clock.now += 59 * MINUTE
    assert settle_doubts(programme.services).asked == 0
    programme.clock.now += MINUTE
    assert settle_doubts(programme.services).by_answer == 1


def test_a_carrier_that_can_never_say_is_not_asked_again(engine):
    programme, gateway = in_doubt(engine, Unsure("no such service"))
    for _ in range(3):
        settle_doubts(programme.services)
        programme.clock.now += timedelta(hours=2)
    assert len(gateway.questions) == 1
    assert the_reply(programme)["state"] == "in doubt"


def test_what_cannot_be_said_is_left_to_the_policy(engine):
    programme, _ = in_doubt(engine, Unsure("no such service"), doubt_policy="count as sent")
    settle_doubts(programme.services)
    programme.clock.now += timedelta(hours=1)
    assert settle_doubts(programme.services).by_policy == 1


def test_nothing_is_asked_inside_a_transaction(engine):
    programme, gateway = in_doubt(engine, NotKnown())
    gateway.meanwhile = lambda: programme.text("WHY")  # writes from a connection of its own
    assert settle_doubts(programme.services).by_answer == 1


def test_a_receipt_that_comes_while_the_carrier_is_asked_wins(engine):
    programme, gateway = in_doubt(engine, NotKnown())

    def meanwhile() -> None:
        ours = gateway.offered[0].reference
        keep_event(
            programme.services, "asking", receipt(ReceiptState.DELIVERED, client_reference=ours)
        )
        match_receipts(programme.services)

    gateway.meanwhile = meanwhile
    assert settle_doubts(programme.services) == Settled(asked=1, by_answer=0)
    assert the_reply(programme)["state"] == "delivered"
    assert settlements(programme) == [("route asking", "receipt")]


def test_a_question_is_put_by_one_worker_alone(engine):
    programme, gateway = in_doubt(engine, NotKnown())
    gateway.meanwhile = lambda: settle_doubts(programme.services)
    settle_doubts(programme.services)
    assert len(gateway.questions) == 1
    assert the_reply(programme)["state"] == "planned"


def test_two_workers_that_hear_the_same_answer_do_no_harm(engine):
    programme, gateway = in_doubt(engine, NotKnown(), NotKnown())

    def meanwhile() -> None:
        if len(gateway.questions) == 1:
            programme.clock.now += timedelta(hours=1)
            settle_doubts(programme.services)
            programme.dispatch()

    gateway.meanwhile = meanwhile
    settle_doubts(programme.services)
    assert len(gateway.questions) == 2 and len(gateway.offered) == 2
    assert the_reply(programme)["state"] == "handed over"
    assert settlements(programme) == [("route asking", "asked")]


def test_a_carriers_fault_keeps_no_other_from_being_asked(engine):
    programme, gateway = in_doubt(engine, NotKnown())
    other = AskingGateway([Unsure("cut")], [ValueError("a fault of its own")])
    other.name = "broken"
    programme.services = replace(programme.services, gateways={"broken": other}, routes=())
    programme.text("HELP")
    programme.dispatch()
    programme.clock.now += FIRST_ASK
    both = {"broken": other, "asking": gateway}
    programme.services = replace(programme.services, gateways=both, routes=())
    ticks.tick(programme.services, "doubts")
    assert {row["state"] for row in programme.rows(stage="reply")} == {"planned", "in doubt"}
    assert programme.rows("ticks")[0]["error"] == "ValueError: a fault of its own"


def test_a_text_handed_over_is_asked_for_when_no_receipt_came_in_a_day(engine):
    gateway = AskingGateway(said=[receipt(ReceiptState.DELIVERED)])
    gateway.abilities = replace(ASKED, receipts=True)
    programme = programme_with(engine, gateway)
    programme.text("HELP")
    programme.dispatch()
    programme.clock.now += timedelta(hours=23)
    assert settle_doubts(programme.services).asked == 0
    programme.clock.now += timedelta(hours=2)
    assert settle_doubts(programme.services) == Settled(asked=1, by_answer=1)
    assert the_reply(programme)["state"] == "delivered"
    assert gateway.questions[0].reference == "scripted-1"
    assert settlements(programme) == []  # it was never in doubt


def handed_over(engine, *said):
    """A text handed over a while ago to a carrier that sends no receipts."""
    gateway = AskingGateway(said=said)
    programme = programme_with(engine, gateway)
    programme.text("HELP")
    programme.dispatch()
    programme.clock.now += 15 * MINUTE
    return programme, gateway


def test_a_carrier_without_receipts_is_asked_soon(engine):
    programme, _ = handed_over(engine, receipt(ReceiptState.UNDELIVERED, reason="no such phone"))
    settle_doubts(programme.services)
    assert the_reply(programme)["state"] == "undelivered"
    assert the_reply(programme)["reason"] == "no such phone"


def test_what_is_under_way_is_asked_for_again_until_it_is_forgotten(engine):
    programme, gateway = handed_over(engine, *[receipt(ReceiptState.UNDERWAY)] * 50)
    for _ in range(10 * 24):
        settle_doubts(programme.services)
        programme.clock.now += timedelta(hours=1)
    assert 5 <= len(gateway.questions) <= MOST_ASKS
    assert the_reply(programme)["state"] == "handed over"
    assert programme.rows("receipts") == []


def test_what_a_carrier_has_forgotten_is_not_sent_again(engine):
    programme, gateway = handed_over(engine, NotKnown())
    for _ in range(5):
        settle_doubts(programme.services)
        programme.clock.now += timedelta(hours=12)
    assert len(gateway.questions) == 1
    assert the_reply(programme)["state"] == "handed over"


def test_a_carrier_that_cannot_be_asked_is_not_asked(engine):
    programme, gateway = in_doubt(engine, abilities=NO_PROMISES)
    assert settle_doubts(programme.services) == Settled()
    assert gateway.questions == []


def test_a_text_in_doubt_waits_for_a_person_unless_the_policy_says_otherwise(engine):
    programme, _ = left_to_the_policy(engine, "person")
    programme.clock.now += timedelta(days=10)
    assert follow_policy(programme.services) == 0
    assert the_reply(programme)["state"] == "in doubt"


def test_the_policy_sends_again(engine):
    programme, gateway = left_to_the_policy(engine, "send again")
    assert settle_doubts(programme.services).by_policy == 1
    programme.dispatch()
    assert the_reply(programme)["state"] == "handed over" and len(gateway.offered) == 2
    assert settlements(programme) == [("policy: send again", "policy")]


def test_the_policy_counts_as_sent_and_a_receipt_may_still_come(engine):
    programme, gateway = left_to_the_policy(engine, "count as sent")
    assert follow_policy(programme.services) == 1
    assert the_reply(programme)["state"] == "handed over"
    ours = gateway.offered[0].reference
    keep_event(programme.services, "asking", receipt(ReceiptState.DELIVERED, client_reference=ours))
    match_receipts(programme.services)
    assert the_reply(programme)["state"] == "delivered"
    assert settlements(programme) == [("policy: count as sent", "policy")]


def test_the_policy_waits_as_long_as_it_is_told(engine):
    programme, _ = left_to_the_policy(engine, "send again", doubt_wait_s=7200)
    programme.clock.now -= FIRST_ASK + timedelta(seconds=1)
    assert follow_policy(programme.services) == 0


def test_the_policy_leaves_alone_what_is_sent_again_under_its_reference(engine):
    programme, gateway = left_to_the_policy(engine, "send again")
    gateway.abilities = replace(NO_PROMISES, client_reference=True)
    assert follow_policy(programme.services) == 0


def test_the_policy_sends_nothing_that_is_too_late(engine):
    programme, _ = left_to_the_policy(engine, "send again")
    programme.clock.now = the_reply(programme)["expires_at"]
    assert follow_policy(programme.services) == 0
    assert the_reply(programme)["state"] == "in doubt"


def test_a_doubt_that_expires_stays_in_sight(engine):
    programme, _ = left_to_the_policy(engine, "person")
    programme.clock.now += timedelta(days=30)
    sweep(programme.services)
    assert the_reply(programme)["state"] == "in doubt"


def test_a_receipt_settles_a_doubt_and_is_on_record(engine):
    programme, gateway = in_doubt(engine)
    ours = gateway.offered[0].reference
    said = receipt(ReceiptState.UNDERWAY, "carrier-9", client_reference=ours)
    keep_event(programme.services, "asking", said)
    match_receipts(programme.services)
    (attempt,) = programme.rows("attempts")
    assert the_reply(programme)["state"] == "handed over"
    assert (attempt["settled_by"], attempt["carrier_reference"]) == ("receipt", "carrier-9")
    keep_event(programme.services, "asking", receipt(ReceiptState.DELIVERED, "carrier-9"))
    match_receipts(programme.services)
    assert the_reply(programme)["state"] == "delivered"
    assert settlements(programme) == [("route asking", "receipt")]


def test_a_receipt_for_a_text_that_is_being_sent_again_waits_its_turn(engine):
    programme, gateway = in_doubt(engine)
    ours = gateway.offered[0].reference
    gateway.abilities = replace(NO_PROMISES, client_reference=True, receipts=True)

    def sent(message):
        keep_event(
            programme.services, "asking", receipt(ReceiptState.DELIVERED, client_reference=ours)
        )
        assert match_receipts(programme.services) == 0
        return type(gateway).send(gateway, message)

    gateway.send = sent
    programme.dispatch()
    assert the_reply(programme)["state"] == "handed over"
    assert match_receipts(programme.services) == 1
    assert the_reply(programme)["state"] == "delivered"


def test_what_a_carrier_keeps_is_fetched(engine):
    text = Incoming("m-1", AMINA, b"HELP", MORNING)
    gateway = PolledGateway([text, receipt(ReceiptState.DELIVERED, "carrier-1")])
    programme = programme_with(engine, gateway)
    assert poll_carriers(programme.services) == 2
    assert [row["body"] for row in programme.rows("inbound")] == [b"HELP"]
    assert [row["reference"] for row in programme.rows("receipts")] == ["carrier-1"]
    assert poll_carriers(programme.services) == 0


def test_a_carrier_that_is_away_or_broken_stops_no_other(engine):
    text = Incoming("m-1", AMINA, b"HELP", MORNING)
    broken = PolledGateway([ValueError("a fault of its own")], "broken")
    away = PolledGateway([TryLater("no line", 5)], "away")
    well = PolledGateway([text], "well")
    programme = programme_with(engine, broken, away, well)
    ticks.tick(programme.services, "poll")
    assert len(programme.rows("inbound")) == 1
    (noted,) = programme.rows("ticks")
    assert noted["error"] == "ValueError: a fault of its own"


def test_a_gateway_that_is_not_polled_is_left_in_peace(engine):
    programme = programme_with(engine, ScriptedGateway())
    assert poll_carriers(programme.services) == 0


def test_every_kind_of_work_has_a_turn_of_its_own(engine):
    programme = programme_with(engine, ScriptedGateway())
    scheduler = ticks.start_scheduler(programme.services)
    try:
        assert {job.id for job in scheduler.get_jobs()} == set(ticks.WORK)
        assert {"doubts", "poll"} <= set(ticks.WORK)
    finally:
        scheduler.shutdown()


def test_carriers_are_worked_with_at_the_same_time():
    import threading

    together = threading.Barrier(3, timeout=10)
    work = {name: together.wait for name in ("one", "two", "three")}
    assert sorted(at_once(work).values()) == [0, 1, 2]
