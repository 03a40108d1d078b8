"""Laws of planning, by random reports, corrections and clocks."""

from dataclasses import replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st
from rules_cast import HOURS, sent, utc

from reminder_service.kinds import DATED_FACTS, OF_THE_STAND, Kind, Stage
from reminder_service.rules.derive import derive
from reminder_service.rules.facts import PlotFacts, Report, plot_facts
from reminder_service.rules.plan import Plan, SentNotice, WantedNotice
from reminder_service.rules.quiet_days import NONE_QUIET, QuietDays
from reminder_service.rules.reminders import wanted_notices
from reminder_service.rules.shipped import shipped_rulebook
from reminder_service.rules.weekly_cap import PhoneText, held_back

MAIZE = shipped_rulebook()
TOLERANCE = MAIZE.settings["correction_tolerance_days"].days
SEASON = st.dates(date(2026, 10, 15), date(2027, 6, 1))
ROUNDS = [(task.name, number) for task in MAIZE.tasks for number in (1, 2, 3)]
CHOICES = st.fixed_dictionaries(
    {
        "top-dressing": st.sampled_from(MAIZE.choices["top-dressing"]),
        "maturity": st.sampled_from(MAIZE.choices["maturity"]),
    }
)
FACTS = st.builds(
    PlotFacts,
    st.dictionaries(st.sampled_from(DATED_FACTS), SEASON),
    st.dictionaries(st.sampled_from(ROUNDS), SEASON, max_size=4),
    CHOICES,
    st.dictionaries(st.sampled_from([Kind.COUNT, Kind.BORER_COUNT]), SEASON),
)
INSTANTS = st.integers(0, 60 * 24 * 300).map(lambda m: utc(2026, 10, 15) + timedelta(minutes=m))
SPREADS = st.integers(0, 10_000)
QUIET = st.builds(QuietDays, st.frozensets(st.integers(0, 6), max_size=3))
CAPS = st.integers(1, 9)


@st.composite
def reports(draw: st.DrawFn) -> list[Report]:
    count = draw(st.integers(0, 12))
    refs = [str(n) for n in range(count)]
    return [
        Report(
            ref,
            draw(
                st.sampled_from(
                    [*DATED_FACTS, *OF_THE_STAND, Kind.DONE, Kind.COUNT, Kind.BORER_COUNT]
                )
            ),
            draw(st.none() | SEASON),
            utc(2026, 11, draw(st.integers(1, 3))),
            task=draw(st.sampled_from([name for name, _ in ROUNDS])),
            number=draw(st.none() | st.integers(1, 3)),
            replaces=draw(st.none() | st.sampled_from(refs[:n])) if n else None,
        )
        for n, ref in enumerate(refs)
    ]


@given(reports(), st.randoms(use_true_random=False), CHOICES)
def test_order_of_reports_does_not_matter(
    given_reports: list[Report], random: object, choices: dict[str, str]
) -> None:
    shuffled = list(given_reports)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    one, other = plot_facts(given_reports, choices), plot_facts(shuffled, choices)
    assert derive(one, MAIZE) == derive(other, MAIZE)


@given(FACTS, SEASON, INSTANTS, SPREADS)
def test_a_lost_stand_moves_no_day_and_sends_nothing(
    facts: PlotFacts, lost_on: date, now: datetime, spread: int
) -> None:
    alive, lost = derive(facts, MAIZE), derive(replace(facts, lost_on=lost_on), MAIZE)
    undone = {task for task in lost.tasks if task.done_on is None}
    assert {task for task in lost.tasks if task.waits} == undone
    assert [replace(task, waits=False, because="") for task in lost.tasks] == [
        replace(task, because="") for task in alive.tasks
    ]
    assert wanted_notices(lost, MAIZE, (), now, HOURS, spread) == ()


@given(FACTS)
def test_every_window_is_in_order_and_stands_once(facts: PlotFacts) -> None:
    plan = derive(facts, MAIZE)
    assert all(task.opens <= task.due <= task.closes for task in plan.tasks)
    rounds = [(task.name, task.number) for task in plan.tasks]
    assert len(set(rounds)) == len(rounds)
    assert not set(rounds) & {(left.name, left.number) for left in plan.left_out}


@given(FACTS)
def test_reported_fact_is_never_estimated(facts: PlotFacts) -> None:
    assert not derive(facts, MAIZE).estimates.keys() & facts.dates.keys()


@given(FACTS)
def test_nothing_leans_on_an_estimate_when_nothing_is_estimated(facts: PlotFacts) -> None:
    plan = derive(facts, MAIZE)
    if not plan.estimates:
        assert all(not task.estimated for task in plan.tasks)


