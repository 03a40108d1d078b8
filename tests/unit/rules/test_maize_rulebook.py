"""The shipped maize rulebook says what common practice says, in words that fit a phone."""

import re
from datetime import date, timedelta
from itertools import pairwise

import pytest
from rules_cast import GERMINATED_ON, RAIN_ON, maize_plan, plot, rounds_of, task_of, window

from reminder_service.agronomy.manure import STOP_DAYS
from reminder_service.agronomy.sources import sources
from reminder_service.kinds import Basis, Kind
from reminder_service.rules.rulebook import TaskRule
from reminder_service.rules.shipped import rulebook_folder, shipped_rulebook
from reminder_service.texts.reading import read
from reminder_service.texts.segments import segments
from reminder_service.texts.words import word_list

MAIZE = shipped_rulebook()
KNOWN = plot(first_rain=RAIN_ON, germinated=GERMINATED_ON)
TEA = plot(first_rain=RAIN_ON, germinated=GERMINATED_ON, choices={"top-dressing": "manure-tea"})

TASKS = [
    "stand-check", "thin", "top-dress-first", "top-dress-tassel", "manure-brew", "manure-tea",
    "borer", "weed", "stalks-down", "keep-clean", "rotate",
]  # fmt: skip


def days_after(start: date, *days: int) -> tuple[date, ...]:
    return tuple(start + timedelta(each) for each in days)


def test_rulebook_has_the_eleven_tasks() -> None:
    assert [task.name for task in MAIZE.tasks] == TASKS


# The check values are common practice, no source.


def test_check_value_thinning() -> None:
    opens, _, closes = window(task_of(maize_plan(KNOWN), "thin"))
    assert (opens, closes) == (date(2026, 12, 5), date(2026, 12, 12))


def test_check_value_first_top_dressing() -> None:
    assert task_of(maize_plan(KNOWN), "top-dress-first").due == date(2026, 12, 12)


def test_check_value_borer_opens_after_the_rain() -> None:
    assert task_of(maize_plan(KNOWN), "borer").opens == date(2026, 12, 10)


def test_check_value_borer_never_opens_before_thinning() -> None:
    late = plot(first_rain=RAIN_ON, germinated=date(2026, 12, 18))
    assert task_of(maize_plan(late), "borer").opens == date(2027, 1, 1)


def test_check_value_brew_goes_into_water_three_weeks_before_its_tea() -> None:
    plan = maize_plan(TEA)
    assert task_of(plan, "manure-tea").due == date(2026, 12, 12)
    assert task_of(plan, "manure-brew").due == date(2026, 11, 21)


@pytest.mark.parametrize("maturity", ["short", "medium", "long"])
@pytest.mark.parametrize("harvested", [None, date(2027, 3, 14)], ids=["estimated", "early"])
def test_check_value_no_tea_within_the_hygiene_stop(maturity: str, harvested: date | None) -> None:
    choices = {"top-dressing": "both", "maturity": maturity}
    known = {"harvested": harvested} if harvested else {}
    facts = plot(first_rain=RAIN_ON, germinated=GERMINATED_ON, choices=choices, **known)
    plan = maize_plan(facts)
    harvest_on = harvested or task_of(plan, "stalks-down").due
    tea = rounds_of(plan, "manure-tea")
    assert tea
    assert all(task.closes <= harvest_on - timedelta(STOP_DAYS) for task in tea)


def test_hygiene_stop_is_the_published_one() -> None:
    assert MAIZE.settings["hygiene_stop_days"].days == STOP_DAYS


def test_tea_ends_at_tasselling_where_that_comes_first() -> None:
    facts = plot(
        germinated=GERMINATED_ON, tasselled=date(2026, 12, 26), harvested=date(2027, 6, 1),
        choices={"top-dressing": "manure-tea"},
    )  # fmt: skip
    rounds = rounds_of(maize_plan(facts), "manure-tea")
    assert [task.due for task in rounds] == [date(2026, 12, 12), date(2026, 12, 26)]
    assert rounds[-1].closes == date(2026, 12, 26)


def test_tea_comes_every_fortnight_from_three_weeks_on() -> None:
    rounds = rounds_of(maize_plan(TEA), "manure-tea")
    due = [(task.due - GERMINATED_ON).days for task in rounds]
    assert due == [21 + 14 * index for index in range(len(rounds))]


def test_every_tea_has_its_brew() -> None:
    plan = maize_plan(TEA)
    brews, teas = rounds_of(plan, "manure-brew"), rounds_of(plan, "manure-tea")
    assert [b.due + timedelta(21) for b in brews] == [t.due for t in teas]


def test_borer_closes_before_tasselling() -> None:
    facts = plot(first_rain=RAIN_ON, germinated=GERMINATED_ON, tasselled=date(2027, 1, 20))
    assert task_of(maize_plan(facts), "borer").closes == date(2027, 1, 19)


