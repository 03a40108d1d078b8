"""Whatever settles a doubt, in any order: each is settled once, and no final state is moved."""

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
    st.tuples(st.just("a receipt"), STATES),
    st.tuples(st.just("ask"), ANSWERS),
    st.tuples(st.just("ask and receipt"), st.tuples(ANSWERS, STATES)),
    st.tuples(st.just("policy"), st.sampled_from(["send again", "count as sent", "person"])),
    st.tuples(st.just("person says"), st.sampled_from(Verdict)),
    st.tuples(st.just("send"), st.sampled_from([None, Unsure("cut"), TryLater("full", 1)])),
    st.tuples(st.just("again by reference"), st.sampled_from([None, Unsure("cut"), "late"])),
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
        getattr(self, step.replace(" ", "_"))(given)

    def a_receipt(self, state: ReceiptState) -> None:
        keep_event(self.services, "asking", self.receipt(state))
        match_receipts(self.services)

    def ask(self, said) -> None:
        self.gateway.said.append(self.answer(said))
        settle_doubts(self.services)

    def ask_and_receipt(self, both) -> None:
        self.gateway.meanwhile = lambda: self.a_receipt(both[1])
        self.ask(both[0])
        self.gateway.meanwhile = lambda: None

    def policy(self, policy: str) -> None:
        chosen = self.services.settings.model_copy(update={"doubt_policy": policy})
        self.gateway.abilities = replace(ASKED, asking=False)
        settle_doubts(replace(self.services, settings=chosen))
        self.gateway.abilities = ASKED

    def person_says(self, verdict: Verdict) -> None:
        for row in self.rows():
            if row["attempt_id"] is not None:
                settle_by_hand(self.services, row["attempt_id"], self.person, verdict)

    def send(self, answer) -> None:
        self.dispatch(answer)
        sweep(self.services)

    def again_by_reference(self, answer) -> None:
        self.programme.clock.now += timedelta(minutes=2)
        self.gateway.abilities = replace(ASKED, client_reference=True)
        late = answer == "late"
        self.gateway.on_send = self.lease_runs_out if late else lambda: None
        self.dispatch(None if late else answer)
        self.gateway.on_send = lambda: None
        self.gateway.abilities = ASKED

    def wait(self, minutes: int) -> None:
        self.programme.clock.now += timedelta(minutes=minutes)

    def lease_runs_out(self) -> None:
        """The worker's answer comes when its lease is over and swept up."""
        self.programme.clock.now += timedelta(seconds=self.services.settings.lease_s + 1)
        sweep(self.services)
        self.gateway.on_send = lambda: None

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
        self.each_text_is_in_doubt_or_settled_on_record(rows, attempts)

    def each_text_is_in_doubt_or_settled_on_record(self, rows, attempts) -> None:
        texts = {attempt["id"]: attempt["client_reference"] for attempt in attempts}
        unsure = [attempt for attempt in attempts if attempt["outcome"] == Outcome.UNSURE]
        in_doubt = {texts[row["attempt_id"]] for row in rows if row["state"] == "in doubt"}
        assert in_doubt == {a["client_reference"] for a in unsure if a["settled_by"] is None}
        settled = {(texts[id_], *how) for id_, how in self.settled.items()}
        subjects = {f"notice {row['id']}" for row in rows}
        noted = [n for n in self.programme.rows("audit", what="settle") if n["subject"] in subjects]
        assert sorted((n["after"]["settled by"], n["at"]) for n in noted) == sorted(
            (by, at) for _, by, at in settled
        )


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
