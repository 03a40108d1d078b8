"""The outbound queue under one worker: claims, attempts, leases, expiry."""

from datetime import date, timedelta

import pytest
from records_cast import HOUR, LEASE, NOW, a_season, new_notice, queued, row_of, states
from sqlalchemy import select, update

from reminder_service.kinds import NoticeState, Stage
from reminder_service.records import farmers, queue
from reminder_service.records import tables as t
from reminder_service.records.tables import Outcome

ENDS = {
    Outcome.TAKEN: NoticeState.HANDED_OVER,
    Outcome.REFUSED: NoticeState.REFUSED,
    Outcome.LATER: NoticeState.WAITING,
    Outcome.UNSURE: NoticeState.IN_DOUBT,
}


def claim(c, token: str = "ours", now=NOW, limit: int = 10):
    return queue.claim_due(c, now=now, claim=token, lease_until=now + LEASE, limit=limit)


def claim_doubt(c, token: str = "again", now=NOW, before=NOW + HOUR, **fields):
    known = {"before": before, "lease_until": now + LEASE, "limit": 10}
    return queue.claim_in_doubt(c, now=now, claim=token, **known | fields)


def begin(c, ids, token: str = "ours", at=NOW, reference: str = "ref"):
    return queue.begin_attempt(
        c, notice_ids=ids, claim=token, gateway="console", client_reference=reference, at=at
    )


def end(c, attempt_id: int, outcome: Outcome, token: str = "ours", at=NOW, **fields):
    if outcome is Outcome.LATER:
        fields = {"send_again_at": NOW + HOUR} | fields
    return queue.end_attempt(
        c, attempt_id=attempt_id, claim=token, outcome=outcome, at=at, **fields
    )


def ended(c, ids, outcome: Outcome, **fields) -> int:
    """Claim notices, try them as one text, and end the attempt."""
    claim(c)
    attempt_id, _ = begin(c, ids)
    assert end(c, attempt_id, outcome, **fields) == len(ids)
    return attempt_id


def attempt(c, attempt_id: int):
    return c.execute(select(t.attempts).where(t.attempts.c.id == attempt_id)).one()


@pytest.fixture
def ids(c, season) -> list[int]:
    """Two due notices of one phone."""
    return queued(c, season, "thin/1/opens", "weed/1/opens")


# Claims


def test_a_claimed_notice_brings_all_that_sending_needs(c, season):
    (id_,) = queued(c, season, "thin/1/opens")
    (claimed,) = claim(c)
    wanted = new_notice(season)
    assert (claimed.id, claimed.phone_id) == (id_, season.phones[0].id)
    assert (claimed.number, claimed.zone) == (season.phones[0].number, "Africa/Lusaka")
    assert (claimed.body, claimed.segments, claimed.importance) == (wanted.body, 1, 2)
    assert (claimed.stage, claimed.tries) == (Stage.OPENS, 1)
    assert (claimed.send_at, claimed.expires_at) == (wanted.send_at, wanted.expires_at)
    assert (claimed.attempt_id, claimed.client_reference) == (None, None)


def test_a_claim_is_a_lease(c, ids):
    claim(c)
    row = row_of(c, ids[0])
    assert (row.state, row.claim, row.lease_until, row.tries) == ("claimed", "ours", NOW + LEASE, 1)


def test_what_is_claimed_is_not_claimed_again(c, ids):
    assert [claimed.id for claimed in claim(c)] == ids
    assert claim(c, "theirs") == []


@pytest.mark.parametrize(
    ("fields", "is_due"),
    [
        pytest.param({"send_at": NOW}, True, id="this instant"),
        pytest.param({"send_at": NOW + timedelta(seconds=1)}, False, id="not yet"),
        pytest.param({"expires_at": NOW}, False, id="expired this instant"),
        pytest.param({"expires_at": NOW + timedelta(seconds=1)}, True, id="still of use"),
    ],
)
def test_only_what_is_due_and_of_use_is_claimed(c, season, fields, is_due):
    queued(c, season, "thin/1/opens", **fields)
    assert bool(claim(c)) is is_due


@pytest.mark.parametrize("state", sorted(NoticeState))
def test_only_planned_and_waiting_notices_are_claimed(c, season, state):
    (id_,) = queued(c, season, "thin/1/opens")
    token = "theirs" if state is NoticeState.CLAIMED else None
    c.execute(update(t.notices).values(state=state.value, claim=token))
    due = state in (NoticeState.PLANNED, NoticeState.WAITING)
    assert [claimed.id for claimed in claim(c)] == ([id_] if due else [])


