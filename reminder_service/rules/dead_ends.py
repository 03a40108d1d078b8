"""Tasks of a rulebook that no plot can ever have: windows that cannot open, anchors out of reach.

What is said here holds whatever is reported. Facts are taken to happen in their order, so that a
day counted from germination is never before the same count from planting.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from reminder_service.rules.bounds import (
    DONE,
    FACTS,
    Bound,
    Counted,
    EarlierOf,
    LaterOf,
    Place,
    leaves,
)
from reminder_service.rules.consistency import Inconsistency
from reminder_service.rules.rulebook import Rulebook, TaskRule

Limits = Mapping[str, int]
"""Days from each anchor that a day is surely not before, or not after."""


@dataclass(frozen=True, slots=True)
class _Book:
    """A rulebook, and the tasks on the way to the one that is looked at, so that circles end."""

    rulebook: Rulebook
    on_the_way: frozenset[str] = frozenset()

    def other(self, rule: TaskRule, name: str) -> TaskRule | None:
        """Another task that can be looked into; None for one that is not there or on the way."""
        if name == rule.name or name in self.on_the_way:
            return None
        return self.rulebook.by_name.get(name)

    def beyond(self, rule: TaskRule) -> "_Book":
        return _Book(self.rulebook, self.on_the_way | {rule.name})

    def days(self, leaf: Counted) -> int:
        found = leaf.days
        return found if isinstance(found, int) else self.rulebook.setting_days.get(found, 0)


def dead_ends(rulebook: Rulebook) -> Iterator[Inconsistency]:
    """Faults of tasks that can never be planned.

    Parameters
    ----------
    rulebook : whose shape is right; names that lead nowhere are passed over

    Yields
    ------
    faults, in no order
    """
    waits_for = {task.name: _waits_for(task) for task in rulebook.tasks}
    for index, task in enumerate(rulebook.tasks):
        at: Place = ("tasks", index)
        yield from _unreached(rulebook, task, at, waits_for)
        yield from _never_open(_Book(rulebook), task, at)


def _never_open(book: _Book, rule: TaskRule, at: Place) -> Iterator[Inconsistency]:
    """A window that closes before it opens, or a first round after the last day allowed."""
    opens = _not_before(book, rule, rule.opens)
    clash = _clash(opens, _not_after(book, rule, rule.closes))
    if clash is not None:
        expected = "a day that can come after the opening: no plot could ever have this window"
        yield Inconsistency((*at, "closes"), expected, clash)
    if rule.repeat is None or rule.repeat.until is None:
        return
    clash = _clash(_not_before(book, rule, rule.due), _not_after(book, rule, rule.repeat.until))
    if clash is not None:
        expected = "a last day that can come after the first round is due"
        yield Inconsistency((*at, "repeat", "until"), expected, clash)


def _clash(from_on: Limits, up_to: Limits) -> str | None:
    """Why a day that is not before some counts can never be one that is not after others."""
    for start, days in from_on.items():
        for end, last in up_to.items():
            if last < days and _is_not_earlier(start, end):
                return f"{last} days from {end}, while it opens {days} days from {start} or later"
    return None


def _is_not_earlier(start: str, end: str) -> bool:
    """Whether one anchor never comes before another: the same one, or a later fact."""
    if start == end:
        return True
    return start in FACTS and end in FACTS and FACTS.index(start) > FACTS.index(end)


def _not_before(book: _Book, rule: TaskRule, bound: Bound) -> dict[str, int]:
    """Counts that a bound's day is surely not before."""
    match bound:
        case Counted():
            return _counted(book, rule, bound, latest=False)
        case LaterOf():
            return _any_of(book, rule, bound, latest=False)
        case EarlierOf():
            return _all_of(book, rule, bound, latest=False)


def _not_after(book: _Book, rule: TaskRule, bound: Bound) -> dict[str, int]:
    """Counts that a bound's day is surely not after."""
    match bound:
        case Counted():
            return _counted(book, rule, bound, latest=True)
        case EarlierOf():
            return _any_of(book, rule, bound, latest=True)
        case LaterOf():
            return _all_of(book, rule, bound, latest=True)


def _limits(book: _Book, rule: TaskRule, bound: Bound, latest: bool) -> dict[str, int]:
    return _not_after(book, rule, bound) if latest else _not_before(book, rule, bound)


