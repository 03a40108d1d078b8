"""Routes, their pace and their bad days, and receipts in any order: on both engines."""

from dataclasses import replace
from datetime import timedelta
from itertools import pairwise

import pytest
from scripted_gateway import ScriptedGateway
from season_cast import AMINA, a_programme, local

from gateways.errors import Refused, TryLater, Unsure
from gateways.protocol import Abilities, Incoming, Receipt, ReceiptState, Taken
from reminder_service.records import route_health
from reminder_service.records.engine import reading
from reminder_service.work.events import keep_event, match_receipts
from reminder_service.work.routes import Route
from reminder_service.work.ticks import work_left_inbound

NO_PROMISES = Abilities(client_reference=False, receipts=True, inbound=True)


def carriers(engine, *routes: Route, **scripts):
    """A programme with one plot whose texts go by scripted gateways, one a route."""
    programme = a_programme(engine, local("2026-11-25", "10:00"))
    gateways = {
        route.name: ScriptedGateway(scripts.get(route.name, ()), NO_PROMISES, route.name)
        for route in routes
    }
    programme.services = replace(programme.services, gateways=gateways, routes=routes)
    programme.plot("1")
    return programme, gateways


def a_route(name: str, **fields) -> Route:
    return Route(name=name, gateway="scripted", **fields)


def the_reply(programme) -> dict:
    return programme.rows(stage="reply")[-1]


def receipt(state: ReceiptState, reference: str | None = "scripted-1", **fields) -> Receipt:
    known = {"client_reference": None, "at": local("2026-11-25", "10:05"), "reason": ""}
    return Receipt(reference=reference, state=state, **(known | fields))


def test_a_text_goes_by_the_route_made_for_it(engine):
    programme, gateways = carriers(engine, a_route("all"), a_route("ours", prefixes=["+4477"]))
    programme.text("HELP")
    programme.dispatch()
    assert [len(gateways[name].offered) for name in ("all", "ours")] == [0, 1]
    assert programme.rows("attempts")[0]["gateway"] == "ours"


def test_what_no_route_serves_is_refused_in_sight(engine):
    programme, _ = carriers(engine, a_route("theirs", prefixes=["+260"]))
    programme.text("HELP")
    programme.dispatch()
    assert the_reply(programme)["state"] == "refused"
    assert "no route serves" in the_reply(programme)["reason"]


def test_the_next_route_takes_over_at_once_and_the_reason_is_kept(engine):
    programme, gateways = carriers(
        engine, a_route("first"), a_route("second", order=2), first=[TryLater("queue full", 600)]
    )
    programme.text("HELP")
    programme.dispatch()
    assert the_reply(programme)["state"] == "handed over"
    attempts = programme.rows("attempts")
    assert [(a["gateway"], a["outcome"], a["reason"]) for a in attempts] == [
        ("first", "later", "queue full"),
        ("second", "taken", None),
    ]
    assert [len(gateways[name].offered) for name in ("first", "second")] == [1, 1]


def test_a_refusal_is_not_tried_by_another_route(engine):
    programme, gateways = carriers(
        engine, a_route("first"), a_route("second", order=2), first=[Refused("no such number")]
    )
    programme.text("HELP")
    programme.dispatch()
    assert the_reply(programme)["state"] == "refused"
    assert gateways["second"].offered == []


def test_a_text_in_doubt_is_never_given_to_another_route(engine):
    programme, gateways = carriers(
        engine, a_route("first"), a_route("second", order=2), first=[Unsure("cut")]
    )
    programme.text("HELP")
    programme.dispatch()
    programme.clock.now += timedelta(hours=1)
    programme.dispatch()
    assert the_reply(programme)["state"] == "in doubt"
    assert gateways["second"].offered == []


def test_a_route_that_keeps_failing_rests_and_is_tried_again(engine):
    programme, gateways = carriers(engine, a_route("only"), only=[TryLater("down", 1)] * 5)
    for _ in range(5):
        programme.text("HELP")
    programme.dispatch()
    assert len(gateways["only"].offered) == 5
    programme.text("HELP")
    programme.dispatch()
    assert len(gateways["only"].offered) == 5  # it rests: nothing was even tried
    waits = programme.rows(stage="reply", state="planned")
    assert [row["reason"] for row in waits] == ["every route that serves it rests"]
    programme.clock.now += timedelta(minutes=5)
    programme.dispatch()
    assert {row["state"] for row in programme.rows(stage="reply")} == {"handed over"}
    with reading(programme.services.engine) as c:
        assert route_health.healths(c, ["only"])["only"].failures == 0


def test_rests_grow_and_end(engine):
    from reminder_service.records.engine import writing

    programme, _ = carriers(engine, a_route("only"))
    now = programme.clock()
    rests = []
    for _ in range(30):
        with writing(programme.services.engine) as c:
            route_health.note_failure(c, "only", now, "down", 5, timedelta(seconds=30))
            rests.append(route_health.healths(c, ["only"])["only"].rests_until)
    lengths = [(rest - now).total_seconds() for rest in rests if rest is not None]
    assert rests[:4] == [None] * 4
    assert lengths[:5] == [30, 60, 120, 240, 480]
    assert max(lengths) == 900


def test_a_route_keeps_its_pace(engine):
    programme, gateways = carriers(engine, a_route("slow", per_second=0.5))
    for _ in range(6):
        programme.text("HELP")
    sent = []
    for _ in range(20):
        programme.dispatch()
        sent.append(len(gateways["slow"].offered))
        programme.clock.now += timedelta(seconds=1)
    assert sent[0] == 1
    assert sent[-1] == 6
    assert all(b - a <= 1 for a, b in pairwise(sent))
    assert sent[10] >= 5


