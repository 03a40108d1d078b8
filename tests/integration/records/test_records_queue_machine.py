"""The outbound queue under any order of what workers, people, farmers and time may do.

All of one run happens in one transaction of a SQLite file and is rolled back at its end.
"""

from datetime import timedelta

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    Bundle,
    RuleBasedStateMachine,
    initialize,
    invariant,
    multiple,
    precondition,
    rule,
    run_state_machine_as_test,
)
from records_cast import HOUR, LEASE, NOW, a_person, a_season, new_notice
from sqlalchemy import select

from reminder_service.kinds import MOVABLE, NoticeState, Stage
from reminder_service.records import farmers, plans, queue, queue_by_hand
from reminder_service.records import tables as t
from reminder_service.records.tables import Outcome

DUE = {NoticeState.PLANNED, NoticeState.WAITING}
SETTLED = {NoticeState.HANDED_OVER, NoticeState.REFUSED}
MINUTES = st.integers(1, 24 * 60).map(lambda minutes: timedelta(minutes=minutes))
SOON = st.integers(1, 200).map(lambda minutes: timedelta(minutes=minutes))
ANY_IDS = st.sets(st.integers(1, 12), max_size=4)


class Queue(RuleBasedStateMachine):
    """The queue of two phones beside what is known of it without looking into it."""

    engine = None
    attempts = Bundle("attempts")

    @initialize()
    def open(self):
        self.connection = self.engine.connect()
        self.c = self.connection
        self.now = NOW
        self.seasons = [farmers.season(self.c, a_season(self.c, number)) for number in (1, 2)]
        self.person_id = a_person(self.c)
        self.holders: dict[int, str] = {}  # who has which notice
        self.taken: dict[int, int] = {}  # how often it was taken by the gateway
        self.settled: dict[int, str] = {}  # states that may never change any more
        self.doubted: set[int] = set()  # was in doubt once
        self.count = 0
        for number, season in enumerate(self.seasons * 2):
            plans.insert_notices(self.c, [new_notice(season, f"first/{number}")], NOW)

    def teardown(self):
        if hasattr(self, "connection"):
            self.connection.rollback()
            self.connection.close()

    def rows(self):
        return self.c.execute(select(t.notices).order_by(t.notices.c.id)).all()

    def token(self) -> str:
        self.count += 1
        return f"round {self.count}"

    def hold_claims(self, token: str, claimed) -> None:
        for notice in claimed:
            assert notice.id not in self.holders, "claimed twice"
            self.holders[notice.id] = token

    def drop(self, ids) -> None:
        for id_ in ids:
            self.holders.pop(id_, None)

    def worker(self, pick: int) -> tuple[str, list[int]]:
        """One of the workers that have something, and all that it has."""
        tokens = sorted(set(self.holders.values()))
        token = tokens[pick % len(tokens)]
        return token, sorted(id_ for id_, holder in self.holders.items() if holder == token)

    def at_rest(self, ids: list[int]) -> list[int]:
        """Those of a worker's notices that it is not sending at this moment."""
        began = select(t.attempts.c.id).where(t.attempts.c.ended_at.is_(None))
        under_way = set(self.c.execute(began).scalars())
        return [row.id for row in self.rows() if row.id in ids and row.attempt_id not in under_way]

    # What planning and people do

    @rule(phone=st.integers(0, 1), reply=st.booleans(), wait=MINUTES, life=MINUTES)
    def queue_notice(self, phone, reply, wait, life):
        self.count += 1
        at = self.now + wait - 12 * HOUR
        stage = Stage.REPLY if reply else Stage.OPENS
        fields = {"stage": stage, "send_at": at, "expires_at": at + life}
        notice = new_notice(self.seasons[phone], f"task/{self.count}", **fields)
        plans.insert_notices(self.c, [notice], self.now)

    @rule(notice_id=st.integers(1, 12), wait=SOON)
    def move(self, notice_id, wait):
        row = self.c.execute(select(t.notices).where(t.notices.c.id == notice_id)).one_or_none()
        if row is None:
            return
        columns = [name for name in plans.NewNotice.__slots__ if name in t.notices.c]
        names = {name: getattr(row, name) for name in columns}
        names |= {"stage": Stage(row.stage), "send_at": self.now + wait}
        wanted = plans.NewNotice(**names | {"expires_at": self.now + wait + HOUR})
        moved = plans.move_notices(self.c, [(notice_id, wanted)], self.now)
        closed = row.state in ("withdrawn", "expired") and row.person_id is None
        assert moved == (NoticeState(row.state) in MOVABLE or closed)

    @rule(ids=ANY_IDS)
    def withdraw_by_plan(self, ids):
        plans.withdraw_notices(self.c, sorted(ids), "the plan changed", self.now)

    @rule(ids=ANY_IDS)
    def hold(self, ids):
        queue_by_hand.hold(self.c, sorted(ids), self.person_id, self.now)

    @rule(ids=ANY_IDS)
    def release(self, ids):
        queue_by_hand.release(self.c, sorted(ids), self.now)

    @rule(ids=ANY_IDS)
    def withdraw_by_hand(self, ids):
        done = queue_by_hand.withdraw_by_hand(self.c, sorted(ids), self.person_id, self.now)
        self.settled.update(dict.fromkeys(done, "withdrawn"))

    @rule(phone=st.integers(0, 1), stop=st.booleans())
    def stop_or_start(self, phone, stop):
        phone_id = self.seasons[phone].phones[0].id
        if stop:
            farmers.stop_phone(self.c, phone_id, self.now)
            plans.withdraw_for_phone(self.c, phone_id, "the farmer said stop", self.now)
        else:
            farmers.start_phone(self.c, phone_id)

    # What workers do

    @rule(limit=st.integers(1, 5))
    def claim(self, limit):
        stopped = set(
            self.c.execute(
                select(t.phones.c.id).where(t.phones.c.stopped_at.is_not(None))
            ).scalars()
        )
        due = [
            row
            for row in self.rows()
            if row.state in DUE
            and row.send_at <= self.now < row.expires_at
            and (row.stage == Stage.REPLY or row.phone_id not in stopped)
        ]
        due.sort(key=lambda row: (row.stage != Stage.REPLY, row.expires_at, row.id))
        token = self.token()
        claimed = queue.claim_due(
            self.c, now=self.now, claim=token, lease_until=self.now + LEASE, limit=limit
        )
        assert [notice.id for notice in claimed] == [row.id for row in due[:limit]]
        self.hold_claims(token, claimed)

    @precondition(lambda self: self.doubted)
    @rule()
    def claim_in_doubt(self):
        token = self.token()
        claimed = queue.claim_in_doubt(
            self.c,
            before=self.now + LEASE,  # no rest: what fell in doubt may be tried at once
            now=self.now,
            claim=token,
            lease_until=self.now + LEASE,
            limit=2,
        )
        texts = {notice.attempt_id for notice in claimed}
        whole = {row.id for row in self.rows() if row.attempt_id in texts}
        assert {notice.id for notice in claimed} == whole
        self.hold_claims(token, claimed)

    @precondition(lambda self: self.holders)
    @rule(target=attempts, pick=st.integers(0, 99))
    def begin(self, pick):
        begun = self.begun(*self.worker(pick))
        return multiple() if begun is None else begun

    def begun(self, token: str, ids: list[int]) -> tuple[int, str] | None:
        """Attempt at sending what a worker has for one phone."""
        phones = {row.id: row.phone_id for row in self.rows()}
        mine = [id_ for id_ in ids if phones[id_] == phones[ids[0]]]
        begun = queue.begin_attempt(
            self.c,
            notice_ids=mine,
            claim=token,
            gateway="console",
            client_reference="r",
            at=self.now,
        )
        still = {row.id for row in self.rows() if row.claim == token}
        self.drop(id_ for id_ in mine if id_ not in still)
        return None if begun is None else (begun[0], token)

    @rule(attempt=attempts, outcome=st.sampled_from(Outcome), wait=SOON)
    def end(self, attempt, outcome, wait):
        attempt_id, token = attempt
        before = [row.id for row in self.rows() if row.attempt_id == attempt_id]
        doubted = self.doubted.intersection(before)
        if doubted and outcome is Outcome.LATER:
            outcome = Outcome.UNSURE  # as the dispatcher does: it may have got through already
        changed = queue.end_attempt(
            self.c,
            attempt_id=attempt_id,
            claim=token,
            outcome=outcome,
            at=self.now,
            send_again_at=self.now + wait,
        )
        assert changed in (0, len(before)), "a text was split"
        if changed:
            assert all(self.holders[id_] == token for id_ in before)
            self.drop(before)
            if outcome is Outcome.TAKEN:
                for id_ in before:
                    self.taken[id_] = self.taken.get(id_, 0) + 1

    @rule(limit=st.integers(1, 5))
    def lose_the_answer(self, limit):
        """A worker claims and sends, and never learns what became of it."""
        before = set(self.holders)
        self.claim(limit)
        ids = sorted(set(self.holders) - before)
        if ids:
            begun = self.begun(self.holders[ids[0]], ids)
            if begun is not None:
                self.end(begun, Outcome.UNSURE, LEASE)

    @precondition(lambda self: self.holders)
    @rule(pick=st.integers(0, 99), wait=SOON)
    def postpone(self, pick, wait):
        token, ids = self.worker(pick)
        at_rest = self.at_rest(ids)
        later = self.now + wait
        done = queue.postpone(self.c, notice_ids=ids, claim=token, send_at=later, day=later.date())
        assert done == len(at_rest)
        self.drop(at_rest)

    # What time does

    @rule(wait=SOON)
    def wait(self, wait):
        self.now += wait

    @precondition(lambda self: self.holders)
    @rule()
    def sweep(self):
        lapsed = [row for row in self.rows() if row.claim and row.lease_until < self.now]
        tried = [row for row in lapsed if row.attempt_id is not None]
        settled = queue.release_lapsed(self.c, self.now)
        assert settled == (len(lapsed) - len(tried), len(tried))
        self.drop(row.id for row in lapsed)

    @rule()
    def expire(self):
        late = [row for row in self.rows() if row.state in MOVABLE and row.expires_at <= self.now]
        assert queue.expire(self.c, self.now) == len(late)

    # What always holds

    @invariant()
    def a_claimed_row_has_its_worker_and_no_other_row_has(self):
        for row in self.rows():
            claimed = row.state == NoticeState.CLAIMED
            assert (row.claim is not None) == (row.lease_until is not None) == claimed
            assert self.holders.get(row.id) == row.claim

    @invariant()
    def what_is_settled_stays_settled(self):
        for row in self.rows():
            if row.id in self.settled:
                assert row.state == self.settled[row.id]
            elif row.state in SETTLED:
                self.settled[row.id] = row.state

    @invariant()
    def what_may_have_left_is_never_movable_again(self):
        for row in self.rows():
            if row.state == NoticeState.IN_DOUBT:
                self.doubted.add(row.id)
            if row.id in self.doubted or row.id in self.taken:
                assert row.state not in MOVABLE
            if row.state in MOVABLE:
                assert row.attempt_id is None

    @invariant()
    def the_gateway_takes_a_notice_once(self):
        assert all(times == 1 for times in self.taken.values())

    @invariant()
    def a_text_stands_or_falls_as_one(self):
        texts = {}
        for row in self.rows():
            if row.attempt_id is not None:
                texts.setdefault(row.attempt_id, set()).add(row.state)
        assert all(len(states) == 1 for states in texts.values())

    @invariant()
    def an_open_attempt_has_somebody_at_it(self):
        began = select(t.attempts.c.id).where(t.attempts.c.ended_at.is_(None))
        for attempt_id in self.c.execute(began).scalars():
            mine = [row for row in self.rows() if row.attempt_id == attempt_id]
            assert mine and all(row.state == NoticeState.CLAIMED for row in mine)

    @invariant()
    def nothing_goes_out_after_it_expires(self):
        assert all(row.send_at <= row.expires_at for row in self.rows())


@pytest.mark.parametrize("engine_name", ["sqlite"], indirect=True)
def test_the_queue_keeps_its_word_whatever_happens(engine):
    class OnThisFile(Queue):
        pass

    OnThisFile.engine = engine
    effort = settings(settings.default, max_examples=3 * settings.default.max_examples)
    run_state_machine_as_test(OnThisFile, settings=effort)