def test_borer_keeps_the_interval_to_harvest() -> None:
    facts = plot(
        first_rain=RAIN_ON, germinated=GERMINATED_ON,
        tasselled=date(2027, 1, 20), harvested=date(2027, 2, 20),
    )  # fmt: skip
    interval = MAIZE.settings["pre_harvest_interval_days"].days
    closes = task_of(maize_plan(facts), "borer").closes
    assert closes == date(2027, 2, 20) - timedelta(interval)


def test_borer_is_due_thirty_days_after_germination() -> None:
    assert task_of(maize_plan(KNOWN), "borer").due == GERMINATED_ON + timedelta(30)


def test_borer_due_before_the_rain_allows_is_due_when_it_opens() -> None:
    early = plot(first_rain=date(2026, 11, 25), germinated=GERMINATED_ON)
    task = task_of(maize_plan(early), "borer")
    assert task.due == task.opens == date(2026, 12, 23)


def test_top_dressing_waits_for_late_thinning() -> None:
    done = {("thin", 1): date(2026, 12, 16)}
    facts = plot(first_rain=RAIN_ON, germinated=GERMINATED_ON, done=done)
    _, due, closes = window(task_of(maize_plan(facts), "top-dress-first"))
    assert (due, closes) == (date(2026, 12, 16), date(2026, 12, 23))


def test_early_thinning_does_not_bring_top_dressing_forward() -> None:
    done = {("thin", 1): date(2026, 12, 6)}
    facts = plot(first_rain=RAIN_ON, germinated=GERMINATED_ON, done=done)
    assert task_of(maize_plan(facts), "top-dress-first").due == date(2026, 12, 12)


def test_tassel_dressing_follows_a_report_at_once() -> None:
    facts = plot(germinated=GERMINATED_ON, tasselled=date(2027, 1, 15))
    task = task_of(maize_plan(facts), "top-dress-tassel")
    assert window(task) == days_after(date(2027, 1, 15), 0, 0, 7)
    assert task.basis is Basis.REPORTED


def test_tassel_dressing_is_estimated_until_then() -> None:
    assert task_of(maize_plan(KNOWN), "top-dress-tassel").basis is Basis.ESTIMATED


def test_four_weeding_rounds_follow_each_other_without_a_gap() -> None:
    rounds = rounds_of(maize_plan(KNOWN), "weed")
    assert [(task.due - GERMINATED_ON).days for task in rounds] == [14, 28, 42, 56]
    gaps = [(b.opens - a.closes).days for a, b in pairwise(rounds)]
    assert gaps == [1, 1, 1]


def test_stand_check_is_over_before_thinning_opens() -> None:
    plan = maize_plan(KNOWN)
    assert window(task_of(plan, "stand-check")) == days_after(GERMINATED_ON, 7, 10, 13)
    assert task_of(plan, "stand-check").closes < task_of(plan, "thin").opens


def test_stalks_come_down_at_harvest() -> None:
    facts = plot(germinated=GERMINATED_ON, harvested=date(2027, 4, 10))
    task = task_of(maize_plan(facts), "stalks-down")
    assert window(task) == days_after(date(2027, 4, 10), 0, 0, 28)


def test_plot_is_kept_clean_three_times_after_harvest() -> None:
    facts = plot(germinated=GERMINATED_ON, harvested=date(2027, 4, 10))
    rounds = rounds_of(maize_plan(facts), "keep-clean")
    assert [task.opens for task in rounds] == list(days_after(date(2027, 4, 10), 14, 35, 56))


def test_rotation_is_due_a_month_before_the_next_rain() -> None:
    facts = plot(first_rain=RAIN_ON, germinated=GERMINATED_ON, harvested=date(2027, 4, 10))
    assert window(task_of(maize_plan(facts), "rotate")) == days_after(RAIN_ON, 275, 335, 355)


def test_rotation_does_not_open_before_a_late_harvest() -> None:
    facts = plot(first_rain=RAIN_ON, germinated=GERMINATED_ON, harvested=date(2027, 9, 20))
    task = task_of(maize_plan(facts), "rotate")
    assert (task.opens, task.due) == (date(2027, 9, 20), date(2027, 10, 20))


@pytest.mark.parametrize(
    ("choice", "names"),
    [
        ("mineral", {"top-dress-first", "top-dress-tassel"}),
        ("manure-tea", {"manure-brew", "manure-tea"}),
        ("both", {"top-dress-first", "top-dress-tassel", "manure-brew", "manure-tea"}),
    ],
)
def test_choice_of_dressing_decides_which_dressings_there_are(choice: str, names: set[str]) -> None:
    facts = plot(germinated=GERMINATED_ON, choices={"top-dressing": choice})
    dressing = {"top-dress-first", "top-dress-tassel", "manure-brew", "manure-tea"}
    assert {task.name for task in maize_plan(facts).tasks} & dressing == names


