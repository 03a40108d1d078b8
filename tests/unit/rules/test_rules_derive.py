"""How facts and a rulebook become dated tasks: bounds, rounds, clipping, what is left out."""

from datetime import date

import pytest
from rules_cast import (
    GERMINATED_ON,
    HEAD,
    RAIN_ON,
    THIN,
    plot,
    rounds_of,
    small,
    task_of,
    task_text,
    window,
)

from reminder_service.kinds import Basis, Kind
from reminder_service.rules.derive import derive
from reminder_service.rules.errors import UnknownChoice
from reminder_service.rules.loader import load_rulebook

GERMINATED = plot(germinated=GERMINATED_ON)


def dec(day: int) -> date:
    return date(2026, 12, day)


def test_window_is_counted_from_a_reported_fact() -> None:
    task = task_of(derive(GERMINATED, small()), "thin")
    assert window(task) == (dec(5), dec(8), dec(12))
    assert (task.basis, task.estimated) == (Basis.REPORTED, frozenset())


def test_plan_names_the_rulebook_and_its_version() -> None:
    assert derive(GERMINATED, small()).rulebook == "small 3"


def test_tasks_come_by_due_day_then_name() -> None:
    rulebook = small(
        task_text("weed"),
        task_text("cut"),
        task_text(
            "late",
            due='{ from = "germinated", days = 9 }',
            closes='{ from = "germinated", days = 9 }',
        ),
    )
    assert [task.name for task in derive(GERMINATED, rulebook).tasks] == ["cut", "weed", "late"]


BOUNDS = {
    "later of two": ("{ later_of = [{ from = 'germinated' }, { from = 'first-rain' }] }",
                     GERMINATED_ON),
    "earlier of two": ("{ earlier_of = [{ from = 'germinated' }, { from = 'first-rain' }] }",
                       RAIN_ON),
    "later of, first decides": (
        "{ later_of = [{ from = 'germinated', days = 9 }, { from = 'first-rain', days = 9 }] }",
        date(2026, 11, 30),
    ),
    "one inside the other": (
        "{ later_of = [{ from = 'first-rain' }, "
        "{ earlier_of = [{ from = 'germinated' }, { from = 'first-rain', days = 1 }] }] }",
        date(2026, 11, 13),
    ),
    "unknown left out if so said": (
        "{ later_of = [{ from = 'first-rain' }, { from = 'tasselled', if_known = true }] }",
        RAIN_ON,
    ),
    "a setting's days": ("{ from = 'first-rain', days = 'stop_days' }", date(2027, 2, 10)),
    "a setting's days back": ("{ from = 'first-rain', days = '-stop_days' }", date(2026, 8, 14)),
    "no days": ("{ from = 'first-rain' }", RAIN_ON),
}  # fmt: skip


@pytest.mark.parametrize(("bound", "on"), BOUNDS.values(), ids=list(BOUNDS))
def test_bound_comes_to_its_day(bound: str, on: date) -> None:
    rulebook = small(task_text("weed", opens=bound, due=bound, closes=bound))
    facts = plot(first_rain=RAIN_ON, germinated=GERMINATED_ON)
    assert task_of(derive(facts, rulebook), "weed").opens == on


def test_due_day_before_the_opening_is_moved_to_it() -> None:
    rulebook = small(task_text("weed", opens='{ from = "germinated", days = 3 }'))
    opens, due, _ = window(task_of(derive(GERMINATED, rulebook), "weed"))
    assert due == opens == date(2026, 11, 24)


def test_due_day_after_the_closing_is_moved_to_it() -> None:
    rulebook = small(task_text("weed", due='{ from = "germinated", days = 30 }'))
    _, due, closes = window(task_of(derive(GERMINATED, rulebook), "weed"))
    assert due == closes == date(2026, 11, 24)


def test_window_that_closes_before_it_opens_is_left_out() -> None:
    opens = '{ later_of = [{ from = "germinated" }, { from = "first-rain", days = 13 }] }'
    facts = plot(first_rain=RAIN_ON, germinated=GERMINATED_ON)
    plan = derive(facts, small(task_text("weed", opens=opens)))
    assert (plan.tasks, [left.name for left in plan.left_out]) == ((), ["weed"])
    assert "would open Wed 25 Nov 2026" in plan.left_out[0].because