def test_replies_go_first_then_what_expires_first(c, season):
    late, soon = queued(c, season, "late"), queued(c, season, "soon", expires_at=NOW + HOUR)
    reply = queued(c, season, "reply", stage=Stage.REPLY, expires_at=NOW + 99 * HOUR)
    assert [claimed.id for claimed in claim(c, limit=2)] == reply + soon
    assert [claimed.id for claimed in claim(c)] == late


def test_a_stopped_phone_gets_replies_alone(c, season):
    queued(c, season, "reminder")
    reply = queued(c, season, "reply", stage=Stage.REPLY)
    farmers.stop_phone(c, season.phones[0].id, NOW)
    assert [claimed.id for claimed in claim(c)] == reply


def test_a_reply_to_a_phone_of_no_ward_has_no_zone(c, season):
    stranger = farmers.phone_for(c, "+447700900099")
    nobodys = {"farmer_id": None, "ward_id": None, "season_id": None}
    from reminder_service.records import plans

    notice = new_notice(season, phone_id=stranger.id, stage=Stage.REPLY, **nobodys)
    plans.insert_notices(c, [notice], NOW)
    assert [(claimed.number, claimed.zone) for claimed in claim(c)] == [(stranger.number, None)]


# Attempts


def test_an_attempt_is_written_before_its_answer(c, ids):
    claim(c)
    attempt_id, taken = begin(c, ids)
    row = attempt(c, attempt_id)
    assert taken == ids and [row_of(c, id_).attempt_id for id_ in ids] == [attempt_id] * 2
    assert (row.gateway, row.client_reference, row.started_at) == ("console", "ref", NOW)
    assert (row.ended_at, row.outcome) == (None, None)


def test_an_attempt_takes_only_what_its_claim_holds(c, ids):
    claim(c, limit=1)
    assert begin(c, ids)[1] == ids[:1]


@pytest.mark.parametrize(
    ("token", "at"),
    [
        pytest.param("theirs", NOW, id="another's claim"),
        pytest.param("ours", NOW + LEASE, id="the lease ran out"),
    ],
)
def test_an_attempt_without_a_valid_claim_is_none(c, ids, token, at):
    claim(c)
    assert begin(c, ids, token, at) is None
    assert c.execute(select(t.attempts.c.id)).all() == []
    assert states(c, ids) == [NoticeState.CLAIMED] * 2


def test_a_notice_has_one_attempt_at_a_time(c, season, ids):
    claim(c)
    attempt_id, _ = begin(c, ids)
    farmers.stop_phone(c, season.phones[0].id, NOW)
    assert begin(c, ids) is None
    assert {row_of(c, id_).attempt_id for id_ in ids} == {attempt_id}
    assert states(c, ids) == [NoticeState.CLAIMED] * 2


def test_a_notice_under_way_is_not_given_back(c, ids):
    claim(c)
    begin(c, ids)
    later = {"send_at": NOW + HOUR, "day": date(2026, 12, 6)}
    assert queue.postpone(c, notice_ids=ids, claim="ours", **later) == 0
    assert states(c, ids) == [NoticeState.CLAIMED] * 2


def test_stop_after_the_claim_takes_reminders_out_and_lets_replies_go(c, season, ids):
    reply = queued(c, season, "reply", stage=Stage.REPLY)
    claim(c)
    farmers.stop_phone(c, season.phones[0].id, NOW)
    assert begin(c, ids + reply)[1] == reply
    assert states(c, ids) == [NoticeState.WITHDRAWN] * 2
    assert row_of(c, ids[0]).reason == queue.STOPPED


def test_stop_leaves_no_attempt_without_a_notice(c, season, ids):
    claim(c)
    farmers.stop_phone(c, season.phones[0].id, NOW)
    assert begin(c, ids) is None and c.execute(select(t.attempts.c.id)).all() == []


@pytest.mark.parametrize("outcome", Outcome)
def test_each_answer_leads_to_its_state(c, ids, outcome):
    attempt_id = ended(c, ids, outcome, carrier_reference="c1", reason="why")
    assert states(c, ids) == [ENDS[outcome]] * 2
    row = attempt(c, attempt_id)
    assert (row.outcome, row.ended_at, row.carrier_reference) == (outcome, NOW, "c1")
    assert row_of(c, ids[0]).claim is None and row_of(c, ids[0]).reason == "why"


def test_what_was_handed_over_says_when(c, ids):
    ended(c, ids, Outcome.TAKEN)
    assert row_of(c, ids[0]).sent_at == NOW


