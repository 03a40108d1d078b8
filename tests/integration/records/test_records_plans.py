"""A season's tasks and notices as planning writes them."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from records_cast import (
    HOUR,
    NOW,
    a_person,
    a_season,
    new_notice,
    queued,
    row_of,
    statements,
    states,
)
from sqlalchemy import select, update
from sqlalchemy.exc import IntegrityError

from reminder_service.kinds import MOVABLE, Basis, NoticeState, Stage
from reminder_service.records import farmers, plans
from reminder_service.records import tables as t
from reminder_service.rules.plan import Task

LATER = NOW + HOUR
THIN = Task(
    "thin",
    1,
    date(2026, 12, 5),
    date(2026, 12, 12),
    date(2026, 12, 12),
    Basis.ESTIMATED,
    frozenset({"opens", "due"}),
    "14 days after germination on 21 November",
    2,
)
WEED = replace(THIN, name="weed", importance=3)


def put(c, notice_id: int, state: NoticeState, **fields) -> None:
    claim = "token" if state is NoticeState.CLAIMED else None
    c.execute(
        update(t.notices)
        .where(t.notices.c.id == notice_id)
        .values(state=state.value, claim=claim, **fields)
    )


@pytest.fixture
def notice_id(c, season) -> int:
    return queued(c, season, "thin/1/opens")[0]


def test_tasks_come_back_as_they_were_planned(c, season):
    plans.write_tasks(c, season.season_id, [THIN, WEED])
    assert plans.tasks_of_season(c, season.season_id) == [THIN, WEED]


def test_a_new_plan_takes_the_place_of_the_old(c, season):
    plans.write_tasks(c, season.season_id, [THIN, WEED])
    wanted = [replace(THIN, done_on=date(2026, 12, 6)), replace(WEED, number=2)]
    plans.write_tasks(c, season.season_id, wanted)
    assert plans.tasks_of_season(c, season.season_id) == wanted


def test_an_unchanged_plan_writes_nothing(engine, c, season):
    plans.write_tasks(c, season.season_id, [THIN, WEED])
    with statements(engine) as seen:
        plans.write_tasks(c, season.season_id, [WEED, THIN])
    assert [said for said, _ in seen if not said.startswith("SELECT")] == []


def test_another_seasons_tasks_stay(c, season):
    other = a_season(c, 2)
    plans.write_tasks(c, other, [THIN])
    plans.write_tasks(c, season.season_id, [])
    assert plans.tasks_of_season(c, other) == [THIN]


def test_a_new_notice_is_planned(c, season, notice_id):
    (row,) = plans.notices_of_season(c, season.season_id)
    wanted = new_notice(season)
    assert row.state is NoticeState.PLANNED and row.stage is Stage.OPENS
    assert (row.key, row.body, row.send_at) == (wanted.key, wanted.body, wanted.send_at)
    assert (row.person_id, row.sent_at) == (None, None)


def test_no_key_is_queued_twice(c, season, notice_id):
    with pytest.raises(IntegrityError), c.begin_nested():
        queued(c, season, "thin/1/opens")


def test_a_notice_that_expires_before_it_goes_out_is_refused(c, season):
    with pytest.raises(IntegrityError, match="timely"), c.begin_nested():
        queued(c, season, "late", send_at=NOW, expires_at=NOW - HOUR)


def test_nothing_to_queue_is_no_fault(c, season):
    plans.insert_notices(c, [], NOW)
    assert plans.notices_of_season(c, season.season_id) == []


@pytest.mark.parametrize("state", sorted(MOVABLE))
def test_a_movable_row_says_what_is_planned_now_and_keeps_its_state(c, season, notice_id, state):
    put(c, notice_id, state)
    moved = new_notice(season, body="Thin on Tuesday.", send_at=LATER)
    assert plans.move_notices(c, [(notice_id, moved)], LATER) == 1
    row = row_of(c, notice_id)
    assert (row.body, row.send_at, row.changed_at) == ("Thin on Tuesday.", LATER, LATER)
    assert row.state == state


@pytest.mark.parametrize("state", [NoticeState.WITHDRAWN, NoticeState.EXPIRED])
def test_a_row_the_plan_had_closed_is_planned_again(c, season, notice_id, state):
    put(c, notice_id, state, reason="the plan changed", tries=3)
    assert plans.move_notices(c, [(notice_id, new_notice(season))], LATER) == 1
    row = row_of(c, notice_id)
    assert (row.state, row.reason, row.tries) == ("planned", None, 0)


@pytest.mark.parametrize("state", [NoticeState.WITHDRAWN, NoticeState.EXPIRED])
def test_what_a_person_closed_stays_closed(c, season, notice_id, state):
    put(c, notice_id, state, person_id=a_person(c))
    assert plans.move_notices(c, [(notice_id, new_notice(season))], LATER) == 0
    assert states(c, [notice_id]) == [state]


LEFT = sorted(set(NoticeState) - MOVABLE - {NoticeState.WITHDRAWN, NoticeState.EXPIRED})


@pytest.mark.parametrize("state", LEFT)
def test_planning_leaves_alone_what_has_left(c, season, notice_id, state):
    put(c, notice_id, state)
    assert plans.move_notices(c, [(notice_id, new_notice(season, body="other"))], LATER) == 0
    assert plans.withdraw_notices(c, [notice_id], "the plan changed", LATER) == 0
    row = row_of(c, notice_id)
    assert (row.state, row.body) == (state, new_notice(season).body)


@pytest.mark.parametrize("state", sorted(MOVABLE))
def test_a_movable_row_is_withdrawn_with_its_reason(c, season, notice_id, state):
    put(c, notice_id, state)
    assert plans.withdraw_notices(c, [notice_id], "the plan changed", LATER) == 1
    row = row_of(c, notice_id)
    assert (row.state, row.reason, row.changed_at) == ("withdrawn", "the plan changed", LATER)


def test_a_held_row_that_the_plan_withdrew_may_come_back(c, season, notice_id):
    put(c, notice_id, NoticeState.HELD, person_id=a_person(c))
    plans.withdraw_notices(c, [notice_id], "the plan changed", LATER)
    assert plans.move_notices(c, [(notice_id, new_notice(season))], LATER) == 1
    assert states(c, [notice_id]) == [NoticeState.PLANNED]


def test_withdrawing_nothing_changes_nothing(c, season, notice_id):
    assert plans.withdraw_notices(c, [], "the plan changed", LATER) == 0
    assert states(c, [notice_id]) == [NoticeState.PLANNED]


def test_stop_takes_out_all_of_a_phone_but_replies_and_what_has_left(c, season):
    ids = queued(c, season, "planned", "waiting", "held", "sent")
    for id_, state in zip(ids, ["planned", "waiting", "held", "handed over"], strict=True):
        put(c, id_, NoticeState(state))
    ids += queued(c, season, "reply", stage=Stage.REPLY)
    other = farmers.phone_for(c, "+447700900099")
    ids += queued(c, season, "elsewhere", phone_id=other.id)
    phone_id = season.phones[0].id
    assert plans.withdraw_for_phone(c, phone_id, "the farmer said stop", LATER) == 3
    said = [*["withdrawn"] * 3, "handed over", "planned", "planned"]
    assert states(c, ids) == [NoticeState(state) for state in said]


def test_rows_of_a_season_come_in_the_order_they_were_queued(c, season):
    ids = queued(c, season, "b", "a", send_at=NOW - timedelta(days=1))
    assert [row.id for row in plans.notices_of_season(c, season.season_id)] == sorted(ids)
    assert c.execute(select(t.notices.c.created_at).distinct()).scalars().all() == [NOW]
