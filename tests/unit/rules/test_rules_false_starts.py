"""After a false start: whom it hit, what answers the question, and when it is asked."""

from datetime import date, datetime, timedelta

import pytest
from rules_cast import HOURS, sent, small, utc

from reminder_service.kinds import Kind, Stage
from reminder_service.rules.errors import RulebookError
from reminder_service.rules.facts import Report
from reminder_service.rules.false_starts import (
    DryStart,
    answer_to,
    start_that_hit,
    survival_question,
)
from reminder_service.rules.loader import load_rulebook
from reminder_service.rules.plan import WantedNotice
from reminder_service.rules.shipped import rulebook_folder, shipped_rulebook

MAIZE = shipped_rulebook()
FIRST = DryStart(4, date(2026, 11, 10), date(2026, 11, 12), date(2026, 11, 20))
SECOND = DryStart(9, date(2026, 11, 25), date(2026, 11, 27), date(2026, 12, 8))


def told(kind: Kind, on: date, ref: str = "") -> Report:
    return Report(ref or f"{kind} {on}", kind, on, utc(on.year, on.month, on.day, 12))


PLANTED = told(Kind.PLANTED, date(2026, 11, 11))


@pytest.mark.parametrize(
    ("reports", "hit"),
    [
        pytest.param([], None, id="nothing reported"),
        pytest.param([told(Kind.FIRST_RAIN, date(2026, 11, 10))], None, id="rain only"),
        pytest.param([told(Kind.PLANTED, date(2026, 10, 20))], FIRST, id="planted dry before it"),
        pytest.param([PLANTED], FIRST, id="planted on it"),
        pytest.param([told(Kind.PLANTED, date(2026, 11, 20))], FIRST, id="in its last dry day"),
        pytest.param([told(Kind.PLANTED, date(2026, 11, 21))], SECOND, id="after it"),
        pytest.param([told(Kind.PLANTED, date(2026, 12, 9))], None, id="after both"),
        pytest.param([told(Kind.GERMINATED, date(2026, 11, 16))], FIRST, id="came up on it"),
        pytest.param(
            [PLANTED, told(Kind.REPLANTED, date(2026, 11, 26))], SECOND, id="replanted on the next"
        ),
        pytest.param([PLANTED, told(Kind.REPLANTED, date(2026, 12, 12))], None, id="replanted"),
    ],
)
def test_a_plot_is_hit_by_the_false_start_it_was_planted_on(
    reports: list[Report], hit: DryStart | None
) -> None:
    assert start_that_hit([SECOND, FIRST], reports) == hit


@pytest.mark.parametrize(
    ("kind", "day", "answers"),
    [
        pytest.param(Kind.GERMINATED, 20, False, id="up in the dry run"),
        pytest.param(Kind.GERMINATED, 21, True, id="up after the dry run"),
        pytest.param(Kind.COUNT, 19, False, id="counted in the dry run"),
        pytest.param(Kind.COUNT, 21, True, id="counted after it"),
        pytest.param(Kind.SURVIVED, 19, True, id="survived"),
        pytest.param(Kind.LOST, 19, True, id="lost"),
        pytest.param(Kind.REPLANTED, 22, True, id="replanted"),
        pytest.param(Kind.DONE, 22, False, id="a task done"),
    ],
)
def test_what_answers_the_question(kind: Kind, day: int, answers: bool) -> None:
    report = told(kind, date(2026, 11, day))
    assert answer_to(FIRST, [PLANTED, report]) == (report if answers else None)


def test_the_last_word_on_the_stand_is_the_answer() -> None:
    lost = told(Kind.LOST, date(2026, 11, 22))
    replanted = told(Kind.REPLANTED, date(2026, 12, 2))
    counted = told(Kind.COUNT, date(2026, 12, 20))
    assert answer_to(FIRST, [counted, replanted, lost, PLANTED]) == replanted


def test_an_answer_taken_back_is_none() -> None:
    back = Report("z", Kind.SURVIVED, None, utc(2026, 11, 23), replaces="s")
    said = told(Kind.SURVIVED, date(2026, 11, 22), "s")
    assert answer_to(FIRST, [PLANTED, said, back]) is None


def question(
    now: datetime, *reports: Report, before: tuple[WantedNotice, ...] = (), rulebook=MAIZE
) -> WantedNotice | None:
    told_before = [sent(each) for each in before]
    kept = [PLANTED, *reports]
    return survival_question([FIRST, SECOND], kept, rulebook, told_before, now, HOURS, 0)


def test_the_question_says_all_that_sending_needs() -> None:
    asked = question(utc(2026, 11, 21, 4))
    assert asked is not None
    assert (asked.key, asked.task, asked.number) == ("false-start/4/question", "false-start", 4)
    assert (asked.stage, asked.on) == (Stage.QUESTION, date(2026, 11, 21))
    assert asked.send_at == utc(2026, 11, 21, 6) and asked.expires_at == utc(2026, 11, 24, 16)
    assert "survive" in asked.template and (asked.about, asked.asks) == (None, None)


def test_outside_the_hours_it_waits_for_the_next_day() -> None:
    asked = question(utc(2026, 11, 21, 17))
    assert asked is not None and asked.send_at == utc(2026, 11, 22, 6)


def test_it_is_asked_once() -> None:
    now = utc(2026, 11, 21, 4)
    asked = question(now)
    assert asked is not None
    assert question(now + timedelta(days=1), before=(asked,)) is None


@pytest.mark.parametrize(
    ("day", "asks"), [(date(2026, 12, 11), True), (date(2026, 12, 12), False)], ids=str
)
def test_it_is_not_asked_long_after_the_dry_days(day: date, asks: bool) -> None:
    assert (question(utc(day.year, day.month, day.day, 4)) is not None) is asks


def test_it_is_not_asked_once_answered() -> None:
    survived = told(Kind.SURVIVED, date(2026, 11, 21))
    assert question(utc(2026, 11, 22, 4), survived) is None


def test_a_rulebook_without_the_question_asks_nobody() -> None:
    assert question(utc(2026, 11, 21, 4), rulebook=small()) is None


def test_a_placeholder_that_the_question_cannot_fill_is_a_fault() -> None:
    text = (rulebook_folder() / "maize-hand-hoe.toml").read_text("utf-8")
    broken = text.replace("dry after planting", "dry from {on}", 1)
    with pytest.raises(RulebookError, match=r"after_false_start\.question"):
        load_rulebook(broken)
