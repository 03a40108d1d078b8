"""What the records tell of each route, on both engines."""

from datetime import UTC, date, datetime, timedelta

import pytest
from records_cast import HOUR, NOW, queued
from sqlalchemy import insert, update

from reminder_service.kinds import NoticeState
from reminder_service.records import queue_figures, route_answers, route_views
from reminder_service.records import tables as t
from reminder_service.records.route_views import Fate, fate_of, tries_by_route
from reminder_service.records.tables import Outcome

DAY = timedelta(days=1)


def a_try(c, at=NOW - HOUR, outcome="taken", route="main", state=None, notice=None, **fields):
    """Write one try, and let a notice stand in a state under it."""
    ended = {"ended_at": at + timedelta(seconds=fields.pop("seconds", 1))} if outcome else {}
    known = {"gateway": route, "client_reference": "r", "started_at": at, "outcome": outcome}
    tried = insert(t.attempts).values(**known | ended | fields).returning(t.attempts.c.id)
    attempt_id = c.execute(tried).scalar_one()
    if notice is not None:
        claim = "a" if state == "claimed" else None
        stands = {"state": state, "attempt_id": attempt_id, "claim": claim}
        c.execute(update(t.notices).where(t.notices.c.id == notice).values(stands))
    return attempt_id


def a_receipt(c, route="main", attempt_id=None, at=NOW):
    known = {"gateway": route, "reference": "x", "state": "delivered", "at": at, "reason": ""}
    c.execute(insert(t.receipts).values(**known, received_at=at, attempt_id=attempt_id))


@pytest.mark.parametrize(
    ("outcome", "state", "fate"),
    [
        pytest.param(None, NoticeState.CLAIMED, Fate.UNDER_WAY, id="under way"),
        pytest.param(Outcome.TAKEN, NoticeState.HANDED_OVER, Fate.NO_WORD, id="no receipt yet"),
        pytest.param(Outcome.TAKEN, NoticeState.DELIVERED, Fate.DELIVERED, id="delivered"),
        pytest.param(Outcome.TAKEN, NoticeState.UNDELIVERED, Fate.UNDELIVERED, id="undelivered"),
        pytest.param(Outcome.REFUSED, NoticeState.REFUSED, Fate.REFUSED, id="refused"),
        pytest.param(Outcome.REFUSED, None, Fate.REFUSED, id="refused, sent again since"),
        pytest.param(Outcome.LATER, None, Fate.TRIED_AGAIN, id="put off"),
        pytest.param(Outcome.UNSURE, NoticeState.IN_DOUBT, Fate.IN_DOUBT, id="in doubt"),
        pytest.param(Outcome.UNSURE, NoticeState.CLAIMED, Fate.IN_DOUBT, id="being sent again"),
        pytest.param(Outcome.UNSURE, NoticeState.DELIVERED, Fate.DELIVERED, id="doubt settled"),
        pytest.param(Outcome.UNSURE, None, Fate.TRIED_AGAIN, id="sent again"),
        pytest.param(Outcome.UNSURE, NoticeState.EXPIRED, Fate.REFUSED, id="never sent"),
    ],
)
def test_what_became_of_a_try(outcome, state, fate):
    assert fate_of(outcome, state) is fate


def test_tries_are_counted_by_answer_and_by_fate(c, season):
    one, two, three = queued(c, season, "one", "two", "three")
    a_try(c, state="delivered", notice=one)
    a_try(c, state="handed over", notice=two)
    a_try(c, outcome="unsure", state="in doubt", notice=three)
    a_try(c, outcome="later")
    a_try(c, outcome=None)
    found = tries_by_route(c, ["main"], NOW)["main"].all_days
    assert found.tried == 5
    assert found.outcomes == {
        Outcome.TAKEN: 2,
        Outcome.UNSURE: 1,
        Outcome.LATER: 1,
        None: 1,
    }
    assert found.fates == {
        Fate.DELIVERED: 1,
        Fate.NO_WORD: 1,
        Fate.IN_DOUBT: 1,
        Fate.TRIED_AGAIN: 1,
        Fate.UNDER_WAY: 1,
    }


def test_a_text_of_two_notices_is_one_try(c, season):
    one, two = queued(c, season, "one", "two")
    attempt_id = a_try(c, state="delivered", notice=one)
    stands = {"state": "delivered", "attempt_id": attempt_id}
    c.execute(update(t.notices).where(t.notices.c.id == two).values(stands))
    assert tries_by_route(c, ["main"], NOW)["main"].all_days.fates == {Fate.DELIVERED: 1}


def test_tries_fall_into_their_utc_days(c):
    midnight = datetime(2026, 12, 6, tzinfo=UTC)
    for at in (NOW, midnight, midnight - timedelta(seconds=1), midnight - 6 * DAY):
        a_try(c, at)
    days = tries_by_route(c, ["main"], NOW)["main"].days
    assert [(day.day, tries.tried) for day, tries in days] == [
        (30, 1),
        (1, 0),
        (2, 0),
        (3, 0),
        (4, 0),
        (5, 1),
        (6, 2),
    ]