def test_first_rain_alone_dates_every_task() -> None:
    plan = maize_plan(plot(first_rain=RAIN_ON))
    chosen = {name for name in TASKS if not name.startswith("manure")}
    assert ({task.name for task in plan.tasks}, plan.left_out) == (chosen, ())


# Wordings.

LONGEST = {
    "name": "N" * 10, "plot": "P" * 6, "number": "10",
    "opens": "about Wed 25 Nov", "due": "about Wed 25 Nov", "closes": "about Wed 25 Nov",
    "on": "about Wed 25 Nov", "amount": "5500 l",
}  # fmt: skip

WORDINGS = [(task, stage) for task in MAIZE.tasks for stage in task.texts]


@pytest.mark.parametrize(("task", "stage"), WORDINGS, ids=lambda each: getattr(each, "name", each))
def test_text_with_its_caution_fits(task: TaskRule, stage: str) -> None:
    body = task.wordings[stage].format(**LONGEST) + (f" {task.caution}" if task.caution else "")
    count = segments(body)
    assert count.encoding == "gsm-7"
    assert count.segments <= task.most_segments, count.units


@pytest.mark.parametrize("rule", MAIZE.estimates, ids=lambda rule: f"{rule.fact}-{rule.start}")
def test_question_fits_one_segment(rule: object) -> None:
    question = getattr(rule, "question", None) or "none"
    assert segments(question.format(**LONGEST)).segments == 1


@pytest.mark.parametrize("task", MAIZE.tasks, ids=lambda task: task.name)
def test_every_task_tells_when_it_opens_and_when_it_is_nearly_over(task: TaskRule) -> None:
    assert {"opens", "last-call"} <= {reminder.stage for reminder in task.reminders}


@pytest.mark.parametrize("task", MAIZE.tasks, ids=lambda task: task.name)
def test_farmer_is_told_how_to_answer(task: TaskRule) -> None:
    answer = {"stand-check": "COUNT", "borer": "BORER"}.get(task.name)
    said = [answer] if answer else [f"DONE {word.upper()}" for word in task.words]
    assert any(each in task.wordings["opens"] for each in said)


SPOKEN = [(task.name, word) for task in MAIZE.tasks for word in (task.name, *task.words)]


@pytest.mark.parametrize(("name", "word"), SPOKEN, ids=[word for _, word in SPOKEN])
def test_word_of_a_task_is_read_as_that_task(name: str, word: str) -> None:
    words = {task.name: task.words for task in MAIZE.tasks}
    reading = read(f"DONE {word.upper()}", date(2026, 12, 8), word_list("en"), words)
    assert [(said.kind, said.task) for said in reading.said] == [(Kind.DONE, name)]


EXAMPLES = sorted(
    {example for rule in MAIZE.estimates for example in re.findall(r"[A-Z]+ TODAY|[A-Z]+ [0-9/]+",
                                                                   rule.question or "")}
)  # fmt: skip


@pytest.mark.parametrize("example", EXAMPLES)
def test_example_in_a_question_is_read_as_its_fact(example: str) -> None:
    reading = read(example, date(2026, 12, 8), word_list("en"), {})
    facts = {rule.fact for rule in MAIZE.estimates if example in (rule.question or "")}
    assert {said.kind for said in reading.said} == facts


def test_only_the_borer_check_may_lead_to_a_chemical() -> None:
    assert [task.name for task in MAIZE.tasks if task.chemical] == ["borer"]


def test_no_borer_text_orders_a_chemical() -> None:
    texts = " ".join(MAIZE.by_name["borer"].texts.values()).lower()
    assert not re.search("granule|spray|treat|product|apply|dose", texts)
    assert all("look" in text for text in MAIZE.by_name["borer"].texts.values())


@pytest.mark.parametrize("name", ["borer", "top-dress-first", "top-dress-tassel"])
def test_caution_defers_to_the_label_and_the_adviser(name: str) -> None:
    caution = (MAIZE.by_name[name].caution or "").lower()
    assert "label" in caution and "adviser" in caution


@pytest.mark.parametrize("name", ["manure-brew", "manure-tea"])
def test_manure_texts_carry_their_caution(name: str) -> None:
    assert "wash hands" in (MAIZE.by_name[name].caution or "")


def test_every_source_key_is_in_the_bibliography() -> None:
    text = (rulebook_folder() / "maize-hand-hoe.toml").read_text("utf-8")
    keys = set(re.findall(r"\bS\d+\b", text))
    assert keys and keys <= sources().keys()


SOURCE = re.compile("common practice, no source|setting|S[0-9]+|the product's label")


@pytest.mark.parametrize(
    "source",
    [each.source for each in (*MAIZE.tasks, *MAIZE.estimates, *MAIZE.settings.values())],
)
def test_every_source_is_published_or_says_what_it_is(source: str) -> None:
    assert SOURCE.search(source)
