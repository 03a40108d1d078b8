"""Quiet days: how they are named, which day a notice moves to, and that none goes out on one."""

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rules_cast import GERMINATED_ON, HOURS, RAIN_ON, plot, sent, small, told, utc

from reminder_service.kinds import Stage
from reminder_service.rules.derive import derive
from reminder_service.rules.plan import SendingHours, WantedNotice
from reminder_service.rules.quiet_days import (
    MOST_QUIET,
    BadQuietDay,
    QuietDays,
    open_day_from,
    open_day_until,
    quiet_days,
)
from reminder_service.rules.reminders import wanted_notices
from reminder_service.rules.rulebook import Rulebook
from reminder_service.rules.sending import Slot, slot
from reminder_service.rules.shipped import shipped_rulebook

SUNDAYS = quiet_days(["sunday"])
SUNDAY, MONDAY = date(2026, 12, 6), date(2026, 12, 7)
SMALL = small()

NAMED = {
    "a weekday": (["Sunday"], SUNDAY, MONDAY),
    "a day of every year": (["12-25"], date(2031, 12, 25), date(2031, 12, 26)),
    "a single day": (["2026-12-07"], MONDAY, date(2027, 12, 7)),
    "leap day": (["02-29"], date(2028, 2, 29), date(2027, 2, 28)),
}


@pytest.mark.parametrize(("words", "quiet", "loud"), NAMED.values(), ids=list(NAMED))
def test_day_is_named(words: list[str], quiet: date, loud: date) -> None:
    days = quiet_days(words)
    assert quiet in days and loud not in days


@pytest.mark.parametrize("word", ["sundy", "13-01", "2026-02-30", "", "1-1"])
def test_word_that_names_no_day_is_refused(word: str) -> None:
    with pytest.raises(BadQuietDay, match="expected a weekday"):
        quiet_days(["sunday", word])


def test_a_week_without_an_open_day_is_refused() -> None:
    with pytest.raises(BadQuietDay, match="every weekday"):
        quiet_days(["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"])


def test_nearest_open_days() -> None:
    assert open_day_from(SUNDAYS, SUNDAY, date.max) == MONDAY
    assert open_day_until(SUNDAYS, SUNDAY, date.min) == date(2026, 12, 5)
    assert open_day_from(SUNDAYS, SUNDAY, SUNDAY) is None
    assert open_day_until(SUNDAYS, SUNDAY, SUNDAY) is None


def test_search_for_an_open_day_ends() -> None:
    start = date(2026, 12, 1)
    silence = QuietDays(on=frozenset(start + timedelta(n) for n in range(MOST_QUIET + 1)))
    assert open_day_from(silence, start, date.max) is None
    assert open_day_until(silence, start + timedelta(MOST_QUIET), date.min) is None


def hours(quiet: QuietDays) -> SendingHours:
    return SendingHours(HOURS.zone, HOURS.opens_minute, HOURS.closes_minute, quiet)


def test_slot_steps_over_quiet_days() -> None:
    found = slot(hours(SUNDAYS), 0, SUNDAY, utc(2026, 12, 1), date.max)
    assert found == Slot(MONDAY, utc(2026, 12, 7, 6))


def test_hours_that_are_over_before_a_quiet_day_wait_for_the_day_after_it() -> None:
    found = slot(hours(SUNDAYS), 0, date(2026, 12, 5), utc(2026, 12, 5, 17), date.max)
    assert found is not None and found.on == MONDAY


def stages(quiet: list[str], now: datetime, *told_before, facts=None) -> dict[Stage, int]:
    """December days of the small rulebook's thinning: opens 5th, due 8th, closes 12th."""
    facts = facts or plot(germinated=GERMINATED_ON)
    plan = derive(facts, SMALL)
    wanted = wanted_notices(plan, SMALL, told_before, now, hours(quiet_days(quiet)), 75)
    return {notice.stage: notice.on.day for notice in wanted}


BEFORE = utc(2026, 11, 25)
USUAL = {Stage.GETTING_READY: 2, Stage.OPENS: 5, Stage.NUDGE: 8, Stage.LAST_CALL: 11}

MOVED = {
    "no quiet day": ([], {}),
    "last call moves to the day before": (["2026-12-11"], {Stage.LAST_CALL: 10}),
    "last call moves before a quiet run": (
        ["2026-12-11", "2026-12-10", "2026-12-09"],
        {Stage.NUDGE: None, Stage.LAST_CALL: 8},  # one notice a day: the more urgent one
    ),
    "getting ready moves to the day before": (["2026-12-02"], {Stage.GETTING_READY: 1}),
    "opening moves to the day after": (["2026-12-05"], {Stage.OPENS: 6}),
    "nudge moves to the day after": (["2026-12-08"], {Stage.NUDGE: 9}),
}  # fmt: skip


@pytest.mark.parametrize(("quiet", "moved"), MOVED.values(), ids=list(MOVED))
def test_stage_moves_off_a_quiet_day(quiet: list[str], moved: dict[Stage, int | None]) -> None:
    expected = {stage: day for stage, day in (USUAL | moved).items() if day is not None}
    assert stages(quiet, BEFORE) == expected


