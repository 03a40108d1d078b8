"""What a rulebook's shape cannot tell: names that lead nowhere, circles, missing cautions."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter
from string import Formatter

from reminder_service.rules.bounds import DONE, FACTS, FIELDS, Place, leaves
from reminder_service.rules.rulebook import EstimateRule, Rulebook, TaskRule
from reminder_service.rules.warmth import comes_after

TASK_PLACEHOLDERS = frozenset({"name", "plot", "opens", "due", "closes", "number"})
"""What a task's wording may be filled with; with ``amount`` where the task has a need."""

SURVIVAL_PLACEHOLDERS = frozenset({"name", "plot"})
"""What the question after a false start may be filled with."""

QUESTION_PLACEHOLDERS = frozenset({"name", "plot", "on"})
"""What a question may be filled with; ``on`` is the estimated day."""

ENGINE_SETTINGS = ("correction_tolerance_days", "question_late_days", "question_useful_days")
"""Settings that the engine itself reads, so that every rulebook must have them."""


@dataclass(frozen=True, slots=True)
class Inconsistency:
    """One fault by its place; the loader adds the line.

    Attributes
    ----------
    at : keys and indexes that lead to it
    expected, got : in words
    """

    at: Place
    expected: str
    got: str


def inconsistencies(rulebook: Rulebook) -> Iterator[Inconsistency]:
    """All faults of a rulebook whose shape is right.

    Parameters
    ----------
    rulebook : as validated

    Yields
    ------
    faults, in no order
    """
    yield from _missing_settings(rulebook)
    yield from _repeated(rulebook)
    for index, estimate in enumerate(rulebook.estimates):
        yield from _estimate_faults(rulebook, estimate, ("estimates", index))
    if rulebook.after_false_start is not None:
        asked = rulebook.after_false_start.question
        yield from _placeholders(asked, SURVIVAL_PLACEHOLDERS, ("after_false_start", "question"))
    for index, task in enumerate(rulebook.tasks):
        at: Place = ("tasks", index)
        yield from _choice_faults(rulebook, task.only_with, (*at, "only_with"))
        yield from _bound_faults(rulebook, task, at)
        yield from _round_faults(rulebook, task, at)
        yield from _wording_faults(task, at)
        yield from _own_circle(task, at)
    yield from _task_circle(rulebook)


def _missing_settings(rulebook: Rulebook) -> Iterator[Inconsistency]:
    for name in ENGINE_SETTINGS:
        if name not in rulebook.settings:
            yield Inconsistency(("settings", name), "{ days = …, source = … }", "nothing")


def _repeated(rulebook: Rulebook) -> Iterator[Inconsistency]:
    names = Counter(task.name for task in rulebook.tasks)
    words = Counter(word for task in rulebook.tasks for word in set(task.words))
    for index, task in enumerate(rulebook.tasks):
        if names[task.name] > 1:
            at: Place = ("tasks", index, "name")
            yield Inconsistency(at, "a name that no other task has", repr(task.name))
            continue
        if task.name in FACTS:
            at = ("tasks", index, "name")
            yield Inconsistency(at, "a name that is not a fact's", repr(task.name))
        for nth, word in enumerate(task.words):
            if words[word] > 1 or task.words.count(word) > 1:
                at = ("tasks", index, "words", nth)
                yield Inconsistency(at, "words that stand only once in the rulebook", repr(word))


def _estimate_faults(rulebook: Rulebook, rule: EstimateRule, at: Place) -> Iterator[Inconsistency]:
    if rule.fact == rule.start:
        yield Inconsistency((*at, "from"), "another fact than the estimated one", repr(rule.start))
    spread = rule.days
    if not spread.earliest <= spread.likely <= spread.latest:
        got = f"{spread.earliest}, {spread.likely}, {spread.latest}"
        yield Inconsistency((*at, "days"), "earliest <= likely <= latest", got)
    if rule.degree_days is not None and not comes_after(rule.fact, rule.start):
        got = f"{rule.fact} from {rule.start}"
        yield Inconsistency((*at, "degree_days"), "a stage of maize from an earlier one", got)
    when = {name: (value,) for name, value in rule.when.items()}
    yield from _choice_faults(rulebook, when, (*at, "when"))
    if rule.question is not None:
        yield from _placeholders(rule.question, QUESTION_PLACEHOLDERS, (*at, "question"))


def _choice_faults(
    rulebook: Rulebook, wanted: Mapping[str, Sequence[str]], at: Place
) -> Iterator[Inconsistency]:
    for name, values in wanted.items():
        known = rulebook.choices.get(name)
        if known is None:
            yield Inconsistency((*at, name), f"one of {_listed(rulebook.choices)}", repr(name))
            continue
        for value in values:
            if value not in known:
                yield Inconsistency((*at, name), f"one of {_listed(known)}", repr(value))


def _bound_faults(rulebook: Rulebook, task: TaskRule, at: Place) -> Iterator[Inconsistency]:
    for field, bound in task.bounds.items():
        for place, leaf in leaves(bound, (*at, *field.split("."))):
            start = _start_fault(rulebook, task, field, leaf.start)
            if start is not None:
                yield Inconsistency((*place, "from"), start, repr(leaf.start))
            if isinstance(leaf.days, str) and leaf.days not in rulebook.setting_days:
                known = f"a number of days, or one of {_listed(rulebook.settings)}"
                yield Inconsistency((*place, "days"), known, repr(leaf.days))
            if leaf.if_known and place == (*at, *field.split(".")):
                inside = "if_known only inside later_of or earlier_of"
                yield Inconsistency((*place, "if_known"), inside, "true")


