"""The shipped rulebooks of the rotation crops: their own tasks, sourced, in words that fit."""

import re
from datetime import date, timedelta

import pytest
from rules_cast import GERMINATED_ON, RAIN_ON, plot, rounds_of, task_of, utc, window

from reminder_service.kinds import Kind
from reminder_service.rules.derive import derive
from reminder_service.rules.facts import PlotFacts
from reminder_service.rules.plan import Plan
from reminder_service.rules.reminders import wanted_notices
from reminder_service.rules.rulebook import Rulebook
from reminder_service.rules.sending import SendingHours
from reminder_service.rules.shipped import rulebook_folder, shipped_names, shipped_rulebook
from reminder_service.texts.catalogues import catalogue_languages
from reminder_service.texts.reading import read
from reminder_service.texts.words import word_list

CROPS = ("common-beans", "groundnuts", "soya-beans")
BOOKS = {name: shipped_rulebook(name) for name in CROPS}
MAIZE = shipped_rulebook()
HARVESTED_ON = date(2027, 3, 20)
KNOWN = plot(first_rain=RAIN_ON, germinated=GERMINATED_ON)
REAPED = plot(first_rain=RAIN_ON, germinated=GERMINATED_ON, harvested=HARVESTED_ON)
HOURS = SendingHours("Africa/Lusaka", 8 * 60, 18 * 60)

each_crop = pytest.mark.parametrize("name", CROPS)


def planned(name: str, facts: PlotFacts = KNOWN) -> Plan:
    return derive(facts, BOOKS[name])


def after(start: date, *days: int) -> list[date]:
    return [start + timedelta(each) for each in days]


def test_all_rotation_crops_are_shipped() -> None:
    assert set(CROPS) < set(shipped_names())


@each_crop
def test_germination_weeding_and_harvest_are_there_and_no_work_of_maize(name: str) -> None:
    tasks = set(BOOKS[name].by_name)
    assert {"stand-check", "weed", "ripe", "dry", "rotate"} <= tasks
    own_of_maize = {"thin", "borer", "stalks-down"} | {
        task.name for task in MAIZE.tasks if task.only_with
    }
    assert not tasks & own_of_maize


@each_crop
def test_first_rain_alone_dates_every_task(name: str) -> None:
    plan = planned(name, plot(first_rain=RAIN_ON))
    assert {task.name for task in plan.tasks} == set(BOOKS[name].by_name)
    assert plan.left_out == ()


@each_crop
@pytest.mark.parametrize("maturity", ["short", "medium", "long"])
def test_every_class_of_maturity_has_its_harvest(name: str, maturity: str) -> None:
    facts = plot(germinated=GERMINATED_ON, choices={"maturity": maturity})
    harvest = planned(name, facts).estimates[Kind.HARVESTED]
    assert 50 < (harvest.earliest - GERMINATED_ON).days < 125
    assert harvest.question


@each_crop
def test_later_classes_are_harvested_later(name: str) -> None:
    days = [
        planned(name, plot(germinated=GERMINATED_ON, choices={"maturity": each})).estimates[
            Kind.HARVESTED
        ]
        for each in ("short", "medium", "long")
    ]
    assert [each.on for each in days] == sorted({each.on for each in days})


EMERGENCE = {"groundnuts": (5, 7, 10), "soya-beans": (6, 9, 12), "common-beans": (4, 6, 9)}


@pytest.mark.parametrize(("name", "days"), EMERGENCE.items(), ids=list(EMERGENCE))
def test_seedlings_are_expected_after_planting(name: str, days: tuple[int, int, int]) -> None:
    planted = date(2026, 11, 14)
    up = planned(name, plot(planted=planted)).estimates[Kind.GERMINATED]
    assert [up.earliest, up.on, up.latest] == after(planted, *days)


WEEDING = {"groundnuts": [14, 28], "soya-beans": [14, 30], "common-beans": [16, 33]}


@pytest.mark.parametrize(("name", "days"), WEEDING.items(), ids=list(WEEDING))
def test_two_weedings_after_germination(name: str, days: list[int]) -> None:
    rounds = rounds_of(planned(name), "weed")
    assert [task.due for task in rounds] == after(GERMINATED_ON, *days)


