"""Which notices a plan asks for: stages, catching up, corrections, questions."""

from datetime import date, datetime, timedelta

import pytest
from rules_cast import (
    GERMINATED_ON,
    HEAD,
    HOURS,
    RAIN_ON,
    THIN,
    plot,
    sent,
    small,
    task_of,
    told,
    utc,
)

from reminder_service.kinds import Stage
from reminder_service.rules.derive import derive
from reminder_service.rules.errors import NaiveInstant
from reminder_service.rules.facts import PlotFacts
from reminder_service.rules.loader import load_rulebook
from reminder_service.rules.plan import SentNotice, Task, WantedNotice
from reminder_service.rules.reminders import wanted_notices
from reminder_service.rules.rulebook import Rulebook
from reminder_service.rules.shipped import shipped_rulebook

RULEBOOK = small()
FACTS = plot(germinated=GERMINATED_ON)
MORNING = 4  # hours UTC: 6 in the morning in the ward, before the hours
EVENING = 17  # 19 in the evening, after them


def dec(day: int, hour: int = MORNING, minute: int = 0) -> datetime:
    return utc(2026, 12, day, hour, minute)


def wanted(
    now: datetime,
    *told_before: SentNotice,
    facts: PlotFacts = FACTS,
    rulebook: Rulebook = RULEBOOK,
) -> list[WantedNotice]:
    plan = derive(facts, rulebook)
    return list(wanted_notices(plan, rulebook, told_before, now, HOURS, 0))


def brief(notices: list[WantedNotice]) -> list[tuple[Stage, int]]:
    """Stage and day of December of each notice."""
    return [(notice.stage, notice.on.day) for notice in notices]


def thin_germinated(on: date) -> Task:
    return task_of(derive(plot(germinated=on), RULEBOOK), "thin")


THIN_TASK = thin_germinated(GERMINATED_ON)  # opens 5, due 8, closes 12 December

READY = (Stage.GETTING_READY, 2)
OPENS = (Stage.OPENS, 5)
NUDGE = (Stage.NUDGE, 8)
LAST_CALL = (Stage.LAST_CALL, 11)


def test_all_stages_go_out_on_their_days() -> None:
    assert brief(wanted(utc(2026, 11, 21))) == [READY, OPENS, NUDGE, LAST_CALL]


def test_notice_says_all_that_sending_needs() -> None:
    notice = wanted(utc(2026, 11, 21))[1]
    assert (notice.key, notice.task, notice.number) == ("thin/1/opens", "thin", 1)
    assert notice.send_at == dec(5, 6)
    assert notice.expires_at == dec(12, 16)
    assert (notice.template, notice.caution) == ("{name}: thin by {closes}", "")
    assert (notice.importance, notice.about, notice.asks) == (2, THIN_TASK, None)


def test_caution_goes_with_every_notice() -> None:
    text = HEAD + THIN.replace("importance = 2", 'importance = 2\ncaution = "Gloves."')
    notices = wanted(utc(2026, 11, 21), rulebook=load_rulebook(text))
    assert [notice.caution for notice in notices] == ["Gloves."] * 4


def test_getting_ready_is_useless_once_the_task_opens() -> None:
    assert wanted(utc(2026, 11, 21))[0].expires_at == dec(4, 16)


def test_sent_key_is_not_wanted_again() -> None:
    heard = told(THIN_TASK, Stage.NUDGE, date(2026, 12, 1))
    assert brief(wanted(utc(2026, 12, 1), heard)) == [READY, OPENS, LAST_CALL]


def test_done_task_gets_none() -> None:
    facts = plot(germinated=GERMINATED_ON, done={("thin", 1): date(2026, 12, 6)})
    assert wanted(dec(6), facts=facts) == []


def test_done_is_said_for_one_round_only() -> None:
    text = HEAD + THIN.replace(
        "importance = 2", "importance = 2\nrepeat = { every_days = 14, count = 2 }"
    )
    facts = plot(germinated=GERMINATED_ON, done={("thin", 1): date(2026, 12, 6)})
    notices = wanted(dec(6), facts=facts, rulebook=load_rulebook(text))
    assert {notice.number for notice in notices} == {2}


