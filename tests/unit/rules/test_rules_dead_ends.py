"""Tasks that no plot can ever have are faults, and none that some plot can have is one."""

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rules_cast import HEAD, RAIN_ON, THIN, plot, task_text

from reminder_service.rules.bounds import FACTS
from reminder_service.rules.derive import derive
from reminder_service.rules.errors import RulebookError, RulebookFault
from reminder_service.rules.facts import PlotFacts
from reminder_service.rules.loader import load_rulebook
from reminder_service.rules.shipped import shipped_names, shipped_rulebook


def faults_of(*tasks: str) -> list[RulebookFault]:
    try:
        load_rulebook(HEAD + "".join(tasks))
    except RulebookError as error:
        return list(error.faults)
    return []


def weed(**keys: str) -> str:
    return task_text("weed", **keys)


GERM = '{ from = "germinated" }'

NEVER_OPEN = {
    "closes before it opens": weed(opens='{ from = "germinated", days = 4 }'),
    "closes by an earlier fact": weed(closes='{ from = "planted", days = 0 }'),
    "closes by one of several": weed(
        closes='{ earlier_of = [{ from = "tasselled" }, { from = "germinated", days = 0 }] }'
    ),
    "opens by one of several": weed(
        opens='{ later_of = [{ from = "first-rain" }, { from = "germinated", days = 9 }] }'
    ),
    "opens by every one of several": weed(
        opens='{ earlier_of = [{ from = "germinated", days = 9 },'
        ' { from = "germinated", days = 8 }] }'
    ),
    "closes by another task's window": THIN + weed(
        opens='{ from = "thin.closes", days = 1 }', due='{ from = "thin.closes", days = 1 }',
        closes='{ from = "thin.opens" }',
    ),
    "opens after a setting": weed(opens='{ from = "germinated", days = "stop_days" }'),
    "closes by its own opening": weed(
        closes='{ from = "weed.opens", days = -1 }', opens='{ from = "germinated", days = 1 }'
    ),
}  # fmt: skip


@pytest.mark.parametrize("text", NEVER_OPEN.values(), ids=list(NEVER_OPEN))
def test_window_that_can_never_open_is_a_fault(text: str) -> None:
    (fault,) = faults_of(text)
    assert fault.path.endswith(".closes")
    assert "no plot could ever have this window" in fault.expected


def test_fault_names_its_line_and_both_counts() -> None:
    text = HEAD + weed(opens='{ from = "germinated", days = 4 }')
    (fault,) = faults_of(weed(opens='{ from = "germinated", days = 4 }'))
    assert fault.line == text[: text.index("closes =")].count("\n") + 1
    assert (fault.path, fault.got) == (
        "tasks[0].closes",
        "3 days from germinated, while it opens 4 days from germinated or later",
    )


def test_last_day_before_the_first_round_is_a_fault() -> None:
    until = '{ every_days = 7, until = { from = "germinated", days = 1 } }'
    (fault,) = faults_of(weed(repeat=until))
    assert fault.path == "tasks[0].repeat.until"


MAY_OPEN = {
    "one day": weed(opens='{ from = "germinated", days = 3 }'),
    "closes by a later fact": weed(opens='{ from = "planted", days = 90 }'),
    "a member that may be unknown": weed(
        opens=f'{{ later_of = [{GERM}, {{ from = "germinated", days = 9, if_known = true }}] }}'
    ),
    "the earlier of two opens": weed(
        opens=f'{{ earlier_of = [{GERM}, {{ from = "germinated", days = 9 }}] }}'
    ),
    "the later of two closes": weed(
        opens='{ from = "germinated", days = 5 }',
        closes=f'{{ later_of = [{GERM}, {{ from = "germinated", days = 9 }}] }}',
    ),
    "a done that nothing limits": THIN + weed(
        opens='{ from = "thin.done" }', due='{ from = "thin.done" }', closes=GERM,
    ),
}  # fmt: skip


@pytest.mark.parametrize("text", MAY_OPEN.values(), ids=list(MAY_OPEN))
def test_window_that_some_plot_can_have_is_none(text: str) -> None:
    assert faults_of(text) == []