def test_beans_are_not_weeded_at_flowering() -> None:
    # 47 days after sowing, 6 of them to come up: AquaCrop crop file DryBean, calendar days.
    last = rounds_of(planned("common-beans"), "weed")[-1]
    assert last.closes < GERMINATED_ON + timedelta(47 - 6)


def test_groundnuts_are_weeded_by_hand_once_the_hoe_is_put_away() -> None:
    plan = planned("groundnuts")
    hoed = rounds_of(plan, "weed")[-1]
    assert task_of(plan, "hand-weed").opens == hoed.closes + timedelta(1)
    assert "no more hoe" in BOOKS["groundnuts"].by_name["hand-weed"].wordings["opens"]


@each_crop
def test_ripeness_is_looked_at_before_the_harvest_and_drying_follows_it(name: str) -> None:
    plan = planned(name, REAPED)
    assert list(window(task_of(plan, "ripe"))) == after(HARVESTED_ON, -10, -3, -1)
    assert list(window(task_of(plan, "dry"))) == after(HARVESTED_ON, 0, 7, 14)


@each_crop
def test_reported_harvest_ends_what_is_said_of_ripeness(name: str) -> None:
    wanted = wanted_notices(planned(name, REAPED), BOOKS[name], (), utc(2027, 3, 20, 9), HOURS, 5)
    assert {notice.task for notice in wanted} >= {"dry"}
    assert "ripe" not in {notice.task for notice in wanted}


@each_crop
def test_drying_carries_its_caution(name: str) -> None:
    assert "poison" in (BOOKS[name].by_name["dry"].caution or "")


@each_crop
def test_no_text_speaks_of_a_chemical_or_of_maize_work(name: str) -> None:
    texts = " ".join(text for task in BOOKS[name].tasks for text in task.written.values()).lower()
    assert not re.search("spray|dose|granule|fertiliser|chemical|tassel|borer|thin by", texts)


@each_crop
def test_rotation_goes_back_to_a_cereal(name: str) -> None:
    assert all("cereal" in text for text in BOOKS[name].by_name["rotate"].texts.values())


@each_crop
def test_every_task_tells_when_it_opens_and_when_it_is_nearly_over(name: str) -> None:
    for task in BOOKS[name].tasks:
        assert {"opens", "last-call"} <= {reminder.stage for reminder in task.reminders}


SOURCE = re.compile("common practice, no source|setting|from memory|FAO|AquaCrop|web|Monitor")


def sources(book: Rulebook) -> list[str]:
    return [each.source for each in (*book.tasks, *book.estimates, *book.settings.values())]


@each_crop
def test_every_source_is_published_or_says_what_it_is(name: str) -> None:
    assert all(SOURCE.search(source) for source in sources(BOOKS[name]))


@each_crop
def test_every_number_of_a_window_has_a_source_beside_it_or_on_its_task(name: str) -> None:
    text = (rulebook_folder() / f"{name}.toml").read_text("utf-8")
    assert text.count("[[tasks]]") == len(re.findall(r"^source = ", text, re.M)) - text.count(
        "[[estimates]]"
    )


SPOKEN = [
    (name, task.name, word)
    for name, book in BOOKS.items()
    for task in book.tasks
    for word in (task.name, *task.words)
]


@pytest.mark.parametrize(("book", "task", "word"), SPOKEN, ids=[f"{b} {w}" for b, _, w in SPOKEN])
def test_word_of_a_task_is_read_as_that_task(book: str, task: str, word: str) -> None:
    words = {each.name: each.words for each in BOOKS[book].tasks}
    reading = read(f"DONE {word.upper()}", date(2026, 12, 8), word_list("en"), words)
    assert [(said.kind, said.task) for said in reading.said] == [(Kind.DONE, task)]


@pytest.mark.parametrize("language", catalogue_languages())
@each_crop
def test_every_task_has_words_in_every_language(name: str, language: str) -> None:
    assert set(BOOKS[name].by_name) <= set(word_list(language).tasks)