def test_all_workers_together_keep_the_pace(engine):
    from reminder_service.records.engine import writing

    programme, _ = carriers(engine, a_route("slow"))
    now, gap = programme.clock(), timedelta(milliseconds=100)
    granted = 0
    for worker_at in (now, now, now + timedelta(milliseconds=450), now + timedelta(seconds=1)):
        with writing(programme.services.engine) as c:
            granted += route_health.take_turns(c, "slow", worker_at, 50, gap, None)[0]
    assert granted == 11  # one at once, then one each tenth of a second


def test_a_days_limit_puts_the_rest_off_to_the_next_day(engine):
    programme, gateways = carriers(engine, a_route("few", per_day=2))
    for _ in range(3):
        programme.text("HELP")
    programme.dispatch()
    assert len(gateways["few"].offered) == 2
    (waiting,) = programme.rows(stage="reply", state="planned")
    assert waiting["send_at"] == local("2026-11-26", "02:00")  # midnight UTC
    programme.clock.now = waiting["send_at"]
    programme.dispatch()
    assert len(gateways["few"].offered) == 3


def test_several_connections_send_every_text_once(engine):
    programme, gateways = carriers(engine, a_route("wide", connections=4))
    for n in range(2, 12):
        programme.plot(str(n), phone=f"+4477009001{n:02}")
        programme.text("HELP", sender=f"+4477009001{n:02}")
    programme.dispatch()
    bodies = [(message.to, message.reference) for message in gateways["wide"].offered]
    assert len(bodies) == len(set(bodies)) == 10
    assert {row["state"] for row in programme.rows(stage="reply")} == {"handed over"}


def sent_reply(engine, *answers):
    programme, _ = carriers(engine, a_route("only"), only=answers)
    programme.text("HELP")
    programme.dispatch()
    return programme


@pytest.mark.parametrize(
    "said, state",
    [
        pytest.param(ReceiptState.DELIVERED, "delivered", id="delivered"),
        pytest.param(ReceiptState.UNDELIVERED, "undelivered", id="undelivered"),
        pytest.param(ReceiptState.UNDERWAY, "handed over", id="under way"),
    ],
)
def test_a_receipt_settles_its_notice(engine, said, state):
    programme = sent_reply(engine)
    keep_event(programme.services, "only", receipt(said))
    assert match_receipts(programme.services) == 1
    assert the_reply(programme)["state"] == state


def test_a_receipt_may_name_our_reference(engine):
    programme = sent_reply(engine)
    ours = programme.rows("attempts")[0]["client_reference"]
    keep_event(
        programme.services, "only", receipt(ReceiptState.DELIVERED, None, client_reference=ours)
    )
    match_receipts(programme.services)
    assert the_reply(programme)["state"] == "delivered"


def test_a_final_state_is_never_moved_by_a_later_receipt(engine):
    programme = sent_reply(engine)
    for said in (ReceiptState.DELIVERED, ReceiptState.UNDELIVERED, ReceiptState.DELIVERED):
        keep_event(programme.services, "only", receipt(said))
    assert match_receipts(programme.services) == 3
    assert the_reply(programme)["state"] == "delivered"
    assert len(programme.rows("receipts")) == 3


def test_a_receipt_that_comes_before_the_answer_is_kept_and_matched_later(engine):
    programme, _ = carriers(engine, a_route("only"))
    keep_event(programme.services, "only", receipt(ReceiptState.DELIVERED))
    assert match_receipts(programme.services) == 0
    programme.text("HELP")
    programme.dispatch()
    assert match_receipts(programme.services) == 1
    assert the_reply(programme)["state"] == "delivered"


def test_a_receipt_for_nobody_is_kept_and_changes_nothing(engine):
    programme = sent_reply(engine)
    keep_event(programme.services, "only", receipt(ReceiptState.DELIVERED, "unheard-of"))
    keep_event(programme.services, "other", receipt(ReceiptState.DELIVERED))
    assert match_receipts(programme.services) == 0
    assert the_reply(programme)["state"] == "handed over"


def test_receipts_for_nobody_do_not_stand_in_the_way_of_others(engine):
    programme, _ = carriers(engine, a_route("only"))
    for number in range(1001):
        keep_event(programme.services, "only", receipt(ReceiptState.DELIVERED, f"nobody-{number}"))
    programme.text("HELP")
    programme.dispatch()
    keep_event(programme.services, "only", receipt(ReceiptState.DELIVERED))
    assert match_receipts(programme.services) == 1
    assert the_reply(programme)["state"] == "delivered"


def test_a_receipt_settles_a_doubt(engine):
    programme = sent_reply(engine, Unsure("cut after the body"))
    ours = programme.rows("attempts")[0]["client_reference"]
    keep_event(
        programme.services, "only", receipt(ReceiptState.DELIVERED, None, client_reference=ours)
    )
    match_receipts(programme.services)
    assert the_reply(programme)["state"] == "delivered"


def test_a_text_a_gateway_brings_is_kept_then_worked(engine):
    programme, _ = carriers(engine, a_route("only"))
    text = Incoming("m-1", AMINA, b"GERM 21/11", programme.clock())
    for _ in range(2):
        keep_event(programme.services, "only", text)
    assert programme.rows("reports") == []
    assert work_left_inbound(programme.services) == 1
    assert len(programme.rows("reports")) == 1


def test_the_carriers_answer_names_what_its_receipt_will_name(engine):
    programme = sent_reply(engine, Taken("carrier-77"))
    keep_event(programme.services, "only", receipt(ReceiptState.DELIVERED, "carrier-77"))
    match_receipts(programme.services)
    assert the_reply(programme)["state"] == "delivered"
