"""What a phone's cap holds back, quiet days at dispatch, and the order when routes are short."""

from collections import Counter
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise

from scripted_gateway import ScriptedGateway
from season_cast import AMINA, a_programme, local

from gateways.protocol import Abilities
from reminder_service.kinds import SeasonId, Stage
from reminder_service.records import plans
from reminder_service.records.engine import writing
from reminder_service.records.plans import NewNotice
from reminder_service.rules.quiet_days import quiet_days
from reminder_service.work.dispatch import dispatch_due, sweep
from reminder_service.work.routes import Route

PROMISES = Abilities(client_reference=False, receipts=False, inbound=False)
DAY = date(2026, 12, 5)


class Queue:
    """A programme whose notices are written by hand, so that each test says what is due."""

    def __init__(self, engine, route: Route | None = None, **settings) -> None:
        self.programme = a_programme(engine, local(DAY, "08:00"), **settings)
        self.gateway = ScriptedGateway((), PROMISES, "only")
        route = route or Route(name="only", gateway="scripted")
        self.programme.services = replace(
            self.programme.services, gateways={"only": self.gateway}, routes=(route,)
        )
        self.clock = self.programme.clock
        self.season = SeasonId(0)

    def phone(self, number: str = AMINA, plot: str = "1") -> int:
        """Phone of one more farmer, with nothing planned for it yet."""
        self.season = self.programme.plot(plot, phone=number)
        with writing(self.programme.services.engine) as c:
            (row,) = self.programme.rows("phones", number=number)
            plans.withdraw_for_phone(c, row["id"], "for the test", self.clock())
        return row["id"]

    def add(self, phone_id: int, on: date = DAY, at: str = "08:00", **fields) -> str:
        """One more notice; answers its key."""
        key = fields.pop("key", f"k/{len(self.programme.rows())}")
        known = {
            "key": key, "phone_id": phone_id, "farmer_id": None,
            "ward_id": self.programme.rows("wards")[0]["id"], "season_id": None,
            "inbound_id": None, "task": "weed", "number": 1, "stage": Stage.OPENS,
            "opens_on": on, "due_on": on, "closes_on": on, "body": f"{key}: " + "weed " * 28,
            "segments": 1, "importance": 5, "day": on, "send_at": local(on, at),
            "expires_at": local(on + timedelta(days=3), "18:00"),
        }  # fmt: skip
        with writing(self.programme.services.engine) as c:
            plans.insert_notices(c, [NewNotice(**known | fields)], self.clock())
        return key

    def add_many(self, notices: list[NewNotice]) -> None:
        with writing(self.programme.services.engine) as c:
            plans.insert_notices(c, notices, self.clock())

    def go(self, on: date = DAY, at: str = "08:00") -> "Queue":
        self.clock.now = local(on, at)
        sweep(self.programme.services)
        dispatch_due(self.programme.services)
        return self

    def state(self, key: str) -> str:
        return self.programme.rows(key=key)[0]["state"]

    def reason(self, key: str) -> str:
        return self.programme.rows(key=key)[0]["reason"] or ""


def test_the_less_important_is_held_back_and_says_why(engine):
    queue = Queue(engine, weekly_cap=1, segment_limit=1)
    phone = queue.phone()
    minor, major = queue.add(phone, importance=6), queue.add(phone, importance=2)
    queue.go()
    assert (queue.state(minor), queue.state(major)) == ("withdrawn", "handed over")
    assert queue.reason(minor) == (
        "held back: a phone gets at most 1 texts in 7 days (REMINDER_WEEKLY_CAP), and 1 went "
        "already or matter more"
    )


def test_notices_joined_to_one_text_count_once(engine):
    queue = Queue(engine, weekly_cap=1, segment_limit=4)
    phone = queue.phone()
    keys = [queue.add(phone, importance=importance) for importance in (2, 6)]
    queue.go()
    assert [queue.state(key) for key in keys] == ["handed over"] * 2
    assert len(queue.gateway.offered) == 1


def test_todays_minor_text_leaves_room_for_tomorrows_major_one(engine):
    queue = Queue(engine, weekly_cap=1, segment_limit=1)
    phone = queue.phone()
    minor = queue.add(phone, importance=6)
    major = queue.add(phone, on=DAY + timedelta(1), importance=2)
    queue.go().go(DAY + timedelta(1))
    assert (queue.state(minor), queue.state(major)) == ("withdrawn", "handed over")


