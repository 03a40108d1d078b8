"""A programme's money, on both engines: counted, held, given back, and never overspent."""

import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from scripted_gateway import ScriptedGateway
from season_cast import AMINA, a_programme, local

from gateways.protocol import Abilities
from reminder_service.kinds import PhoneNumber, Stage
from reminder_service.records import farmers, spending
from reminder_service.records.engine import reading, writing
from reminder_service.records.queue import ClaimedNotice
from reminder_service.records.spending import Spent
from reminder_service.work import budget
from reminder_service.work.budget import Held, LimitLeft, Reserved
from reminder_service.work.bundles import Bundle
from reminder_service.work.money import Budget
from reminder_service.work.routes import Route
from reminder_service.work.routing import Letter

NOON = datetime(2026, 11, 25, 12, tzinfo=UTC)
TODAY = date(2026, 11, 25)
MIDNIGHT = datetime(2026, 11, 26, tzinfo=UTC)
CHAT = Abilities(client_reference=False, receipts=False, inbound=False, segmented=False)
TWO_SEGMENTS = "a" * 161


def a_programme_with(engine, **limits):
    """Services with a route at 0.010 a segment, one that is free, and one without segments."""
    routes = (
        Route(name="paid", gateway="scripted", cost_per_segment="0.010"),
        Route(name="free", gateway="scripted"),
        Route(name="chat", gateway="scripted", cost_per_segment="0.004"),
    )
    gateways = {
        "paid": ScriptedGateway(),
        "free": ScriptedGateway(),
        "chat": ScriptedGateway(abilities=CHAT),
    }
    services = a_programme(engine, NOON).services
    money = Budget(currency="ZMW", **limits) if limits else None
    return replace(services, routes=routes, gateways=gateways, budget=money)


def a_notice(importance: int = 5, stage: Stage = Stage.OPENS, **fields) -> ClaimedNotice:
    known = {
        "id": 1,
        "phone_id": 1,
        "number": PhoneNumber(AMINA),
        "body": "Thin on Sat 5 Dec",
        "segments": 1,
        "send_at": NOON,
        "expires_at": NOON + timedelta(days=3),
        "tries": 1,
        "zone": "Africa/Lusaka",
        "attempt_id": None,
        "client_reference": None,
    }
    return ClaimedNotice(**(known | fields), stage=stage, importance=importance)


def a_letter(*notices: ClaimedNotice, route: str = "paid", body: str = "Thin now") -> Letter:
    return Letter(Bundle(notices or (a_notice(),), body, "reference"), route, routes=1)


def reserve(services, letter=None, now=NOON):
    with writing(services.engine) as c:
        return budget.reserve(c, services, letter or a_letter(), now)


def went(services, day=TODAY) -> Spent:
    with reading(services.engine) as c:
        return spending.spent(c, day, date(2026, 10, 1))


def left(services, now=NOON):
    with reading(services.engine) as c:
        return budget.left(c, services, now)


def rows(services) -> list[tuple]:
    with reading(services.engine) as c:
        found = c.exec_driver_sql("SELECT route, texts, segments, cost FROM spending ORDER BY 1")
        return [tuple(row) for row in found]


@pytest.mark.parametrize(
    "route, body, counted",
    [
        pytest.param("paid", TWO_SEGMENTS, (2, 20), id="by the segment"),
        pytest.param("free", TWO_SEGMENTS, (2, 0), id="free"),
        pytest.param("chat", TWO_SEGMENTS, (1, 4), id="without segments, by the text"),
    ],
)
def test_a_letter_is_counted_at_its_routes_price(engine, route, body, counted):
    services = a_programme_with(engine)
    assert reserve(services, a_letter(route=route, body=body)) == Reserved(*counted, TODAY)
    assert rows(services) == [(route, 1, *counted)]


def test_letters_of_a_day_and_route_add_up(engine):
    services = a_programme_with(engine)
    for route in ("paid", "paid", "chat"):
        reserve(services, a_letter(route=route))
    assert rows(services) == [("chat", 1, 1, 4), ("paid", 2, 2, 20)]
    assert went(services) == Spent(24, 24)


def test_the_day_is_a_utc_day(engine):
    services = a_programme_with(engine)
    reserved = reserve(services, now=local("2026-11-26", "01:00"))  # 23:00 UTC the day before
    assert reserved.day == TODAY


def test_what_goes_beyond_the_day_waits_for_the_next(engine):
    services = a_programme_with(engine, per_day="0.025", kept_for_important=0)
    assert [type(reserve(services)) for _ in range(3)] == [Reserved, Reserved, Held]
    held = reserve(services)
    assert held.until == MIDNIGHT
    assert held.reason == "the day's budget is spent: raise per_day in the routes file"
    assert went(services).day == 20  # what is held is not counted
    assert isinstance(reserve(services, now=held.until), Reserved)