def test_window_of_one_day_stands() -> None:
    rulebook = small(task_text("weed", opens='{ from = "germinated", days = 3 }'))
    assert len(derive(GERMINATED, rulebook).tasks) == 1


def test_task_without_its_fact_is_left_out_and_names_it() -> None:
    (left,) = derive(plot(planted=RAIN_ON), small()).left_out
    assert left.because == (
        "Thinning is counted from germination, which is neither reported nor estimated: "
        "report the day of germination."
    )


def test_one_missing_member_leaves_a_task_out() -> None:
    due = '{ later_of = [{ from = "germinated" }, { from = "tasselled" }] }'
    plan = derive(GERMINATED, small(task_text("weed", due=due)))
    assert [left.name for left in plan.left_out] == ["weed"]
    assert "tasselling" in plan.left_out[0].because


def test_missing_fact_is_named_through_another_task() -> None:
    follow = task_text(
        "follow", **{key: '{ from = "thin.opens" }' for key in ("opens", "due", "closes")}
    )
    plan = derive(plot(), small(THIN, follow))
    assert plan.left_out[0].name == "follow"
    assert plan.left_out[0].because.startswith("Follow is counted from germination")


FOLLOW = {key: '{ from = "weed.DAY", days = 1 }' for key in ("opens", "due", "closes")}


@pytest.mark.parametrize(("day", "on"), [("opens", 22), ("due", 23), ("closes", 24)])
def test_task_is_counted_from_a_day_of_another(day: str, on: int) -> None:
    keys = {key: value.replace("DAY", day) for key, value in FOLLOW.items()}
    rulebook = load_rulebook(HEAD + task_text("follow", **keys) + task_text("weed"))
    task = task_of(derive(GERMINATED, rulebook), "follow")
    assert task.opens == date(2026, 11, on + 1)


def test_others_count_from_the_due_day_as_it_was_moved() -> None:
    weed = task_text("weed", due='{ from = "germinated", days = 30 }')
    keys = {key: value.replace("DAY", "due") for key, value in FOLLOW.items()}
    task = task_of(derive(GERMINATED, small(weed, task_text("follow", **keys))), "follow")
    assert task.opens == date(2026, 11, 25)


def test_own_days_count_from_each_other_as_written() -> None:
    weed = task_text(
        "weed",
        due='{ from = "germinated", days = 30 }',
        opens='{ from = "weed.due", days = -20 }',
        closes='{ from = "weed.opens", days = 5 }',
    )
    assert window(task_of(derive(GERMINATED, small(weed)), "weed")) == (dec(1), dec(6), dec(6))


def test_waiting_for_a_task_to_be_done_leaves_out_until_it_is() -> None:
    dress = task_text(
        "dress", due='{ from = "thin.done" }', closes='{ from = "thin.done", days = 7 }'
    )
    rulebook = small(THIN, dress)
    waiting = derive(GERMINATED, rulebook)
    assert waiting.left_out[0].because == "Dress waits until thinning is reported done."
    done = plot(germinated=GERMINATED_ON, done={("thin", 1): dec(9)})
    assert task_of(derive(done, rulebook), "dress").due == dec(9)


def test_done_day_is_on_the_task() -> None:
    facts = plot(germinated=GERMINATED_ON, done={("thin", 1): dec(7)})
    assert task_of(derive(facts, small()), "thin").done_on == dec(7)


COUNTING = task_text("check", answered_by='"count"')


@pytest.mark.parametrize(
    ("counted_on", "done_on"),
    [(date(2026, 11, 21), None), (date(2026, 11, 22), date(2026, 11, 22)), (dec(9), dec(9))],
    ids=["before it opens", "on the day it opens", "after it closed"],
)
def test_count_settles_its_task_once_it_is_open(counted_on: date, done_on: date | None) -> None:
    facts = plot(germinated=GERMINATED_ON, counted={Kind.COUNT: counted_on})
    assert task_of(derive(facts, small(COUNTING)), "check").done_on == done_on


def test_count_of_another_kind_settles_nothing() -> None:
    facts = plot(germinated=GERMINATED_ON, counted={Kind.BORER_COUNT: dec(1)})
    assert task_of(derive(facts, small(COUNTING)), "check").done_on is None