def test_last_call_that_cannot_move_before_moves_after() -> None:
    heard = told(derive(plot(germinated=GERMINATED_ON), SMALL).tasks[0], Stage.OPENS, SUNDAY)
    assert stages(["2026-12-11"], utc(2026, 12, 11, 4), heard) == {Stage.LAST_CALL: 12}


def test_last_call_is_not_moved_to_a_day_on_which_the_farmer_heard() -> None:
    heard = told(
        derive(plot(germinated=GERMINATED_ON), SMALL).tasks[0], Stage.NUDGE, date(2026, 12, 10)
    )
    assert stages(["2026-12-11"], utc(2026, 12, 10, 9), heard) == {Stage.LAST_CALL: 12}


def test_last_call_whose_window_has_no_open_day_left_is_dropped() -> None:
    quiet = [f"2026-12-{day:02d}" for day in range(5, 13)]
    assert stages(quiet, BEFORE) == {Stage.GETTING_READY: 2}


def test_correction_waits_for_the_end_of_the_quiet_days() -> None:
    task = derive(plot(germinated=GERMINATED_ON), SMALL).tasks[0]
    heard = told(task, Stage.GETTING_READY, date(2026, 12, 2))
    late = plot(germinated=date(2026, 11, 30))
    found = stages(["2026-12-03", "2026-12-04"], utc(2026, 12, 3, 8), heard, facts=late)
    assert found[Stage.CORRECTION] == 5


def questions(quiet: list[str], now: datetime) -> list[int]:
    maize = shipped_rulebook()
    plan = derive(plot(first_rain=RAIN_ON), maize)
    wanted = wanted_notices(plan, maize, (), now, hours(quiet_days(quiet)), 75)
    asked = [n for n in wanted if n.stage is Stage.QUESTION and n.task == "germinated"]
    return [notice.on.day for notice in asked]


def test_question_is_asked_on_the_first_open_day_after_the_likely_one() -> None:
    assert questions(["2026-11-21", "2026-11-22"], utc(2026, 11, 15)) == [23, 26]


def test_first_question_is_left_to_the_second_if_no_day_before_that_is_open() -> None:
    quiet = [f"2026-11-{day}" for day in range(21, 26)]
    assert questions(quiet, utc(2026, 11, 15)) == [26]


SOME_QUIET = st.builds(
    QuietDays,
    st.frozensets(st.integers(0, 6), max_size=5),
    st.frozensets(st.sampled_from([(12, 25), (1, 1), (12, 26)])),
    st.frozensets(st.dates(date(2026, 10, 15), date(2027, 7, 1)), max_size=25),
)
MAIZE = shipped_rulebook()


def check(notice: WantedNotice, quiet: QuietDays) -> None:
    assert notice.on not in quiet
    task = notice.about
    if task is None:
        return
    if notice.stage is Stage.GETTING_READY:
        assert notice.on < task.opens
    elif notice.stage is not Stage.CORRECTION:
        assert task.opens <= notice.on <= task.closes


def season(germinated: date, rulebook: Rulebook = MAIZE):
    return derive(plot(first_rain=germinated - timedelta(9), germinated=germinated), rulebook)


@given(
    SOME_QUIET,
    st.dates(date(2026, 11, 10), date(2027, 1, 10)),
    st.integers(0, 60 * 24 * 200),
    st.integers(0, 5000),
)
def test_no_notice_is_planned_for_a_quiet_day_and_none_leaves_its_window(
    quiet: QuietDays, germinated: date, minutes: int, spread: int
) -> None:
    now = datetime(2026, 11, 1, tzinfo=UTC) + timedelta(minutes=minutes)
    plan = season(germinated)
    wanted = wanted_notices(plan, MAIZE, (), now, hours(quiet), spread)
    for notice in wanted:
        check(notice, quiet)
    days = [(n.task, n.number, n.on) for n in wanted if n.about is not None]
    assert len(set(days)) == len(days)


@given(SOME_QUIET, st.dates(date(2026, 11, 10), date(2027, 1, 10)))
def test_season_with_quiet_days_says_nothing_twice_and_misses_no_last_call(
    quiet: QuietDays, germinated: date
) -> None:
    plan, now = season(germinated), utc(2026, 11, 1)
    heard = []
    while wanted := wanted_notices(plan, MAIZE, heard, now, hours(quiet), 75):
        check(wanted[0], quiet)
        heard.append(sent(wanted[0]))
        now = wanted[0].send_at
    keys = [notice.key for notice in heard]
    assert len(set(keys)) == len(keys)
    called = {(n.task, n.number) for n in heard if n.stage is Stage.LAST_CALL}
    for task in plan.tasks:
        last_call = any(each.stage == "last-call" for each in MAIZE.by_name[task.name].reminders)
        before = task.closes - timedelta(1)
        if last_call and all(day not in quiet for day in (before, before - timedelta(1))):
            assert (task.name, task.number) in called
