"""The plan of one plot: facts and a rulebook give its dated tasks."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import partial

from reminder_service.kinds import Basis, Kind
from reminder_service.rules.because import (
    WindowReasons,
    crossed_because,
    lost_because,
    missing_because,
    replanted_because,
    too_late_because,
    window_because,
)
from reminder_service.rules.bounds import DONE, Bound
from reminder_service.rules.estimates import estimated_dates
from reminder_service.rules.facts import PlotFacts
from reminder_service.rules.plan import Estimate, LeftOut, Plan, Task
from reminder_service.rules.reasons import (
    Anchor,
    Missing,
    Reason,
    decider,
    reason_of,
    shifted,
)
from reminder_service.rules.rulebook import Repeat, Rulebook, TaskRule

MOST_ROUNDS = 100
"""A task has no more rounds than this, however far off its last day lies (setting)."""


@dataclass(frozen=True, slots=True)
class _Season:
    """What is known so far, while one plot's tasks are worked out each after those it leans on.

    ``anchors`` holds every known day by name and round, ``rounds`` the rounds of each task that
    has a window, ``gaps`` what is missing for each task that has none.
    """

    facts: PlotFacts
    rulebook: Rulebook
    anchors: dict[tuple[str, int], Anchor]
    rounds: dict[str, tuple[int, ...]] = field(default_factory=dict)
    gaps: dict[str, tuple[str, ...]] = field(default_factory=dict)
    tasks: list[Task] = field(default_factory=list)
    left_out: list[LeftOut] = field(default_factory=list)


def derive(facts: PlotFacts, rulebook: Rulebook) -> Plan:
    """Dated tasks of one plot. The same facts and rulebook always give the same plan.

    A task that the plot's choices rule out is not mentioned; one that cannot have a window is
    left out with the reason. The due day is moved into the window. Other tasks count from the
    days as they are planned; a task's own days count from each other as the rulebook has them.

    Parameters
    ----------
    facts : what is known of the plot's season
    rulebook : the programme's

    Returns
    -------
    the plan

    Raises
    ------
    UnknownChoice
        A choice of the plot has a value that the rulebook does not know.

    References
    ----------
    The rulebook names the source of every number.
    """
    choices = rulebook.chosen(facts.choices)
    estimates = estimated_dates(facts, rulebook)
    season = _Season(facts, rulebook, _known_days(facts, estimates))
    ruled_out: set[str] = set()
    for rule in rulebook.order:
        chosen = all(choices[name] in values for name, values in rule.only_with.items())
        if chosen and rule.for_each not in ruled_out:
            _add_task(season, rule)
        else:
            ruled_out.add(rule.name)
            season.gaps[rule.name] = (rule.name,)
    season.tasks.sort(key=lambda task: (task.due, task.name, task.number))
    season.left_out.sort(key=lambda left: (left.name, left.number))
    plan = Plan(rulebook.label, tuple(season.tasks), estimates, tuple(season.left_out))
    plan = _anew(plan, facts.replanted) if facts.replanted else plan
    return plan if facts.lost_on is None else _waiting(plan, rulebook, facts.lost_on)


def _waiting(plan: Plan, rulebook: Rulebook, lost_on: date) -> Plan:
    """The plan of a lost stand: what is about the stand waits, and nobody is asked about it."""
    tasks = (
        replace(task, waits=True, because=lost_because(task.because, lost_on))
        if task.done_on is None and task.name in rulebook.about_the_stand
        else task
        for task in plan.tasks
    )
    estimates = {fact: replace(each, question="") for fact, each in plan.estimates.items()}
    return replace(plan, tasks=tuple(tasks), estimates=estimates, lost_on=lost_on)


def _anew(plan: Plan, replanted: Sequence[date]) -> Plan:
    """The plan of a stand that was replanted, each reason saying so."""
    because = partial(replanted_because, on=replanted[-1])
    tasks = (replace(task, because=because(task.because)) for task in plan.tasks)
    estimates = {
        fact: replace(estimate, because=because(estimate.because))
        for fact, estimate in plan.estimates.items()
    }
    return replace(plan, tasks=tuple(tasks), estimates=estimates, replantings=len(replanted))


def _known_days(
    facts: PlotFacts, estimates: Mapping[Kind, Estimate]
) -> dict[tuple[str, int], Anchor]:
    known = {(kind.value, 1): Anchor(on, False) for kind, on in facts.dates.items()}
    known |= {(kind.value, 1): Anchor(each.on, True) for kind, each in estimates.items()}
    known |= {(f"{name}.{DONE}", n): Anchor(on, False) for (name, n), on in facts.done.items()}
    return known


def _add_task(season: _Season, rule: TaskRule) -> None:
    """Add all rounds of one task, or why it has none."""
    if rule.for_each is not None and rule.for_each not in season.rounds:
        return _leave_out(season, rule, season.gaps[rule.for_each])
    numbers = season.rounds[rule.for_each] if rule.for_each is not None else (1,)
    for number in numbers:
        days = _own_days(season, rule, number)
        if isinstance(days, Missing):
            return _leave_out(season, rule, days.starts)
        if rule.repeat is None:
            _add_round(season, rule, number, days, None)
        else:
            _add_repeated(season, rule, rule.repeat, days)
    return None


def _leave_out(season: _Season, rule: TaskRule, starts: tuple[str, ...]) -> None:
    season.gaps[rule.name] = starts
    because = missing_because(rule.title, starts, season.rulebook)
    season.left_out.append(LeftOut(rule.name, 1, because))


def _own_days(season: _Season, rule: TaskRule, number: int) -> dict[str, Reason] | Missing:
    """Opens, due and closes as the rulebook counts them, or what is missing for them."""
    days: dict[str, Reason] = {}
    missing: list[str] = []
    for name in rule.own_order:
        reason = _reason(season, rule, rule.bounds[name], number)
        if isinstance(reason, Missing):
            missing += reason.starts
        else:
            days[name] = reason
            own = Anchor(reason.on, reason.estimated)
            season.anchors[f"{rule.name}.{name}", number] = own
    if missing:
        for name in days:
            del season.anchors[f"{rule.name}.{name}", number]
        own_names = {f"{rule.name}.{name}" for name in rule.own_order}
        return Missing(tuple(dict.fromkeys(start for start in missing if start not in own_names)))
    return days


def _reason(season: _Season, rule: TaskRule, bound: Bound, number: int) -> Reason | Missing:
    """Day of one bound; where a task it counts from has a gap, what is missing for that task."""

    def anchor_of(start: str) -> tuple[Anchor | None, int]:
        """The day that a bound counts from, if it is known, and its round."""
        name = start.partition(".")[0]
        round_number = number if name in (rule.name, rule.for_each) else 1
        return season.anchors.get((start, round_number)), round_number

    reason = reason_of(bound, anchor_of, season.rulebook.setting_days)
    if not isinstance(reason, Missing):
        return reason
    causes: list[str] = []
    for start in reason.starts:
        name, _, day = start.partition(".")
        causes += (start,) if day == DONE else season.gaps.get(name, (start,))
    return Missing(tuple(causes))


def _add_repeated(
    season: _Season, rule: TaskRule, repeat: Repeat, first: Mapping[str, Reason]
) -> None:
    """Add the rounds of a repeated task, until its count or its last day allowed."""
    if repeat.until is None:
        return _add_rounds(season, rule, repeat, first, None)
    last = _reason(season, rule, repeat.until, 1)
    if isinstance(last, Missing):
        return _leave_out(season, rule, last.starts)
    if first["due"].on > last.on:
        season.gaps[rule.name] = (rule.name,)
        because = too_late_because(rule.name, first["due"], last, season.rulebook)
        season.left_out.append(LeftOut(rule.name, 1, because))
        return None
    return _add_rounds(season, rule, repeat, first, last)


def _add_rounds(
    season: _Season,
    rule: TaskRule,
    repeat: Repeat,
    first: Mapping[str, Reason],
    last: Reason | None,
) -> None:
    for index in range(repeat.count or MOST_ROUNDS):
        days = {name: shifted(day, index * repeat.every_days) for name, day in first.items()}
        if last is not None and days["due"].on > last.on:
            break
        _add_round(season, rule, index + 1, days, last)


def _add_round(
    season: _Season, rule: TaskRule, number: int, days: Mapping[str, Reason], until: Reason | None
) -> None:
    """Add one round whose days are known, or why its window is crossed."""
    last = until if until is not None and until.on < days["closes"].on else None
    opens, due, closes = days["opens"], days["due"], last or days["closes"]
    due_on = min(max(due.on, opens.on), closes.on)
    reasons = WindowReasons(rule.name, opens, due, days["closes"], due_on, last)
    if closes.on < opens.on:
        because = crossed_because(reasons, season.rulebook)
        season.left_out.append(LeftOut(rule.name, number, because))
        season.gaps.setdefault(rule.name, (rule.name,))
        for name in days:
            season.anchors.pop((f"{rule.name}.{name}", number), None)
        return
    # A due day that was moved to an end of the window leans on what that end leans on.
    due_estimated = (
        due.estimated
        or (due_on == opens.on != due.on and opens.estimated)
        or (due_on == closes.on != due.on and closes.estimated)
    )
    leans = (("opens", opens.estimated), ("due", due_estimated), ("closes", closes.estimated))
    estimated = frozenset(name for name, on_estimate in leans if on_estimate)
    for name, on in (("opens", opens.on), ("due", due_on), ("closes", closes.on)):
        season.anchors[f"{rule.name}.{name}", number] = Anchor(on, name in estimated)
    season.rounds[rule.name] = (*season.rounds.get(rule.name, ()), number)
    season.tasks.append(
        Task(
            rule.name,
            number,
            opens.on,
            due_on,
            closes.on,
            Basis.ESTIMATED if estimated & {"opens", "due"} else Basis.REPORTED,
            estimated,
            window_because(reasons, season.rulebook),
            rule.importance,
            _done_on(season.facts, rule, number, opens.on),
            decider(opens),
        )
    )


def _done_on(facts: PlotFacts, rule: TaskRule, number: int, opens_on: date) -> date | None:
    """Day a round was reported done, or a report that settles it came in its window or later."""
    done = facts.done.get((rule.name, number))
    if done is not None or rule.answered_by is None:
        return done
    counted = facts.counted.get(Kind(rule.answered_by))
    return counted if counted is not None and counted >= opens_on else None