def test_what_goes_beyond_the_season_is_asked_about_daily(engine):
    services = a_programme_with(engine, per_season="0.01", per_day="1", kept_for_important=0)
    assert isinstance(reserve(services, now=NOON - timedelta(days=30)), Reserved)
    held = reserve(services)
    assert held == Held(
        MIDNIGHT, "the season's budget is spent: raise per_season in the routes file"
    )
    assert isinstance(reserve(services, now=MIDNIGHT), Held)


def test_a_new_season_has_its_money_whole(engine):
    services = a_programme_with(engine, per_season="0.01", kept_for_important=0)
    last_day, first_day = (datetime(2026, *on, 12, tzinfo=UTC) for on in ((9, 30), (10, 1)))
    assert isinstance(reserve(services, now=last_day), Reserved)
    assert isinstance(reserve(services, now=first_day), Reserved)
    assert isinstance(reserve(services, now=first_day), Held)


def test_a_clock_behind_midnight_still_sees_what_the_season_has_spent(engine):
    services = a_programme_with(engine, per_season="0.01", kept_for_important=0)
    reserve(services, now=MIDNIGHT)
    assert isinstance(reserve(services, now=MIDNIGHT - timedelta(seconds=1)), Held)


@pytest.mark.parametrize(
    "notices, goes",
    [
        pytest.param([a_notice(3)], False, id="less important"),
        pytest.param([a_notice(2)], True, id="important"),
        pytest.param([a_notice(6), a_notice(1)], True, id="one of several is important"),
        pytest.param([a_notice(9, Stage.REPLY)], True, id="a reply"),
    ],
)
def test_the_last_part_is_kept_for_the_important(engine, notices, goes):
    services = a_programme_with(engine, per_day="0.020", kept_for_important="0.5")
    assert isinstance(reserve(services), Reserved)
    answer = reserve(services, a_letter(*notices))
    assert isinstance(answer, Reserved) is goes
    if not goes:
        assert "kept for replies and important notices: raise per_day" in answer.reason


def test_what_counts_as_important_is_the_programmes_choice(engine):
    services = a_programme_with(engine, per_day="0.010", kept_for_important="0.9", important_from=5)
    assert isinstance(reserve(services, a_letter(a_notice(6))), Held)
    assert isinstance(reserve(services, a_letter(a_notice(5))), Reserved)


def test_a_letter_that_costs_nothing_is_never_held(engine):
    services = a_programme_with(engine, per_day="0.001", kept_for_important=0)
    assert isinstance(reserve(services), Held)
    assert isinstance(reserve(services, a_letter(route="free")), Reserved)


def a_phone(services, stopped: bool) -> int:
    with writing(services.engine) as c:
        phone = farmers.phone_for(c, PhoneNumber(AMINA))
        if stopped:
            farmers.stop_phone(c, phone.id, NOON)
    return phone.id


@pytest.mark.parametrize("stopped", [True, False], ids=["stopped", "another reply"])
def test_the_confirmation_of_a_stop_goes_beyond_the_budget(engine, stopped):
    services = a_programme_with(engine, per_day="0.001")
    reply = a_notice(1, Stage.REPLY, phone_id=a_phone(services, stopped))
    assert isinstance(reserve(services, a_letter(reply)), Reserved if stopped else Held)
    assert went(services).day == (10 if stopped else 0)
    assert left(services).per_day.left == (0 if stopped else 1)


def test_a_letter_in_doubt_goes_again_without_being_counted_again(engine):
    services = a_programme_with(engine, per_day="0.010", kept_for_important=0)
    reserve(services)
    again = a_notice(attempt_id=7, client_reference="reference", gateway="paid")
    assert reserve(services, a_letter(again)) == Reserved(0, 0, TODAY)
    assert went(services).day == 10


def test_what_is_given_back_may_be_spent_again(engine):
    services = a_programme_with(engine, per_day="0.010", kept_for_important=0)
    reserved = reserve(services)
    with writing(engine) as c:
        budget.give_back(c, "paid", reserved.day, reserved.segments, reserved.cost)
    assert rows(services) == [("paid", 0, 0, 0)]
    assert isinstance(reserve(services), Reserved)


def test_what_is_given_back_after_midnight_goes_to_its_own_day(engine):
    services = a_programme_with(engine, per_day="0.020")
    yesterdays = reserve(services)
    reserve(services, now=MIDNIGHT)
    with writing(engine) as c:
        budget.give_back(c, "paid", yesterdays.day, yesterdays.segments, yesterdays.cost)
    assert went(services).day == 0
    assert went(services, MIDNIGHT.date()) == Spent(10, 10)