@given(FACTS, SEASON)
def test_no_tea_falls_within_the_hygiene_stop(facts: PlotFacts, harvested: date) -> None:
    dates = {**facts.dates, Kind.HARVESTED: harvested}
    stop = harvested - timedelta(MAIZE.settings["hygiene_stop_days"].days)
    tasks = derive(replace(facts, dates=dates), MAIZE).tasks
    assert all(task.closes <= stop for task in tasks if task.name == "manure-tea")


@given(FACTS)
def test_borer_opens_neither_before_thinning_nor_too_soon_after_the_rain(facts: PlotFacts) -> None:
    plan = derive(facts, MAIZE)
    days = {task.name: task for task in plan.tasks}
    if "borer" in days:
        rain_on = facts.dates.get(Kind.FIRST_RAIN) or plan.estimates[Kind.FIRST_RAIN].on
        assert days["borer"].opens >= max(days["thin"].opens, rain_on + timedelta(28))


def check_notice(notice: WantedNotice, plan: Plan, now: datetime) -> None:
    """What holds for every notice that is wanted."""
    local = notice.send_at.astimezone(ZoneInfo(HOURS.zone))
    assert now <= notice.send_at < notice.expires_at
    assert local.date() == notice.on
    assert HOURS.opens_minute <= local.hour * 60 + local.minute < HOURS.closes_minute
    if notice.about is None:
        assert notice.asks in plan.estimates.values()
        return
    task = notice.about
    assert task in plan.tasks and task.done_on is None
    if notice.stage is Stage.GETTING_READY:
        assert notice.on < task.opens
    elif notice.stage is Stage.CORRECTION:
        assert notice.on <= task.closes
    else:
        assert task.opens <= notice.on <= task.closes


@given(FACTS, INSTANTS, SPREADS)
def test_every_notice_is_inside_window_and_hours(
    facts: PlotFacts, now: datetime, spread: int
) -> None:
    plan = derive(facts, MAIZE)
    wanted = wanted_notices(plan, MAIZE, (), now, HOURS, spread)
    for notice in wanted:
        check_notice(notice, plan, now)
    keys = [notice.key for notice in wanted]
    assert len(set(keys)) == len(keys)


@given(FACTS, INSTANTS, SPREADS)
def test_a_round_has_at_most_one_notice_a_day(facts: PlotFacts, now: datetime, spread: int) -> None:
    wanted = wanted_notices(derive(facts, MAIZE), MAIZE, (), now, HOURS, spread)
    days = [(n.task, n.number, n.on) for n in wanted if n.about is not None]
    assert len(set(days)) == len(days)


@given(FACTS, FACTS, INSTANTS, INSTANTS)
def test_sent_key_is_never_wanted_whatever_moved(
    before: PlotFacts, after: PlotFacts, first: datetime, second: datetime
) -> None:
    told = tuple(
        sent(notice) for notice in wanted_notices(derive(before, MAIZE), MAIZE, (), first, HOURS, 0)
    )
    wanted = wanted_notices(derive(after, MAIZE), MAIZE, told, second, HOURS, 0)
    assert not {notice.key for notice in wanted} & {notice.key for notice in told}


class Replay:
    """A season played day by day: plan, send what falls due, correct, go on."""

    def __init__(
        self, choices: dict[str, str], quiet: QuietDays = NONE_QUIET, cap: int = 0
    ) -> None:
        self.hours, self.cap = replace(HOURS, quiet=quiet), cap
        self.texts: list[PhoneText] = []
        self.free = 0
        self.facts = PlotFacts({Kind.FIRST_RAIN: date(2026, 11, 12)}, {}, choices)
        self.told: list[SentNotice] = []
        self.moves: dict[tuple[str, int], int] = {}
        self.days: dict[tuple[str, int], tuple[date, date]] = {}

    def report(self, kind: Kind, on: date) -> None:
        self.facts = replace(self.facts, dates={**self.facts.dates, kind: on})

    def done(self, key: tuple[str, int], on: date) -> None:
        self.facts = replace(self.facts, done={**self.facts.done, key: on})

    def live_through(self, start: datetime, end: datetime) -> None:
        """Send everything that is due from one instant up to another."""
        plan = derive(self.facts, MAIZE)
        dropped: set[str] = set()
        self.note_moves(plan)
        while True:
            wanted = wanted_notices(plan, MAIZE, self.told, start, self.hours, 123)
            due = [n for n in wanted if n.send_at < end and n.key not in dropped]
            if not due:
                return
            check_notice(due[0], plan, start)
            assert due[0].on not in self.hours.quiet
            if self.is_within_cap(due[0], [n for n in wanted if n.key not in dropped]):
                self.told.append(sent(due[0]))
            else:
                dropped.add(due[0].key)
            start = due[0].send_at

    def is_within_cap(self, notice: WantedNotice, ahead: list[WantedNotice]) -> bool:
        """Whether a notice goes out, each as a text of its own; if so, it is counted."""
        refs = {each.key: len(self.texts) + nth for nth, each in enumerate(ahead)}
        texts = [
            PhoneText(refs[n.key], n.on, n.importance, always_goes(n))
            for n in ahead
            if abs((n.on - notice.on).days) < 7
        ]
        if self.cap and refs[notice.key] in held_back([*self.texts, *texts], self.cap):
            return False
        self.texts.append(PhoneText(len(self.texts), notice.on, notice.importance, True))
        self.free += always_goes(notice)
        return True

    def note_moves(self, plan: Plan) -> None:
        """Count how often each round moved, by however little."""
        for task in plan.tasks:
            key, days = (task.name, task.number), (task.opens, task.due)
            if key in self.days and self.days[key] != days:
                self.moves[key] = self.moves.get(key, 0) + 1
            self.days[key] = days