CHOSEN = {"only_with": '{ dressing = ["cup"] }'}
OTHER = {"only_with": '{ dressing = ["tea"] }'}


def test_task_that_counts_from_one_never_chosen_with_it_is_a_fault() -> None:
    first = task_text("first", **CHOSEN)
    opens = '{ from = "first.due" }'
    second = task_text("second", opens=opens, due=opens, closes=opens, **OTHER)
    faults = faults_of(first, second)
    assert [f.path for f in faults] == [
        f"tasks[1].{day}.from" for day in ("opens", "due", "closes")
    ]
    assert {f.expected for f in faults} == {"a day of a task that a plot can have beside this one"}


def test_it_is_a_fault_by_way_of_a_third_task_too() -> None:
    first = task_text("first", **CHOSEN)
    opens = '{ from = "first.due" }'
    second = task_text("second", opens=opens, due=opens, closes=opens)
    third = task_text("third", opens='{ from = "second.done" }', closes='{ from = "second.done" }',
                      due='{ from = "second.done" }', **OTHER)  # fmt: skip
    assert {f.path.partition(".")[0] for f in faults_of(first, second, third)} == {"tasks[2]"}


def test_counting_from_a_choice_that_may_be_missing_is_none() -> None:
    first = task_text("first", **CHOSEN)
    due = f'{{ later_of = [{GERM}, {{ from = "first.done", if_known = true }}] }}'
    assert faults_of(first, task_text("second", due=due, **OTHER)) == []


def test_tasks_that_wait_for_each_other_to_be_done_are_a_fault() -> None:
    days = [
        {name: f'{{ from = "{other}.done" }}' for name in ("opens", "due", "closes")}
        for other in ("second", "first")
    ]
    faults = faults_of(task_text("first", **days[0]), task_text("second", **days[1]))
    assert {f.path.partition(".")[0] for f in faults} == {"tasks[0]", "tasks[1]"}
    assert {f.expected for f in faults} == {"a day of a task that does not wait for this one"}


@pytest.mark.parametrize("name", shipped_names())
def test_shipped_rulebooks_have_no_dead_end(name: str) -> None:
    assert shipped_rulebook(name).tasks


COUNTS = st.builds(
    lambda fact, days: f'{{ from = "{fact}", days = {days} }}',
    st.sampled_from(FACTS),
    st.integers(-10, 10),
)
BOUNDS = st.recursive(
    COUNTS,
    lambda inner: st.builds(
        lambda form, members: f"{{ {form} = [{', '.join(members)}] }}",
        st.sampled_from(["later_of", "earlier_of"]),
        st.lists(inner, min_size=2, max_size=3),
    ),
    max_leaves=4,
)
GAPS = st.lists(st.integers(0, 15), min_size=len(FACTS), max_size=len(FACTS))


@given(BOUNDS, BOUNDS, st.lists(GAPS, min_size=1, max_size=5))
def test_what_is_called_a_dead_end_opens_on_no_plot(
    opens: str, closes: str, seasons: list[list[int]]
) -> None:
    """Facts in their order, however far apart: a window that opens on one of them is no fault."""
    text = task_text("weed", opens=opens, due=opens, closes=closes)
    if not faults_of(text):
        return
    loose = load_rulebook(HEAD + task_text("weed"))
    task = loose.tasks[0].model_copy(update=_bounds(opens, closes))
    rulebook = loose.model_copy(update={"tasks": (task,)})
    for gaps in seasons:
        assert derive(_season(gaps), rulebook).tasks == ()


def _bounds(opens: str, closes: str) -> dict[str, object]:
    """Bounds read one by one, each in a task that the check lets through."""
    book = load_rulebook(HEAD + task_text("weed", opens=opens, due=opens, closes=opens))
    other = load_rulebook(HEAD + task_text("weed", opens=closes, due=closes, closes=closes))
    return {"opens": book.tasks[0].opens, "due": book.tasks[0].due, "closes": other.tasks[0].closes}


def _season(gaps: list[int]) -> PlotFacts:
    day, known = RAIN_ON, {}
    for fact, gap in zip(FACTS, gaps, strict=True):
        day += timedelta(gap)
        known[fact.replace("-", "_")] = day
    return plot(**known)