def _start_fault(rulebook: Rulebook, task: TaskRule, field: str, start: str) -> str | None:
    """What would have been taken instead of an anchor; None if it is right."""
    name, dot, day = start.partition(".")
    if not dot:
        return None if start in FACTS else f"one of {_listed(FACTS)}, or a task's day"
    if name not in rulebook.by_name:
        return f"a day of one of {_listed(rulebook.by_name)}"
    if name == task.name and day == DONE:
        return "another task's day: no window can wait for its own task"
    if name == task.name and field == "repeat.until":
        return "a fact or another task's day"
    return None


def _round_faults(rulebook: Rulebook, task: TaskRule, at: Place) -> Iterator[Inconsistency]:
    if task.repeat is not None and task.repeat.count is None and task.repeat.until is None:
        yield Inconsistency((*at, "repeat"), "count, until or both", "neither")
    if task.answered_by is not None and (task.repeat or task.for_each):
        expected = "a task of one round"
        yield Inconsistency((*at, "answered_by"), expected, repr(task.answered_by))
    if task.act_above is not None and task.answered_by != "borer-count":
        expected = 'answered_by = "borer-count" beside it'
        yield Inconsistency((*at, "act_above"), expected, repr(task.answered_by))
    if task.for_each is None:
        return
    other = rulebook.by_name.get(task.for_each)
    if other is None or other.repeat is None:
        repeated = [each.name for each in rulebook.tasks if each.repeat is not None]
        expected = f"a repeated task: {_listed(repeated)}" if repeated else "a repeated task"
        yield Inconsistency((*at, "for_each"), expected, repr(task.for_each))
    if task.repeat is not None:
        yield Inconsistency((*at, "repeat"), "for_each or repeat", "both")


def _wording_faults(task: TaskRule, at: Place) -> Iterator[Inconsistency]:
    if task.chemical and task.caution is None:
        yield Inconsistency((*at, "caution"), "a caution, for the task is chemical", "nothing")
    stages = Counter(reminder.stage for reminder in task.reminders)
    for index, reminder in enumerate(task.reminders):
        place = (*at, "reminders", index)
        if stages[reminder.stage] > 1:
            expected = "a stage that no other reminder of the task has"
            yield Inconsistency((*place, "stage"), expected, repr(reminder.stage))
        if reminder.stage not in task.texts:
            place_of_text = (*at, "texts", reminder.stage)
            yield Inconsistency(place_of_text, "a text for this reminder", "nothing")
        if reminder.stage == "getting-ready" and (reminder.start != "opens" or reminder.days >= 0):
            expected = 'days before the opening: from = "opens" and days below 0'
            yield Inconsistency(place, expected, f"{reminder.days} days from {reminder.start}")
    if task.reminders and "correction" not in task.texts:
        expected = "a text that says the new days"
        yield Inconsistency((*at, "texts", "correction"), expected, "nothing")
    known = TASK_PLACEHOLDERS if task.need is None else TASK_PLACEHOLDERS | {"amount"}
    for stage, text in task.texts.items():
        yield from _placeholders(text, known, (*at, "texts", stage))
    if task.caution is not None:
        yield from _placeholders(task.caution, frozenset(), (*at, "caution"))


def _placeholders(text: str, known: frozenset[str], at: Place) -> Iterator[Inconsistency]:
    allowed = ", ".join(f"{{{name}}}" for name in sorted(known)) or "no placeholder"
    try:
        parts = list(Formatter().parse(text))
    except ValueError:
        yield Inconsistency(at, f"a text with {allowed}", f"{text!r}, whose braces do not pair")
        return
    for _, name, form, conversion in parts:
        if name is not None and (name not in known or form or conversion):
            yield Inconsistency(at, f"a text with {allowed}", f"{{{name}}}")


def _own_circle(task: TaskRule, at: Place) -> Iterator[Inconsistency]:
    graph: dict[str, set[str]] = {}
    for field in FIELDS:
        starts = {leaf.start for _, leaf in leaves(task.bounds[field])}
        graph[field] = {each for each in FIELDS if f"{task.name}.{each}" in starts}
    circle = _circle(graph)
    if circle:
        expected = "days that are not counted from each other in a circle"
        yield Inconsistency((*at, circle[0]), expected, " from ".join(circle))


def _task_circle(rulebook: Rulebook) -> Iterator[Inconsistency]:
    """One fault a circle of tasks; a circle is broken at its task before looking further."""
    graph = {task.name: set(task.leans_on) for task in rulebook.tasks}
    places = {task.name: index for index, task in enumerate(rulebook.tasks)}
    while circle := _circle(graph):
        expected = "tasks that are not counted from each other in a circle"
        yield Inconsistency(("tasks", places[circle[0]]), expected, " from ".join(circle))
        graph[circle[0]] = set()


def _circle(graph: dict[str, set[str]]) -> list[str]:
    """Names round one circle, the first again at the end; empty if there is none."""
    known = {name: sorted(others & graph.keys()) for name, others in graph.items()}
    try:
        TopologicalSorter(known).prepare()
    except CycleError as error:
        return list(reversed(error.args[1]))
    return []


def _listed(names: Iterable[str]) -> str:
    return ", ".join(names) or "none"