def always_goes(notice: WantedNotice) -> bool:
    last_call = notice.stage is Stage.LAST_CALL and notice.importance == 1
    return last_call or notice.stage is Stage.CORRECTION


EVENTS = st.lists(
    st.tuples(
        st.integers(0, 60 * 24 * 20),
        st.one_of(
            st.tuples(st.sampled_from(DATED_FACTS), st.integers(-12, 3)),
            st.tuples(st.sampled_from(ROUNDS), st.integers(-3, 0)),
        ),
    ),
    max_size=8,
)


def replayed(replay: Replay, events: list[tuple[int, tuple[object, int]]]) -> Replay:
    """The same replay after some events and to the end of its season."""
    now = utc(2026, 11, 12, 9)
    for minutes, (what, days) in events:
        later = now + timedelta(minutes=minutes)
        replay.live_through(now, later)
        now = later
        if isinstance(what, Kind):
            replay.report(what, now.date() + timedelta(days))
        else:
            replay.done(what, now.date() + timedelta(days))  # type: ignore[arg-type]
    replay.live_through(now, utc(2027, 12, 31))
    return replay


@given(EVENTS, CHOICES, QUIET)
def test_replayed_season_never_says_a_thing_twice(
    events: list[tuple[int, tuple[object, int]]], choices: dict[str, str], quiet: QuietDays
) -> None:
    replay = replayed(Replay(choices, quiet), events)
    keys = [notice.key for notice in replay.told]
    assert len(set(keys)) == len(keys)
    for key, moves in replay.moves.items():
        assert corrections(replay.told, key) <= moves
    unmoved = replay.days.keys() - replay.moves.keys()
    assert all(corrections(replay.told, key) == 0 for key in unmoved)


@given(EVENTS, CHOICES, QUIET, CAPS)
def test_replayed_season_keeps_the_cap_of_every_week(
    events: list[tuple[int, tuple[object, int]]],
    choices: dict[str, str],
    quiet: QuietDays,
    cap: int,
) -> None:
    replay = replayed(Replay(choices, quiet, cap), events)
    keys = [notice.key for notice in replay.told]
    assert len(set(keys)) == len(keys)
    days = [text.on for text in replay.texts]
    fullest = max((sum(0 <= (on - day).days < 7 for on in days) for day in days), default=0)
    assert fullest <= cap + replay.free


def corrections(told: list[SentNotice], key: tuple[str, int]) -> int:
    return sum(n.stage is Stage.CORRECTION for n in told if (n.task, n.number) == key)


@given(st.integers(-15, 15), CHOICES)
def test_correction_follows_a_move_beyond_the_tolerance_only(
    days: int, choices: dict[str, str]
) -> None:
    replay = Replay(choices)
    replay.report(Kind.GERMINATED, date(2026, 11, 21))
    replay.live_through(utc(2026, 11, 21), utc(2026, 12, 7))
    replay.report(Kind.GERMINATED, date(2026, 11, 21) + timedelta(days))
    replay.live_through(utc(2026, 12, 7), utc(2027, 12, 31))
    thin = next(t for t in derive(replay.facts, MAIZE).tasks if t.name == "thin")
    wanted = abs(days) > TOLERANCE and thin.closes >= date(2026, 12, 7)
    assert corrections(replay.told, ("thin", 1)) == int(wanted)