def test_only_the_last_24_hours_and_seven_days_are_counted(c):
    for ago in (HOUR, 23 * HOUR, 25 * HOUR, 6 * DAY, 8 * DAY):
        a_try(c, NOW - ago)
    found = tries_by_route(c, ["main"], NOW)["main"]
    assert (found.last_24_h.tried, found.all_days.tried) == (2, 4)


def test_two_days_hold_the_last_24_hours(c):
    a_try(c, NOW - 23 * HOUR)
    a_try(c, NOW - 3 * DAY)
    found = tries_by_route(c, ["main"], NOW, days=2)["main"]
    assert (found.last_24_h.tried, found.all_days.tried) == (1, 1)


def test_routes_are_kept_apart(c):
    a_try(c, route="main")
    a_try(c, route="spare", outcome="refused")
    a_try(c, route="gone")
    found = tries_by_route(c, ["main", "spare", "new"], NOW)
    assert {name: tries.all_days.tried for name, tries in found.items()} == {
        "main": 1,
        "spare": 1,
        "new": 0,
    }
    assert len(found["new"].days) == 7


def test_the_last_failures_hold_those_of_carriers_and_of_receipts(c, season):
    (one,) = queued(c, season, "one")
    a_try(c, NOW - 3 * HOUR, "later", reason="busy")
    a_try(c, NOW - 2 * HOUR, "unsure", route="spare", reason="timed out")
    a_try(c, state="undelivered", notice=one)
    c.execute(update(t.notices).where(t.notices.c.id == one).values(reason="phone is off"))
    found = route_answers.last_failures(c, ["main", "spare"], NOW - DAY)
    assert [(each.route, each.kind, each.reason) for each in found] == [
        ("main", "undelivered", "phone is off"),
        ("spare", "unsure", "timed out"),
        ("main", "later", "busy"),
    ]


def test_old_failures_and_those_of_other_routes_are_left_out(c):
    a_try(c, NOW - 2 * DAY, "refused", reason="old")
    a_try(c, outcome="refused", route="other", reason="elsewhere")
    a_try(c)
    assert route_answers.last_failures(c, ["main"], NOW - DAY) == []


def test_a_bad_day_is_read_up_to_a_limit(c):
    tried = {"gateway": "main", "client_reference": "r", "outcome": "later", "reason": "busy"}
    many = route_answers.LAST_TRIES + 20
    rows = [tried | {"started_at": NOW - timedelta(seconds=n)} for n in range(many)]
    c.execute(insert(t.attempts), rows)
    found = route_answers.last_failures(c, ["main"], NOW - DAY)
    assert len(found) == route_answers.LAST_TRIES and found[0].at == NOW


def test_hand_over_times_are_sorted_and_leave_out_what_is_under_way(c):
    a_try(c, seconds=3)
    a_try(c, seconds=1)
    a_try(c, outcome=None)
    found = route_answers.hand_over_times(c, ["main", "spare"], NOW - DAY)
    assert found == {"main": [1.0, 3.0], "spare": []}


@pytest.mark.parametrize(
    ("share", "value"),
    [
        pytest.param(0.5, 10, id="median"),
        pytest.param(0.95, 19, id="95 of 100"),
        pytest.param(1.0, 20, id="all"),
        pytest.param(0.001, 1, id="hardly any"),
    ],
)
def test_a_share_of_values_lies_up_to_the_nearest_rank(share, value):
    assert route_answers.nearest_rank(range(1, 21), share) == value


def test_receipts_of_no_known_text_are_counted_by_route(c):
    a_receipt(c)
    a_receipt(c)
    a_receipt(c, attempt_id=a_try(c))
    a_receipt(c, at=NOW - 8 * DAY)
    found = route_answers.unmatched_by_route(c, ["main", "spare"], NOW - 7 * DAY)
    assert found == {"main": 2, "spare": 0}


def test_what_a_route_was_given_today(c):
    day = {"route": "main", "texts": 2, "segments": 3, "cost": 45}
    c.execute(insert(t.spending).values(day=date(2026, 12, 6), **day))
    c.execute(insert(t.spending).values(day=date(2026, 12, 5), **day | {"texts": 9}))
    found = route_answers.given_on(c, date(2026, 12, 6))
    assert found == {"main": route_answers.GivenToday(2, 3, 45)}


def test_without_routes_there_is_nothing_to_read(c):
    assert route_answers.last_failures(c, [], NOW) == []
    assert route_answers.hand_over_times(c, [], NOW) == {}
    assert route_views.tries_by_route(c, [], NOW) == {}


def test_every_state_has_its_count(c, season):
    one, _ = queued(c, season, "one", "two")
    a_try(c, state="delivered", notice=one)
    counts = queue_figures.notices_by_state(c)
    assert counts[NoticeState.DELIVERED] == counts[NoticeState.PLANNED] == 1
    assert counts[NoticeState.REFUSED] == 0 and len(counts) == len(NoticeState)


def test_unworked_texts_are_counted(c):
    text = {"gateway": "main", "sender": "", "body": b"", "sent_at": NOW, "received_at": NOW}
    c.execute(insert(t.inbound).values(message_id="1", **text))
    c.execute(insert(t.inbound).values(message_id="2", handled_at=NOW, **text))
    assert queue_figures.unworked_texts(c) == 1