def _any_of(
    book: _Book, rule: TaskRule, bound: LaterOf | EarlierOf, latest: bool
) -> dict[str, int]:
    """Limits of each member hold; one that may be unknown has none."""
    found: dict[str, int] = {}
    for member in bound.members:
        if isinstance(member, Counted) and member.if_known:
            continue
        for start, days in _limits(book, rule, member, latest).items():
            tightest = min if latest else max
            found[start] = tightest(days, found.get(start, days))
    return found


def _all_of(
    book: _Book, rule: TaskRule, bound: LaterOf | EarlierOf, latest: bool
) -> dict[str, int]:
    """Only limits that every member has hold, the loosest of them."""
    members = [_limits(book, rule, member, latest) for member in bound.members]
    loosest = max if latest else min
    starts = set.intersection(*(set(each) for each in members))
    return {start: loosest(each[start] for each in members) for start in starts}


def _counted(book: _Book, rule: TaskRule, leaf: Counted, latest: bool) -> dict[str, int]:
    """Limits of a counted day: its own count, and what its anchor is limited by."""
    days = book.days(leaf)
    found = {leaf.start: days}
    name, dot, field = leaf.start.partition(".")
    if not dot or field == DONE:
        return found
    if name == rule.name:  # own days count from each other as they stand, before they are moved
        inside = book if leaf.start not in book.on_the_way else None
        bound = rule.bounds[field]
        deeper = _Book(book.rulebook, book.on_the_way | {leaf.start})
        further = {} if inside is None else _limits(deeper, rule, bound, latest)
    else:
        other = book.other(rule, name)
        if other is None or other.repeat is not None or other.for_each is not None:
            return found
        # Another task's due day is moved into its window, so the ends of that limit it.
        end = "closes" if latest else "opens"
        bound = other.bounds[end if field == "due" else field]
        further = _limits(book.beyond(rule), other, bound, latest)
    for start, more in further.items():
        found.setdefault(start, more + days)
    return found


def _waits_for(rule: TaskRule) -> frozenset[str]:
    """Other tasks that must be done, or have a window, before a task can have one."""
    names = {rule.for_each} if rule.for_each is not None else set[str]()
    for field in ("opens", "due", "closes"):
        names |= _needed(rule.bounds[field])
    return frozenset(names - {rule.name})


def _needed(bound: Bound) -> set[str]:
    """Tasks whose days a bound cannot do without."""
    if not isinstance(bound, Counted):
        certain = [m for m in bound.members if not (isinstance(m, Counted) and m.if_known)]
        return set().union(*(_needed(member) for member in certain))
    name, dot, _ = bound.start.partition(".")
    return {name} if dot else set()


def _unreached(
    rulebook: Rulebook, rule: TaskRule, at: Place, waits_for: Mapping[str, frozenset[str]]
) -> Iterator[Inconsistency]:
    """Anchors that a task waits for and that can never be known where the task is chosen."""
    for field in ("opens", "due", "closes"):
        for place, leaf in leaves(rule.bounds[field], (*at, field)):
            name, dot, day = leaf.start.partition(".")
            other = rulebook.by_name.get(name) if dot else None
            if other is None or other is rule or name not in waits_for[rule.name]:
                continue
            place = (*place, "from")
            if not _chosen_together(rulebook, rule, other, waits_for):
                expected = "a day of a task that a plot can have beside this one"
                yield Inconsistency(place, expected, repr(leaf.start))
            elif day == DONE and rule.name in _all_before(name, waits_for):
                expected = "a day of a task that does not wait for this one"
                yield Inconsistency(place, expected, repr(leaf.start))


def _chosen_together(
    rulebook: Rulebook, rule: TaskRule, other: TaskRule, waits_for: Mapping[str, frozenset[str]]
) -> bool:
    """Whether the choices of a plot allow a task together with another and all it waits for."""
    needed = {other.name, *_all_before(other.name, waits_for)} & rulebook.by_name.keys()
    allowed: dict[str, set[str]] = {}
    for task in (rule, *(rulebook.by_name[name] for name in sorted(needed))):
        for choice, values in task.only_with.items():
            known = allowed.setdefault(choice, set(values))
            known &= set(values)
    return all(allowed.values())


def _all_before(name: str, waits_for: Mapping[str, frozenset[str]]) -> set[str]:
    """Every task that one waits for, also by way of others."""
    found: set[str] = set()
    ahead = [name]
    while ahead:
        for each in waits_for.get(ahead.pop(), frozenset()) - found:
            found.add(each)
            ahead.append(each)
    return found