@pytest.mark.parametrize(
    ("wanted", "got"),
    [
        pytest.param(NOW + HOUR, NOW + HOUR, id="in time"),
        pytest.param(NOW + 99 * HOUR, NOW + 48 * HOUR, id="never after it expires"),
    ],
)
def test_a_waiting_notice_is_due_again_at_its_time(c, ids, wanted, got):
    ended(c, ids, Outcome.LATER, send_again_at=wanted)
    row = row_of(c, ids[0])
    assert (row.send_at, row.attempt_id, row.tries) == (got, None, 1)


def test_a_later_answer_must_say_when(c, ids):
    claim(c)
    attempt_id, _ = begin(c, ids)
    with pytest.raises(ValueError, match="send_again_at is missing"):
        end(c, attempt_id, Outcome.LATER, send_again_at=None)


@pytest.mark.parametrize("outcome", Outcome)
def test_an_answer_under_another_claim_changes_nothing(c, ids, outcome):
    claim(c)
    attempt_id, _ = begin(c, ids)
    assert end(c, attempt_id, outcome, token="theirs") == 0
    assert states(c, ids) == [NoticeState.CLAIMED] * 2 and attempt(c, attempt_id).outcome is None


@pytest.mark.parametrize("outcome", Outcome)
def test_an_answer_after_the_lease_was_settled_changes_nothing(c, ids, outcome):
    claim(c)
    attempt_id, _ = begin(c, ids)
    assert queue.release_lapsed(c, NOW + HOUR) == (0, 2)
    assert end(c, attempt_id, outcome, at=NOW + HOUR) == 0
    assert states(c, ids) == [NoticeState.IN_DOUBT] * 2
    assert attempt(c, attempt_id).outcome == Outcome.UNSURE


def test_an_attempt_ends_once(c, ids):
    attempt_id = ended(c, ids, Outcome.TAKEN)
    assert end(c, attempt_id, Outcome.REFUSED) == 0
    assert attempt(c, attempt_id).outcome == Outcome.TAKEN


# Giving back


def test_a_postponed_notice_is_planned_for_later_and_no_try_is_counted(c, ids):
    claim(c)
    at, day = NOW + 20 * HOUR, date(2026, 12, 7)
    put_off = {"notice_ids": ids, "send_at": at, "day": day, "reason": "outside sending hours"}
    assert queue.postpone(c, claim="theirs", **put_off) == 0
    assert queue.postpone(c, claim="ours", **put_off) == 2
    row = row_of(c, ids[0])
    assert (row.state, row.send_at, row.day, row.tries) == ("planned", at, day, 0)
    assert (row.reason, row.claim, row.lease_until) == ("outside sending hours", None, None)


def test_a_notice_is_never_postponed_beyond_its_expiry(c, ids):
    claim(c)
    far = {"send_at": NOW + 99 * HOUR, "day": date(2026, 12, 10)}
    assert queue.postpone(c, notice_ids=ids, claim="ours", **far) == 2
    assert row_of(c, ids[0]).send_at == NOW + 48 * HOUR


# Leases


def test_a_lease_that_still_runs_is_left_alone(c, ids):
    claim(c)
    assert queue.release_lapsed(c, NOW + LEASE) == (0, 0)
    assert states(c, ids) == [NoticeState.CLAIMED] * 2


def test_a_lapsed_claim_that_tried_nothing_is_planned_again(c, ids):
    claim(c)
    assert queue.release_lapsed(c, NOW + HOUR) == (2, 0)
    assert claim(c, "theirs", NOW + HOUR) != []


def test_a_lapsed_attempt_leaves_its_whole_text_in_doubt(c, season, ids):
    untried = queued(c, season, "untried")
    claim(c)
    attempt_id, _ = begin(c, ids)
    assert queue.release_lapsed(c, NOW + HOUR) == (1, 2)
    assert states(c, ids + untried) == [*[NoticeState.IN_DOUBT] * 2, NoticeState.PLANNED]
    row = attempt(c, attempt_id)
    assert (row.outcome, row.ended_at) == (Outcome.UNSURE, NOW + HOUR)


# In doubt


def test_a_text_in_doubt_is_claimed_whole_under_its_reference(c, ids):
    attempt_id = ended(c, ids, Outcome.UNSURE)
    claimed = claim_doubt(c, limit=1)
    assert [notice.id for notice in claimed] == ids
    assert {(n.attempt_id, n.client_reference) for n in claimed} == {(attempt_id, "ref")}
    assert [notice.tries for notice in claimed] == [2, 2]