def test_giving_back_a_letter_that_was_not_counted_changes_nothing(engine):
    services = a_programme_with(engine)
    reserve(services)
    with writing(engine) as c:
        budget.give_back(c, "paid", TODAY, 0, 0)
    assert rows(services) == [("paid", 1, 1, 10)]


def test_a_reservation_goes_with_its_transaction(engine):
    services = a_programme_with(engine, per_day="1")
    with pytest.raises(RuntimeError), writing(engine) as c:
        budget.reserve(c, services, a_letter(), NOON)
        raise RuntimeError("the worker is killed before it commits")
    assert rows(services) == []


def test_a_text_past_the_queue_is_counted_whatever_the_budget_says(engine):
    services = a_programme_with(engine, per_day="0.001")
    with writing(engine) as c:
        assert budget.count_text(c, services, "paid", TWO_SEGMENTS, NOON) == Reserved(2, 20, TODAY)
    assert went(services).day == 20


def test_what_is_left_stands_by_day_and_season(engine):
    services = a_programme_with(engine, per_day="0.05", per_season="1", kept_for_important="0.2")
    reserve(services, now=NOON - timedelta(days=1))
    reserve(services, a_letter(body=TWO_SEGMENTS))
    found = left(services)
    assert (found.currency, found.day, found.season_starts_on) == ("ZMW", TODAY, date(2026, 10, 1))
    assert found.per_day == LimitLeft(limit=50, spent=20, kept=10)
    assert found.per_season == LimitLeft(limit=1000, spent=30, kept=200)
    assert (found.per_day.left, found.per_day.left_for_others) == (30, 20)


def test_without_a_budget_nothing_is_left_to_show(engine):
    assert left(a_programme_with(engine)) is None


WORKERS = 4


@pytest.mark.parametrize(
    "limits",
    [
        pytest.param({"per_day": "0.5"}, id="of the day"),
        pytest.param({"per_season": "0.5"}, id="of the season"),
    ],
)
def test_workers_at_once_spend_the_limit_and_no_more(engine, limits):
    """Four workers try for 120 letters where 50 are paid for; one of five is important."""
    services = a_programme_with(engine, **limits)
    ready = threading.Barrier(WORKERS)

    def work(worker: int) -> list[tuple[int, bool]]:
        ready.wait()
        answers = []
        for n in range(30):
            importance = 1 if n % 5 == 0 else 5
            route = ("paid", "chat")[worker % 2]
            answer = reserve(services, a_letter(a_notice(importance), route=route))
            answers.append((importance, answer.cost if isinstance(answer, Reserved) else 0))
        return answers

    with ThreadPoolExecutor(WORKERS) as pool:
        answers = [pair for mine in pool.map(work, range(WORKERS)) for pair in mine]
    total = sum(cost for _, cost in answers)
    assert went(services) == Spent(total, total)
    assert 390 < total <= 500
    # Whoever was not important stopped at four fifths, for whatever came before had a part in it.
    assert sum(cost for importance, cost in answers if importance == 5) <= 400


def test_workers_at_once_use_the_whole_limit(engine):
    services = a_programme_with(engine, per_day="0.5", kept_for_important=0)
    ready = threading.Barrier(WORKERS)

    def work(_: int) -> int:
        ready.wait()
        return sum(isinstance(reserve(services), Reserved) for _ in range(20))

    with ThreadPoolExecutor(WORKERS) as pool:
        assert sum(pool.map(work, range(WORKERS))) == 50
    assert rows(services) == [("paid", 50, 50, 500)]


@pytest.mark.postgres
@pytest.mark.parametrize("engine_name", ["postgresql"], indirect=True)
def test_a_second_worker_waits_for_the_first_to_commit(engine):
    """Each sees enough money for itself; only the lock shows the second what the first took."""
    services = a_programme_with(engine, per_day="0.010", kept_for_important=0)
    with ThreadPoolExecutor(1) as pool:
        with writing(engine) as c:
            first = budget.reserve(c, services, a_letter(), NOON)
            second = pool.submit(reserve, services)
            with pytest.raises(TimeoutError):
                second.result(timeout=0.3)
        assert isinstance(first, Reserved)
        assert isinstance(second.result(timeout=5), Held)


@pytest.mark.postgres
@pytest.mark.parametrize("engine_name", ["postgresql"], indirect=True)
def test_without_a_budget_nobody_waits_for_another_route(engine):
    services = a_programme_with(engine)
    with writing(engine) as slow:
        budget.reserve(slow, services, a_letter(), NOON)
        with writing(engine) as c:
            c.exec_driver_sql("SET LOCAL lock_timeout = '2s'")
            answer = budget.reserve(c, services, a_letter(route="chat"), NOON)
    assert isinstance(answer, Reserved)