def test_a_week_later_there_is_room_again(engine):
    queue = Queue(engine, weekly_cap=1, segment_limit=1)
    phone = queue.phone()
    days = [DAY + timedelta(days=n) for n in (0, 6, 7)]
    keys = []
    for on in days:  # each is queued on its day, as a new report would
        queue.clock.now = local(on, "07:00")
        keys.append(queue.add(phone, on=on))
        queue.go(on)
    assert [queue.state(key) for key in keys] == ["handed over", "withdrawn", "handed over"]


def test_farmers_who_share_a_phone_count_together(engine):
    queue = Queue(engine, weekly_cap=1, segment_limit=1)
    first, second = queue.phone(plot="1"), queue.phone(plot="2")
    assert first == second
    keys = [queue.add(first, importance=3), queue.add(second, importance=4)]
    queue.go()
    assert [queue.state(key) for key in keys] == ["handed over", "withdrawn"]


def test_phones_do_not_count_for_each_other(engine):
    queue = Queue(engine, weekly_cap=1, segment_limit=1)
    phones = [queue.phone(f"+44770090000{n}", plot=str(n)) for n in (1, 2, 3)]
    keys = [queue.add(phone) for phone in phones]
    queue.go()
    assert {queue.state(key) for key in keys} == {"handed over"}


def test_corrections_urgent_last_calls_and_repeats_by_hand_always_go(engine):
    queue = Queue(engine, weekly_cap=1, segment_limit=1)
    phone = queue.phone()
    gone = queue.add(phone, importance=1)
    always = [
        queue.add(phone, stage=Stage.CORRECTION),
        queue.add(phone, stage=Stage.LAST_CALL, importance=1),
        queue.add(phone, key="9/weed/1/opens/again-1"),
    ]
    capped = queue.add(phone, stage=Stage.LAST_CALL, importance=2)
    queue.go()
    assert [queue.state(key) for key in always] == ["handed over"] * 3
    # They are counted too, so nothing else has room.
    assert (queue.state(gone), queue.state(capped)) == ("withdrawn", "withdrawn")


def test_replies_are_neither_counted_nor_held_back(engine):
    queue = Queue(engine, weekly_cap=1)
    reminder = queue.add(queue.phone())
    for _ in range(3):
        queue.programme.text("HELP")
    queue.go()
    assert {row["state"] for row in queue.programme.rows(stage="reply")} == {"handed over"}
    assert queue.state(reminder) == "handed over"


def test_a_cap_of_nought_is_none(engine):
    queue = Queue(engine, weekly_cap=0, segment_limit=1)
    phone = queue.phone()
    keys = [queue.add(phone) for _ in range(9)]
    queue.go()
    assert {queue.state(key) for key in keys} == {"handed over"}


def test_a_season_under_a_cap_never_fills_a_week_and_ends_in_sight(engine):
    programme = a_programme(engine, local("2026-11-14", "10:00"), weekly_cap=2)
    for plot in ("1", "2", "3"):
        programme.plot(plot)
    for plot in ("1", "2", "3"):
        programme.text(f"PLANTED PLOT {plot} 14/11")
    programme.at("2027-01-20")
    counted: Counter[date] = Counter()
    for row in programme.rows("attempts"):
        members = programme.rows(attempt_id=row["id"])
        if members[0]["stage"] == "reply" or any(
            m["stage"] == "correction" or (m["stage"] == "last-call" and m["importance"] == 1)
            for m in members
        ):
            continue
        counted[members[0]["sent_at"].date()] += 1
    weeks = [sum(counted[day + timedelta(n)] for n in range(7)) for day in counted]
    assert counted and max(weeks) <= 2
    held = [row for row in programme.rows(state="withdrawn") if "WEEKLY_CAP" in row["reason"]]
    assert held and all(row["person_id"] is None for row in held)


def test_nothing_leaves_on_a_quiet_day_but_replies(engine):
    queue = Queue(engine, quiet_days=quiet_days(["2026-12-05", "sunday"]))
    phone = queue.phone()
    reminder = queue.add(phone)
    queue.programme.text("HELP")
    queue.go()
    (row,) = queue.programme.rows(key=reminder)
    assert row["state"] == "planned"
    assert row["send_at"] == local("2026-12-07", "08:00")
    assert row["reason"] == "outside sending hours or on a quiet day"
    assert {each["state"] for each in queue.programme.rows(stage="reply")} == {"handed over"}
    queue.go(date(2026, 12, 7))
    assert queue.state(reminder) == "handed over"