LATE = {
    "getting ready is past": (dec(3), [OPENS, NUDGE, LAST_CALL]),
    "opened yesterday": (dec(6), [(Stage.OPENS, 6), NUDGE, LAST_CALL]),
    "nudge is today": (dec(8), [NUDGE, LAST_CALL]),
    "between nudge and last call": (dec(9), [(Stage.OPENS, 9), LAST_CALL]),
    "last call is today": (dec(11), [LAST_CALL]),
    "closes today": (dec(12), [(Stage.OPENS, 12)]),
    "closes today, hours are over": (dec(12, EVENING), []),
    "closed": (dec(13), []),
    "opens today, hours are over": (dec(5, EVENING), [(Stage.OPENS, 6), NUDGE, LAST_CALL]),
    "nudge is today, hours are over": (dec(8, EVENING), [(Stage.NUDGE, 9), LAST_CALL]),
    "day before the nudge, hours are over": (dec(7, EVENING), [NUDGE, LAST_CALL]),
    "getting ready is today, hours are over": (
        dec(2, EVENING), [(Stage.GETTING_READY, 3), OPENS, NUDGE, LAST_CALL],
    ),
}  # fmt: skip


@pytest.mark.parametrize(("now", "notices"), LATE.values(), ids=list(LATE))
def test_farmer_who_heard_nothing_is_caught_up_with_once(
    now: datetime, notices: list[tuple[Stage, int]]
) -> None:
    assert brief(wanted(now)) == notices


def test_late_notice_leaves_now_while_the_hours_last() -> None:
    assert wanted(dec(6, 9, 30))[0].send_at == dec(6, 9, 30)


@pytest.mark.parametrize("stage", [Stage.OPENS, Stage.NUDGE, Stage.LAST_CALL])
def test_farmer_who_heard_is_not_caught_up_with(stage: Stage) -> None:
    heard = told(THIN_TASK, stage, date(2026, 12, 6))
    assert Stage.OPENS not in {notice.stage for notice in wanted(dec(9), heard)}


def test_getting_ready_alone_does_not_tell_that_the_task_is_open() -> None:
    heard = told(THIN_TASK, Stage.GETTING_READY, date(2026, 12, 2))
    assert brief(wanted(dec(6), heard))[0] == (Stage.OPENS, 6)


def test_missed_last_call_goes_out_while_the_task_is_open() -> None:
    heard = told(THIN_TASK, Stage.OPENS, date(2026, 12, 5))
    assert brief(wanted(dec(12), heard)) == [(Stage.LAST_CALL, 12)]


def test_missed_last_call_is_no_news_after_a_later_notice() -> None:
    heard = told(THIN_TASK, Stage.OPENS, date(2026, 12, 11))
    assert wanted(dec(12), heard) == []


def test_missed_nudge_is_skipped() -> None:
    heard = told(THIN_TASK, Stage.OPENS, date(2026, 12, 5))
    assert brief(wanted(dec(9), heard)) == [LAST_CALL]


SAME_DAY = {
    "opens before nudge": ('stage = "nudge", from = "due"', 'stage = "nudge", from = "opens"',
                           [READY, OPENS, LAST_CALL]),
    "last call before opens": ('from = "closes", days = -1', 'from = "opens"',
                               [READY, (Stage.LAST_CALL, 5), NUDGE]),
    "last call before nudge": ('from = "closes", days = -1', 'from = "due"',
                               [READY, OPENS, (Stage.LAST_CALL, 8)]),
}  # fmt: skip


@pytest.mark.parametrize(("old", "new", "notices"), SAME_DAY.values(), ids=list(SAME_DAY))
def test_one_notice_a_day_the_more_urgent_one(
    old: str, new: str, notices: list[tuple[Stage, int]]
) -> None:
    rulebook = load_rulebook(HEAD + THIN.replace(old, new, 1))
    assert brief(wanted(utc(2026, 11, 21), rulebook=rulebook)) == notices


@pytest.mark.parametrize("days", [-8, 5], ids=["before it opens", "after it closes"])
def test_stage_outside_the_window_is_dropped(days: int) -> None:
    nudge = f'stage = "nudge", from = "due", days = {days}'
    rulebook = load_rulebook(HEAD + THIN.replace('stage = "nudge", from = "due"', nudge))
    assert brief(wanted(utc(2026, 11, 21), rulebook=rulebook)) == [READY, OPENS, LAST_CALL]


