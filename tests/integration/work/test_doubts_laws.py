"""Whatever settles a doubt, in any order: each is settled once, and no final state is moved."""

from collections import Counter
from dataclasses import replace
from datetime import timedelta

from asking_gateway import ASKED, AskingGateway
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from season_cast import a_programme, local

from gateways.errors import TryLater, Unsure
from gateways.protocol import NotKnown, Receipt, ReceiptState
from reminder_service.kinds import NoticeState
from reminder_service.records.engine import reading, writing
from reminder_service.records.people import Person, add_person, person_by_login
from reminder_service.records.tables import Outcome, Role
from reminder_service.work.dispatch import dispatch_due, sweep
from reminder_service.work.doubts import settle_doubts
from reminder_service.work.doubts_by_hand import Verdict, settle_by_hand
from reminder_service.work.events import keep_event, match_receipts

ENDS = {
    NoticeState.DELIVERED,
    NoticeState.UNDELIVERED,
    NoticeState.REFUSED,
    NoticeState.EXPIRED,
}
"""States that nothing here may move."""

STATES = st.sampled_from(ReceiptState)
ANSWERS = st.one_of(
    STATES,
    st.just(NotKnown()),
    st.just(TryLater("closed", 60)),
    st.just(Unsure("no such service")),
)
STEPS = st.one_of(
    st.tuples(st.just("receipt"), STATES),
    st.tuples(st.just("ask"), ANSWERS),
    st.tuples(st.just("ask and receipt"), st.tuples(ANSWERS, STATES)),
    st.tuples(st.just("policy"), st.sampled_from(["send again", "count as sent", "person"])),
    st.tuples(st.just("person"), st.sampled_from(Verdict)),
    st.tuples(st.just("dispatch"), st.sampled_from([None, Unsure("cut"), TryLater("full", 1)])),
    st.tuples(st.just("wait"), st.sampled_from([1, 20, 120, 3000])),
)


class Season:
    """One text, what happens to it, and what must never happen to it."""

    def __init__(self, programme, gateway, person: Person) -> None:
        self.programme, self.gateway, self.person = programme, gateway, person
        self.services = programme.services
        gateway.meanwhile = lambda: None
        gateway.said.clear()
        before = {row["id"] for row in programme.rows()}
        self.known = before
        self.first_attempt = len(programme.rows("attempts"))
        programme.text("HELP")
        self.dispatch(Unsure("cut after the body"))
        self.ended: dict[int, str] = {}
        self.settled: dict[int, tuple] = {}

    def rows(self) -> list[dict]:
        return [row for row in self.programme.rows() if row["id"] not in self.known]

    def attempts(self) -> list[dict]:
        rows = sorted(self.programme.rows("attempts"), key=lambda row: row["id"])
        return rows[self.first_attempt :]

    def dispatch(self, answer) -> None:
        self.gateway.script(answer)
        dispatch_due(self.services)

    def receipt(self, state: ReceiptState) -> Receipt:
        ours = self.attempts()[-1]["client_reference"]
        return Receipt(None, ours, state, self.programme.clock())

    def do(self, step: str, given) -> None:
        match step:
            case "receipt":
                keep_event(self.services, "asking", self.receipt(given))
                match_receipts(self.services)
            case "ask":
                self.gateway.said.append(self.answer(given))
                settle_doubts(self.services)
            case "ask and receipt":
                self.gateway.meanwhile = lambda: self.do("receipt", given[1])
                self.do("ask", given[0])
                self.gateway.meanwhile = lambda: None
            case "policy":
                chosen = self.services.settings.model_copy(update={"doubt_policy": given})
                abilities = replace(ASKED, asking=False)
                self.gateway.abilities, kept = abilities, self.gateway.abilities
                settle_doubts(replace(self.services, settings=chosen))
                self.gateway.abilities = kept
            case "person":
                for row in self.rows():
                    if row["attempt_id"] is not None:
                        settle_by_hand(self.services, row["attempt_id"], self.person, given)
            case "dispatch":
                self.dispatch(given)
                sweep(self.services)
            case "wait":
                self.programme.clock.now += timedelta(minutes=given)

    def answer(self, given):
        return self.receipt(given) if isinstance(given, ReceiptState) else given

    def check(self) -> None:
        rows, attempts = self.rows(), self.attempts()
        for row in rows:
            assert self.ended.get(row["id"], row["state"]) == row["state"], "a final state moved"
            if row["state"] in ENDS:
                self.ended[row["id"]] = row["state"]
        for attempt in attempts:
            how = (attempt["settled_by"], attempt["settled_at"])
            assert self.settled.get(attempt["id"], how) == how, "settled twice"
            if how[0] is not None:
                assert attempt["outcome"] == Outcome.UNSURE
                self.settled[attempt["id"]] = how
        open_doubts = {
            a["id"] for a in attempts if a["outcome"] == "unsure" and not a["settled_by"]
        }
        in_doubt = {row["attempt_id"] for row in rows if row["state"] == "in doubt"}
        assert in_doubt <= open_doubts, "in doubt, but settled"
        self.each_settlement_is_on_record_once(rows, in_doubt, open_doubts)

    def each_settlement_is_on_record_once(self, rows, in_doubt, open_doubts) -> None:
        subjects = {f"notice {row['id']}" for row in rows}
        noted = [n for n in self.programme.rows("audit", what="settle") if n["subject"] in subjects]
        assert Counter(n["after"]["settled by"] for n in noted) == Counter(
            how for how, _ in self.settled.values()
        )
        assert open_doubts == in_doubt, "settled, but not on record"


def script(gateway, answer) -> None:
    """Let the carrier give one answer to what is sent next, and take everything after it."""
    gateway._answers.clear()
    if answer is not None:
        gateway._answers.append(answer)


def test_each_doubt_is_settled_once_in_any_order(engine):
    gateway = AskingGateway()
    gateway.script = lambda answer: script(gateway, answer)
    programme = a_programme(
        engine, local("2026-11-25", "10:00"), reply_cap_per_day=1000, retry_attempts=20
    )
    programme.services = replace(programme.services, gateways={"asking": gateway}, routes=())
    programme.plot("1")
    with writing(engine) as c:
        add_person(
            c, login="tembi", name="T", password_hash="x", role=Role.PROGRAMME_LEAD, ward_ids=[]
        )
    with reading(engine) as c:
        person = person_by_login(c, "tembi")

    @settings(suppress_health_check=[HealthCheck.too_slow])
    @given(st.lists(STEPS, min_size=1, max_size=8))
    def in_this_order(steps):
        programme.clock.now += timedelta(days=7)
        season = Season(programme, gateway, person)
        season.check()
        for step, given_to_it in steps:
            season.do(step, given_to_it)
            season.check()
        for row in season.rows():  # nothing of this run is left for the next
            if row["attempt_id"] is not None:
                settle_by_hand(season.services, row["attempt_id"], person, Verdict.LOST)
        dispatch_due(season.services)

    in_this_order()