def test_a_season_with_quiet_days_sends_on_none_of_them(engine):
    quiet = quiet_days(["sunday", "12-25", "2026-12-09"])
    programme = a_programme(engine, local("2026-11-14", "10:00"), quiet_days=quiet)
    programme.plot("1")
    programme.text("PLANTED 14/11")
    programme.at("2027-01-20")
    days = {at.date() for at, _ in programme.left if at > local("2026-11-14", "23:00")}
    assert days and not any(day in quiet for day in days)


# Where routes are short.


def many(queue: Queue, count: int, expires_days: list[int], at=lambda n: "08:00") -> list[str]:
    """One notice for each of many phones, expiring after some days in turn."""
    phones = [queue.phone(f"+4477009000{n:02}", plot=str(n)) for n in range(count)]
    return [
        queue.add(
            phone,
            at=at(n),
            expires_at=local(DAY + timedelta(days=expires_days[n % len(expires_days)]), "18:00"),
        )
        for n, phone in enumerate(phones)
    ]


def order_sent(queue: Queue) -> list[str]:
    rows = [row for row in queue.programme.rows() if row["sent_at"]]
    return [row["key"] for row in sorted(rows, key=lambda row: (row["sent_at"], row["attempt_id"]))]


def test_a_backlog_goes_by_what_closes_first_at_the_pace_of_its_route(engine):
    queue = Queue(
        engine, Route(name="only", gateway="scripted", per_second=1), claim_batch=5, weekly_cap=0
    )
    keys = many(queue, 40, [9, 3, 6, 1])
    sent_by_second = []
    for second in range(60):
        queue.clock.now = local(DAY, "08:00") + timedelta(seconds=second)
        dispatch_due(queue.programme.services)
        sent_by_second.append(len(queue.gateway.offered))
    assert sent_by_second[-1] == 40
    steps = [b - a for a, b in pairwise(sent_by_second)]
    assert max(steps) <= 1
    expiries = {row["key"]: row["expires_at"] for row in queue.programme.rows()}
    went = [expiries[key] for key in order_sent(queue)]
    assert len(went) == len(keys)
    assert went == sorted(went)


def test_a_days_last_turns_are_kept_for_what_closes_first(engine):
    queue = Queue(engine, Route(name="only", gateway="scripted", per_day=2), weekly_cap=0)
    early, late = many(queue, 2, [9, 9]), []
    phones = [queue.phone(f"+4477009001{n:02}", plot=f"9{n}") for n in range(2)]
    late = [queue.add(phone, at="15:00", expires_at=local(DAY, "18:00")) for phone in phones]
    queue.go()
    assert [queue.state(key) for key in early] == ["planned"] * 2
    assert "what closes sooner goes first" in queue.reason(early[0])
    queue.go(at="15:00")
    assert [queue.state(key) for key in late] == ["handed over"] * 2
    queue.go(DAY + timedelta(days=1)).go(DAY + timedelta(days=1), "10:00")
    assert [queue.state(key) for key in early] == ["handed over"] * 2


def test_turns_that_nobody_else_needs_are_used_at_once(engine):
    queue = Queue(engine, Route(name="only", gateway="scripted", per_day=4), weekly_cap=0)
    early = many(queue, 2, [9, 9])
    other = queue.phone("+447700900150", plot="99")
    queue.add(other, at="15:00", expires_at=local(DAY, "18:00"))
    queue.go()
    assert [queue.state(key) for key in early] == ["handed over"] * 2


def test_texts_that_another_route_carries_take_no_turns(engine):
    only = Route(name="only", gateway="scripted", per_day=2, prefixes=["+44770090000"])
    queue = Queue(engine, only, weekly_cap=0)
    early = [queue.phone(f"+44770090000{n}", plot=str(n)) for n in (1, 2)]
    keys = [queue.add(phone, expires_at=local(DAY, "23:00")) for phone in early]
    for n in range(3):
        phone = queue.phone(f"+44770090010{n}", plot=f"8{n}")
        queue.add(phone, at="15:00", expires_at=local(DAY, "18:00"))
    queue.go()
    assert [queue.state(key) for key in keys] == ["handed over"] * 2
