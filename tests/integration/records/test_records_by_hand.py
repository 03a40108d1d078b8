"""What people do to the outbound queue."""

from datetime import date, timedelta

import pytest
from records_cast import HOUR, NOW, a_person, new_notice, queued, row_of, states
from sqlalchemy import select, update

from reminder_service.kinds import FINAL, MOVABLE, NoticeState, Stage
from reminder_service.records import farmers, plans, queue, queue_by_hand
from reminder_service.records import tables as t
from reminder_service.records.errors import NotFound

LATER = NOW + HOUR


@pytest.fixture
def person_id(c) -> int:
    return a_person(c)


def in_state(c, season, state: NoticeState) -> int:
    (id_,) = queued(c, season, "thin/1/opens")
    token = "token" if state is NoticeState.CLAIMED else None
    c.execute(update(t.notices).values(state=state.value, claim=token))
    return id_


@pytest.mark.parametrize("state", sorted(NoticeState))
def test_only_what_is_to_go_out_is_held(c, season, person_id, state):
    id_ = in_state(c, season, state)
    can = state in (NoticeState.PLANNED, NoticeState.WAITING)
    assert queue_by_hand.hold(c, [id_, 99], person_id, LATER) == ([id_] if can else [])
    assert states(c, [id_]) == [NoticeState.HELD if can else state]


@pytest.mark.parametrize("state", sorted(NoticeState))
def test_only_what_is_held_is_released(c, season, state):
    id_ = in_state(c, season, state)
    can = state is NoticeState.HELD
    assert queue_by_hand.release(c, [id_], LATER) == ([id_] if can else [])
    assert states(c, [id_]) == [NoticeState.PLANNED if can else state]


@pytest.mark.parametrize("state", sorted(NoticeState))
def test_only_what_is_movable_is_withdrawn(c, season, person_id, state):
    id_ = in_state(c, season, state)
    can = state in MOVABLE
    done = queue_by_hand.withdraw_by_hand(c, [id_], person_id, LATER)
    assert done == ([id_] if can else [])
    assert states(c, [id_]) == [NoticeState.WITHDRAWN if can else state]


def test_whoever_held_or_withdrew_is_known_until_release(c, season, person_id):
    (id_,) = queued(c, season, "thin/1/opens")
    queue_by_hand.hold(c, [id_], person_id, LATER)
    assert (row_of(c, id_).person_id, row_of(c, id_).changed_at) == (person_id, LATER)
    queue_by_hand.release(c, [id_], LATER)
    assert row_of(c, id_).person_id is None
    queue_by_hand.withdraw_by_hand(c, [id_], person_id, LATER)
    assert (row_of(c, id_).person_id, row_of(c, id_).reason) == (person_id, "withdrawn by hand")


def test_what_a_person_withdrew_the_plan_does_not_bring_back(c, season, person_id):
    (id_,) = queued(c, season, "thin/1/opens")
    queue_by_hand.withdraw_by_hand(c, [id_], person_id, NOW)
    assert plans.move_notices(c, [(id_, new_notice(season))], LATER) == 0


def test_a_released_notice_whose_time_has_come_goes_out(c, season, person_id):
    (id_,) = queued(c, season, "thin/1/opens")
    queue_by_hand.hold(c, [id_], person_id, NOW)
    queue_by_hand.release(c, [id_], NOW)
    due = queue.claim_due(c, now=NOW, claim="a", lease_until=LATER, limit=9)
    assert [claimed.id for claimed in due] == [id_]


def again(c, notice_id: int, person_id: int, send_at=LATER) -> int:
    return queue_by_hand.send_again(
        c,
        notice_id,
        person_id=person_id,
        at=NOW,
        send_at=send_at,
        expires_at=send_at + 48 * HOUR,
    )


@pytest.mark.parametrize("state", sorted(FINAL | {NoticeState.REFUSED}))
def test_what_has_left_is_sent_again_as_a_notice_of_its_own(c, season, person_id, state):
    first = in_state(c, season, state)
    row = row_of(c, again(c, first, person_id))
    known = row_of(c, first)
    assert (row.state, row.key) == ("planned", f"{known.key}/again-1")
    assert (row.body, row.phone_id, row.season_id) == (known.body, known.phone_id, known.season_id)
    assert (row.send_at, row.expires_at, row.tries) == (LATER, LATER + 48 * HOUR, 0)
    assert row.person_id == person_id and known.state == state


@pytest.mark.parametrize("state", sorted(set(NoticeState) - FINAL))
def test_what_has_not_left_is_not_sent_again(c, season, person_id, state):
    id_ = in_state(c, season, state)
    with pytest.raises(NotFound, match="notice that has left the queue"):
        again(c, id_, person_id)
    assert c.execute(select(t.notices.c.id)).scalars().all() == [id_]


def test_a_notice_nobody_queued_is_not_sent_again(c, person_id):
    with pytest.raises(NotFound, match='notice "77"'):
        again(c, 77, person_id)


def test_each_time_has_a_key_of_its_own(c, season, person_id):
    first = in_state(c, season, NoticeState.UNDELIVERED)
    second = again(c, first, person_id)
    c.execute(update(t.notices).where(t.notices.c.id == second).values(state="undelivered"))
    keys = [row_of(c, again(c, id_, person_id)).key for id_ in (first, second)]
    assert [key.rpartition("/")[2] for key in keys] == ["again-2", "again-3"]


def test_the_day_of_a_notice_sent_again_is_the_wards(c, season, person_id):
    first = in_state(c, season, NoticeState.REFUSED)
    night = NOW.replace(hour=23)  # already the next day in Africa/Lusaka, two hours ahead
    assert row_of(c, again(c, first, person_id, night)).day == date(2026, 12, 7)


def test_a_notice_of_no_ward_is_in_utc(c, season):
    phone = farmers.phone_for(c, "+447700900099")
    (id_,) = queued(c, season, "reply", phone_id=phone.id, ward_id=None, stage=Stage.REPLY)
    assert queue_by_hand.zone_of(c, id_) == "UTC"
    (mine,) = queued(c, season, "mine", send_at=NOW - timedelta(days=1))
    assert queue_by_hand.zone_of(c, mine) == "Africa/Lusaka"