@pytest.mark.parametrize(
    "change",
    [
        pytest.param({"changed_at": NOW + HOUR}, id="fell in doubt just now"),
        pytest.param({"send_at": NOW + HOUR}, id="put off"),
        pytest.param({"expires_at": NOW, "send_at": NOW}, id="too late"),
        pytest.param({"state": "delivered"}, id="arrived after all"),
    ],
)
def test_a_text_in_doubt_of_which_one_part_may_not_go_stays(c, ids, change):
    ended(c, ids, Outcome.UNSURE)
    c.execute(update(t.notices).where(t.notices.c.id == ids[1]).values(change))
    assert claim_doubt(c) == []


def test_a_text_in_doubt_of_a_stopped_phone_stays(c, season, ids):
    ended(c, ids, Outcome.UNSURE)
    farmers.stop_phone(c, season.phones[0].id, NOW)
    assert claim_doubt(c) == []


@pytest.mark.parametrize(("gateway", "found"), [("console", 2), ("modem", 0), (None, 2)])
def test_only_the_gateway_that_had_a_text_knows_its_reference(c, ids, gateway, found):
    ended(c, ids, Outcome.UNSURE)
    assert len(claim_doubt(c, gateway=gateway)) == found


def give_back(c, ids, way: str) -> None:
    match way:
        case "postponed":
            later = {"send_at": NOW + HOUR, "day": date(2026, 12, 6)}
            queue.postpone(c, notice_ids=ids, claim="again", **later)
        case "lapsed":
            queue.release_lapsed(c, NOW + HOUR)
        case "stopped":
            farmers.stop_phone(c, row_of(c, ids[0]).phone_id, NOW)
            assert begin(c, ids, "again") is None


@pytest.mark.parametrize("way", ["postponed", "lapsed", "stopped"])
def test_a_text_once_in_doubt_never_becomes_movable(c, ids, way):
    attempt_id = ended(c, ids, Outcome.UNSURE)
    claim_doubt(c)
    give_back(c, ids, way)
    assert states(c, ids) == [NoticeState.IN_DOUBT] * 2
    assert row_of(c, ids[0]).attempt_id == attempt_id


def test_a_text_put_off_in_doubt_comes_back_at_its_time(c, ids):
    ended(c, ids, Outcome.UNSURE)
    claim_doubt(c)
    give_back(c, ids, "postponed")
    assert claim_doubt(c, "early") == []
    assert len(claim_doubt(c, "in time", now=NOW + HOUR)) == 2


def test_a_second_try_may_settle_a_doubt(c, ids):
    ended(c, ids, Outcome.UNSURE, reason="cut off")
    claim_doubt(c)
    attempt_id, _ = begin(c, ids, "again")
    assert end(c, attempt_id, Outcome.TAKEN, token="again") == 2
    row = row_of(c, ids[0])
    assert (row.state, row.reason, row.attempt_id) == ("handed over", None, attempt_id)


# Expiry, and what comes next


@pytest.mark.parametrize("state", sorted(NoticeState))
def test_only_movable_notices_expire(c, ids, state):
    token = "theirs" if state is NoticeState.CLAIMED else None
    c.execute(update(t.notices).values(state=state.value, claim=token))
    movable = state in (NoticeState.PLANNED, NoticeState.HELD, NoticeState.WAITING)
    assert queue.expire(c, NOW + 48 * HOUR) == (2 if movable else 0)
    assert states(c, ids) == [NoticeState.EXPIRED if movable else state] * 2


def test_a_notice_still_of_use_does_not_expire(c, ids):
    assert queue.expire(c, NOW + 48 * HOUR - timedelta(seconds=1)) == 0


def test_an_expired_notice_says_why(c, ids):
    queue.expire(c, NOW + 48 * HOUR)
    assert row_of(c, ids[0]).reason == "too late to be of use"


def test_the_next_due_time_is_that_of_the_first_to_go_out(c, season):
    assert queue.next_due_at(c) is None
    later, first = queued(c, season, "later"), queued(c, season, "first", send_at=NOW - 2 * HOUR)
    assert queue.next_due_at(c) == NOW - 2 * HOUR
    c.execute(update(t.notices).where(t.notices.c.id.in_(first)).values(state="held"))
    assert queue.next_due_at(c) == NOW - HOUR
    c.execute(update(t.notices).where(t.notices.c.id.in_(later)).values(state="waiting"))
    assert queue.next_due_at(c) == NOW - HOUR


def test_two_phones_are_two_matters(c, season, ids):
    other = farmers.season(c, a_season(c, 2))
    theirs = queued(c, other, "thin/1/opens")
    ended(c, ids, Outcome.REFUSED)
    assert states(c, theirs) == [NoticeState.CLAIMED]