def test_round_follows_round_until_the_count() -> None:
    rulebook = small(task_text("weed", repeat="{ every_days = 7, count = 3 }"))
    rounds = rounds_of(derive(GERMINATED, rulebook), "weed")
    assert [task.due for task in rounds] == [date(2026, 11, 23), date(2026, 11, 30), dec(7)]
    assert [task.number for task in rounds] == [1, 2, 3]


UNTIL = '{ every_days = 7, until = { from = "germinated", days = DAYS } }'


@pytest.mark.parametrize(
    ("days", "rounds"),
    [("8", 1), ("9", 2), ("15", 2), ("16", 3)],
    ids=["day before", "on the day", "day before the next", "on the next"],
)
def test_last_day_allowed_is_the_last_due_day(days: str, rounds: int) -> None:
    rulebook = small(task_text("weed", repeat=UNTIL.replace("DAYS", days)))
    assert len(rounds_of(derive(GERMINATED, rulebook), "weed")) == rounds


def test_last_day_allowed_cuts_the_window_short() -> None:
    rulebook = small(task_text("weed", repeat=UNTIL.replace("DAYS", "9")))
    last = rounds_of(derive(GERMINATED, rulebook), "weed")[-1]
    assert last.closes == last.due == date(2026, 11, 30)


def test_first_round_after_the_last_day_allowed_is_left_out() -> None:
    until = '{ every_days = 14, until = { from = "tasselled", days = 1 } }'
    facts = plot(germinated=GERMINATED_ON, tasselled=GERMINATED_ON)
    plan = derive(facts, small(task_text("weed", repeat=until)))
    assert plan.tasks == ()
    assert plan.left_out[0].because == (
        "Weed has no round: it would first be due Mon 23 Nov 2026, 2 days after germination on "
        "Sat 21 Nov 2026 (reported), after the last day allowed, Sun 22 Nov 2026, 1 day after "
        "tasselling on Sat 21 Nov 2026 (reported)."
    )


def test_repeated_task_without_its_last_day_is_left_out() -> None:
    until = '{ every_days = 7, until = { from = "tasselled" } }'
    plan = derive(GERMINATED, small(task_text("weed", repeat=until)))
    assert (plan.tasks, plan.left_out[0].name) == ((), "weed")


def test_count_ends_rounds_before_the_last_day_allowed() -> None:
    until = '{ every_days = 7, count = 2, until = { from = "germinated", days = 90 } }'
    assert len(rounds_of(derive(GERMINATED, small(task_text("weed", repeat=until))), "weed")) == 2


TEA = task_text("tea", repeat="{ every_days = 7, count = 3 }")
BREW = task_text(
    "brew",
    for_each='"tea"',
    opens='{ from = "tea.due", days = -5 }',
    due='{ from = "tea.due", days = -4 }',
    closes='{ from = "tea.due", days = -3 }',
)


def test_task_for_each_round_has_that_round_s_days() -> None:
    plan = derive(GERMINATED, small(BREW, TEA))
    days = [
        (tea.due - brew.due).days
        for brew, tea in zip(rounds_of(plan, "brew"), rounds_of(plan, "tea"), strict=True)
    ]
    assert days == [4, 4, 4]


def test_task_for_each_may_count_from_a_task_of_one_round() -> None:
    brew = BREW.replace(
        'opens = { from = "tea.due", days = -5 }',
        'opens = { earlier_of = [{ from = "thin.opens" }, { from = "tea.due", days = -5 }] }',
    )
    plan = derive(GERMINATED, small(THIN, brew, TEA))
    opens = [task.opens for task in rounds_of(plan, "brew")]
    assert opens == [date(2026, 11, 18), date(2026, 11, 25), dec(2)]


def test_task_for_each_of_a_missing_task_names_the_missing_fact() -> None:
    left = derive(plot(), small(BREW, TEA)).left_out
    assert [each.name for each in left] == ["brew", "tea"]
    assert "germination" in left[0].because


CHOOSY = task_text(
    "tea", only_with='{ dressing = ["tea"] }', repeat="{ every_days = 7, count = 2 }"
)