def test_no_second_notice_on_a_day_that_had_one() -> None:
    # The window moved by two days, within the tolerance, so that the last call falls on today.
    heard = told(THIN_TASK, Stage.NUDGE, date(2026, 12, 9))
    facts = plot(germinated=date(2026, 11, 19))
    assert wanted(dec(9, 10), heard, facts=facts) == []


# Corrections. The farmer heard of thinning on 5 to 12 December.
HEARD = told(THIN_TASK, Stage.GETTING_READY, date(2026, 12, 2))


def moved(days: int, now: datetime, *told_before: SentNotice) -> list[WantedNotice]:
    facts = plot(germinated=GERMINATED_ON + timedelta(days))
    return wanted(now, *(told_before or (HEARD,)), facts=facts)


@pytest.mark.parametrize("days", [-2, -1, 0, 1, 2])
def test_move_within_the_tolerance_needs_no_correction(days: int) -> None:
    assert Stage.CORRECTION not in {notice.stage for notice in moved(days, dec(2, 10))}


@pytest.mark.parametrize("days", [-3, 3, 9])
def test_move_beyond_the_tolerance_is_corrected_today(days: int) -> None:
    notice = moved(days, dec(2, 10))[0]
    assert (notice.stage, notice.on) == (Stage.CORRECTION, date(2026, 12, 2))
    assert notice.key == f"thin/1/correction/2026-12-{8 + days:02d}"
    assert notice.template == "{name}: now {opens} to {closes}"
    assert notice.about == thin_germinated(GERMINATED_ON + timedelta(days))


def test_correction_after_the_hours_goes_out_the_next_day() -> None:
    assert moved(9, dec(2, EVENING))[0].send_at == dec(3, 6)


def test_correction_is_useful_until_the_task_closes() -> None:
    assert moved(9, dec(2, 10))[0].expires_at == dec(21, 16)


def test_correction_is_not_repeated() -> None:
    correction = sent(moved(9, dec(2, 10))[0])
    later = moved(9, dec(3, 10), HEARD, correction)
    assert Stage.CORRECTION not in {notice.stage for notice in later}


def test_further_move_is_corrected_from_what_the_farmer_heard_last() -> None:
    correction = sent(moved(9, dec(2, 10))[0])
    assert Stage.CORRECTION not in {n.stage for n in moved(11, dec(3, 10), HEARD, correction)}
    again = moved(12, dec(3, 10), HEARD, correction)[0]
    assert again.key == "thin/1/correction/2026-12-20"


def test_move_back_to_what_was_heard_needs_no_correction() -> None:
    assert Stage.CORRECTION not in {notice.stage for notice in moved(0, dec(3, 10))}


def test_task_that_is_done_is_not_corrected() -> None:
    facts = plot(germinated=date(2026, 11, 30), done={("thin", 1): date(2026, 12, 6)})
    assert wanted(dec(6), HEARD, facts=facts) == []


def test_task_that_closed_is_not_corrected() -> None:
    facts = plot(germinated=date(2026, 11, 1))
    assert wanted(dec(6), HEARD, facts=facts) == []


def test_task_that_vanished_is_not_corrected() -> None:
    assert wanted(dec(6), HEARD, facts=plot()) == []


def test_correction_takes_the_place_of_the_day_s_stage() -> None:
    # Germination five days earlier: thinning opened on 30 November, is due on 3 December.
    notices = moved(-5, dec(3), HEARD)
    assert brief(notices) == [(Stage.CORRECTION, 3), (Stage.LAST_CALL, 6)]


def test_correction_of_an_open_task_tells_that_it_is_open() -> None:
    correction = sent(moved(-5, dec(3), HEARD)[0])
    assert brief(moved(-5, dec(4), HEARD, correction)) == [(Stage.LAST_CALL, 6)]


def test_correction_before_the_opening_does_not_tell_that_the_task_is_open() -> None:
    # Moved by nine days, corrected on the 3rd; then open since the 14th, and nobody said so.
    correction = sent(moved(9, dec(3), HEARD)[0])
    assert brief(moved(9, dec(15), HEARD, correction))[0] == (Stage.OPENS, 15)


def test_spent_stage_stays_spent_when_its_day_moves() -> None:
    heard = told(THIN_TASK, Stage.OPENS, date(2026, 12, 5))
    stages = [notice.stage for notice in moved(9, dec(6), heard)]
    assert stages == [Stage.CORRECTION, Stage.GETTING_READY, Stage.NUDGE, Stage.LAST_CALL]


