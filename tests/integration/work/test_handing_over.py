"""Calls to gateways: several texts at once, money counted, chat without segments: both engines."""

from dataclasses import replace
from decimal import Decimal

import pytest
from scripted_gateway import NO_PROMISES, ScriptedGateway
from season_cast import a_programme, local

from gateways.errors import Refused, TryLater, Unsure
from gateways.protocol import Answer, Outgoing, Taken
from reminder_service.work.money import Budget
from reminder_service.work.routes import Route

PHONES = [f"+4477009000{number:02}" for number in range(1, 6)]


MIXED = (Taken("a"), Refused("no such number"), TryLater("full", 60), Unsure("cut"), Taken("b"))


class BatchingGateway(ScriptedGateway):
    """Answers calls of several texts by the script; ``calls`` holds how many each had."""

    def __init__(self, *script: Answer, batch: int) -> None:
        super().__init__(script, replace(NO_PROMISES, batch=batch), "batching")
        self.calls: list[int] = []

    def send_many(self, messages: list[Outgoing]) -> list[Answer]:
        self.calls.append(len(messages))
        return [self._answered(message) for message in messages]

    def _answered(self, message: Outgoing) -> Answer:
        try:
            return self.send(message)
        except (Refused, TryLater, Unsure) as no:
            return no


def asking_for_help(engine, gateway, **fields):
    """A programme whose five phones wait for an answer each."""
    programme = a_programme(engine, local("2026-11-25", "10:00"))
    route = Route(name="carrier", gateway="scripted", **fields)
    programme.services = replace(programme.services, gateways={"carrier": gateway}, routes=(route,))
    for number, phone in enumerate(PHONES, 1):
        programme.plot(str(number), phone=phone)
        programme.text("HELP", sender=phone)
    return programme


def test_texts_of_several_phones_go_in_calls_of_the_gateways_size(engine):
    gateway = BatchingGateway(batch=2)
    programme = asking_for_help(engine, gateway)
    programme.dispatch()
    assert sorted(gateway.calls + [1] * (5 - sum(gateway.calls))) == [1, 2, 2]
    assert {row["state"] for row in programme.rows(stage="reply")} == {"handed over"}
    assert sorted(each.to for each in gateway.offered) == PHONES


def test_each_text_of_a_call_has_its_own_answer(engine):
    programme = asking_for_help(engine, BatchingGateway(*MIXED, batch=5))
    programme.dispatch()
    states = [row["state"] for row in programme.rows(stage="reply")]
    assert sorted(states) == ["handed over", "handed over", "in doubt", "refused", "waiting"]
    reasons = {row["outcome"]: row["reason"] for row in programme.rows("attempts")}
    assert reasons["refused"] == "no such number" and reasons["unsure"] == "cut"


def test_what_was_not_taken_costs_nothing(engine):
    gateway = BatchingGateway(*MIXED, batch=5)
    programme = asking_for_help(engine, gateway, cost_per_segment=Decimal("0.035"))
    programme.dispatch()
    (spent,) = programme.rows("spending")
    assert (spent["texts"], spent["segments"], spent["cost"]) == (3, 3, 105)
    assert {(row["segments"], row["cost"]) for row in programme.rows("attempts")} == {(1, 35)}


def test_a_text_that_the_days_budget_does_not_hold_waits_for_tomorrow(engine):
    gateway = ScriptedGateway()
    programme = asking_for_help(engine, gateway, cost_per_segment=Decimal("0.035"))
    budget = Budget(currency="ZMW", per_day=Decimal("0.110"), kept_for_important=0)
    programme.services = replace(programme.services, budget=budget)
    programme.dispatch()
    late = [row for row in programme.rows(stage="reply") if row["state"] != "handed over"]
    assert len(gateway.offered) == 3 and len(late) == 2
    assert all(row["state"] == "planned" and "budget" in row["reason"] for row in late)
    assert {row["send_at"].date().isoformat() for row in late} == {"2026-11-26"}


@pytest.mark.parametrize(("segmented", "texts"), [(True, 2), (False, 1)], ids=["sms", "chat"])
def test_texts_of_one_phone_are_one_text_where_segments_do_not_count(engine, segmented, texts):
    gateway = ScriptedGateway(abilities=replace(NO_PROMISES, segmented=segmented))
    programme = a_programme(engine, local("2026-11-25", "10:00"))
    programme.services = replace(programme.services, gateways={"console": gateway})
    for number in "1234":
        programme.plot(number)
        programme.text(f"GERM 21/11 PLOT {number}")
    programme.at("2026-12-04", "18:00")
    gateway.offered.clear()
    programme.at("2026-12-05", "18:00")
    thin = [each.body for each in gateway.offered if "thin by" in each.body]
    assert sum(body.count("thin by") for body in thin) == 4
    assert len(thin) == texts