@pytest.mark.parametrize(
    ("choices", "names"),
    [({}, []), ({"dressing": "cup"}, []), ({"dressing": "tea"}, ["tea", "tea"])],
    ids=["default", "other", "this"],
)
def test_task_belongs_to_its_choices_only(choices: dict[str, str], names: list[str]) -> None:
    plan = derive(plot(germinated=GERMINATED_ON, choices=choices), small(CHOOSY))
    assert ([task.name for task in plan.tasks], plan.left_out) == (names, ())


def test_task_for_each_of_one_ruled_out_is_not_mentioned() -> None:
    plan = derive(GERMINATED, small(BREW, CHOOSY))
    assert (plan.tasks, plan.left_out) == ((), ())


def test_task_counted_from_one_ruled_out_is_left_out() -> None:
    keys = {key: value.replace("weed.DAY", "tea.due") for key, value in FOLLOW.items()}
    (left,) = derive(GERMINATED, small(CHOOSY, task_text("follow", **keys))).left_out
    assert left.because == "Follow is counted from tea, which has no window on this plot."


def test_choice_the_rulebook_does_not_know_is_ignored() -> None:
    assert derive(plot(germinated=GERMINATED_ON, choices={"tool": "hoe"}), small()).tasks


def test_value_the_rulebook_does_not_know_is_refused() -> None:
    with pytest.raises(UnknownChoice, match="dressing is 'lime', expected one of cup, tea"):
        derive(plot(choices={"dressing": "lime"}), small())


ESTIMATED = (
    HEAD
    + """
[[estimates]]
fact = "tasselled"
from = "germinated"
days = { earliest = 50, likely = 60, latest = 70 }
source = "setting"
"""
)

LEANING = {
    "nothing": ({}, set(), Basis.REPORTED),
    "only the closing": ({"closes": '{ from = "tasselled" }'}, {"closes"}, Basis.REPORTED),
    "the opening": (
        {"opens": '{ earlier_of = [{ from = "germinated" }, { from = "tasselled" }] }'},
        {"opens"}, Basis.ESTIMATED,
    ),
    "due moved to a closing that leans": (
        {"due": '{ from = "germinated", days = 99 }', "closes": '{ from = "tasselled" }'},
        {"due", "closes"}, Basis.ESTIMATED,
    ),
    "left out while unknown, but estimated": (
        {"due": '{ later_of = [{ from = "germinated", days = 2 }, '
                '{ from = "tasselled", days = -60, if_known = true }] }'},
        {"due"}, Basis.ESTIMATED,
    ),
}  # fmt: skip


@pytest.mark.parametrize(("keys", "names", "basis"), LEANING.values(), ids=list(LEANING))
def test_days_that_lean_on_an_estimate_are_marked(
    keys: dict[str, str], names: set[str], basis: Basis
) -> None:
    rulebook = load_rulebook(ESTIMATED + task_text("weed", **keys))
    task = task_of(derive(GERMINATED, rulebook), "weed")
    assert (task.estimated, task.basis) == (names, basis)


def test_leaning_passes_from_task_to_task() -> None:
    weed = task_text("weed", closes='{ from = "tasselled" }')
    keys = {key: value.replace("DAY", "closes") for key, value in FOLLOW.items()}
    plan = derive(GERMINATED, load_rulebook(ESTIMATED + weed + task_text("follow", **keys)))
    assert task_of(plan, "follow").estimated == {"opens", "due", "closes"}


def test_report_takes_the_mark_away() -> None:
    rulebook = load_rulebook(ESTIMATED + task_text("weed", closes='{ from = "tasselled" }'))
    facts = plot(germinated=GERMINATED_ON, tasselled=date(2027, 1, 20))
    assert task_of(derive(facts, rulebook), "weed").estimated == frozenset()


def test_last_day_allowed_that_leans_marks_only_the_window_it_cuts() -> None:
    until = '{ every_days = 7, until = { from = "tasselled", days = -51 } }'
    rulebook = load_rulebook(ESTIMATED + task_text("weed", repeat=until))
    rounds = rounds_of(derive(GERMINATED, rulebook), "weed")
    assert [task.estimated for task in rounds] == [set(), {"closes"}]