# Questions. Rain on 12 November: planted about 14 (12 to 16), up about 21 (17 to 26) November.
MAIZE = shipped_rulebook()
RAIN = plot(first_rain=RAIN_ON)


def questions(now: datetime, *told_before: SentNotice, facts: PlotFacts = RAIN) -> dict[str, date]:
    notices = wanted(now, *told_before, facts=facts, rulebook=MAIZE)
    return {n.key: n.on for n in notices if n.stage is Stage.QUESTION and n.task == "germinated"}


def nov(day: int, hour: int = MORNING) -> datetime:
    return utc(2026, 11, day, hour)


FIRST, SECOND = "germinated/1/question", "germinated/2/question"

ASKING = {
    "before": (nov(15), {FIRST: 21, SECOND: 26}),
    "on the likely day": (nov(21), {FIRST: 21, SECOND: 26}),
    "likely day is over": (nov(21, EVENING), {SECOND: 26}),
    "after the likely day": (nov(22), {SECOND: 26}),
    "after the latest day": (nov(28), {SECOND: 28}),
    "a week after the latest day": (utc(2026, 12, 3, MORNING), {SECOND: 3}),
    "more than a week after": (utc(2026, 12, 4, MORNING), {}),
}


@pytest.mark.parametrize(("now", "days"), ASKING.values(), ids=list(ASKING))
def test_estimated_date_is_asked_for(now: datetime, days: dict[str, int]) -> None:
    assert {key: on.day for key, on in questions(now).items()} == days


def test_reported_date_is_not_asked_for() -> None:
    assert questions(nov(15), facts=plot(first_rain=RAIN_ON, germinated=date(2026, 11, 15))) == {}


def test_date_counted_back_is_not_asked_for() -> None:
    notices = wanted(nov(1), facts=plot(germinated=GERMINATED_ON), rulebook=MAIZE)
    asked = {notice.task for notice in notices if notice.stage is Stage.QUESTION}
    assert asked == {"tasselled", "harvested"}


def test_estimate_without_a_spread_is_asked_for_once() -> None:
    text = (
        HEAD
        + """
[[estimates]]
fact = "germinated"
from = "planted"
days = { earliest = 7, likely = 7, latest = 7 }
source = "setting"
question = "{name}: up?"
"""
        + THIN
    )
    facts, rulebook = plot(planted=date(2026, 11, 14)), load_rulebook(text)
    notices = wanted(nov(15), facts=facts, rulebook=rulebook)
    assert [n.key for n in notices if n.stage is Stage.QUESTION] == [SECOND]


def test_question_is_asked_once() -> None:
    asked = next(n for n in wanted(nov(15), facts=RAIN, rulebook=MAIZE) if n.key == FIRST)
    moved_rain = plot(first_rain=date(2026, 11, 20))
    assert list(questions(nov(22), sent(asked), facts=moved_rain)) == [SECOND]


def test_question_carries_its_estimate_and_ends_after_some_days() -> None:
    asked = next(n for n in wanted(nov(15), facts=RAIN, rulebook=MAIZE) if n.key == FIRST)
    assert asked.asks is not None and asked.asks.on == date(2026, 11, 21)
    assert (asked.about, asked.caution) == (None, "")
    assert "{plot}: is the maize up?" in asked.template
    assert asked.expires_at == nov(24, 16)


def test_question_is_not_taken_for_a_reminder_of_a_task() -> None:
    asked = SentNotice(
        "thin/1/question", "thin", 1, Stage.QUESTION, date(2026, 1, 1), date(2026, 1, 1),
        date(2026, 1, 1), date(2026, 12, 5),
    )  # fmt: skip
    assert brief(wanted(utc(2026, 12, 4), asked)) == [OPENS, NUDGE, LAST_CALL]


def test_notices_come_by_time() -> None:
    notices = wanted(nov(12), facts=plot(first_rain=RAIN_ON), rulebook=MAIZE)
    assert [n.send_at for n in notices] == sorted(n.send_at for n in notices)


def test_instant_without_a_zone_is_refused() -> None:
    with pytest.raises(NaiveInstant, match="now is 2026-12-05"):
        wanted(datetime(2026, 12, 5, 8))  # noqa: DTZ001 - that is the case
