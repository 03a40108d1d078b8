"""The sentences that say why: made of the numbers used, for a coordinator to read."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from reminder_service.kinds import Kind
from reminder_service.rules.bounds import DONE
from reminder_service.rules.reasons import CountedDay, Reason
from reminder_service.rules.rulebook import Rulebook

DAY_NAMES = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTH_NAMES = (
    "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"
)  # fmt: skip

FACT_NOUNS = {
    "first-rain": "the first rain",
    "planted": "planting",
    "germinated": "germination",
    "tasselled": "tasselling",
    "harvested": "harvest",
}

DAY_NOUNS = {
    "opens": "the opening of {}",
    "due": "the due day of {}",
    "closes": "the closing of {}",
    DONE: "the finishing of {}",
}

OWN_NOUNS = {"opens": "its opening", "due": "its due day", "closes": "its closing"}


@dataclass(frozen=True, slots=True)
class WindowReasons:
    """Why one round of a task has its three days.

    Attributes
    ----------
    task : its name
    opens, due, closes : as the rulebook counts them
    due_on : local day it is due after all, inside the window
    last : the last day allowed, where that cut the window short
    """

    task: str
    opens: Reason
    due: Reason
    closes: Reason
    due_on: date
    last: Reason | None


@lru_cache(maxsize=8192)
def day_words(on: date) -> str:
    """Local day with weekday and year.

    Parameters
    ----------
    on : local day

    Returns
    -------
    for example ``Sat 5 Dec 2026``

    Examples
    --------
    >>> day_words(date(2026, 12, 5))
    'Sat 5 Dec 2026'
    """
    return f"{DAY_NAMES[on.weekday()]} {on.day} {MONTH_NAMES[on.month - 1]} {on.year}"


def window_because(reasons: WindowReasons, rulebook: Rulebook) -> str:
    """Why a task opens, is due and closes when it does.

    Parameters
    ----------
    reasons : of its days
    rulebook : for the tasks' titles

    Returns
    -------
    one sentence
    """
    say = _Speaker(rulebook, reasons.task)
    closes = reasons.last or reasons.closes
    if reasons.opens.on == reasons.due.on == reasons.due_on and reasons.opens == reasons.due:
        parts = [f"Opens and is due {day_words(reasons.opens.on)}, {say.why(reasons.opens)}"]
    else:
        parts = [f"Opens {day_words(reasons.opens.on)}, {say.why(reasons.opens)}"]
        parts.append(_due_part(reasons, say))
    cut = "the last day allowed, " if reasons.last is not None else ""
    parts.append(f"closes {day_words(closes.on)}, {cut}{say.why(closes)}")
    return "; ".join(parts) + "."


def _due_part(reasons: WindowReasons, say: "_Speaker") -> str:
    why = say.why(reasons.due)
    if reasons.due_on == reasons.due.on:
        return f"due {day_words(reasons.due_on)}, {why}"
    end = "opening" if reasons.due_on > reasons.due.on else "closing"
    instead = f"its {end} day, instead of {day_words(reasons.due.on)}"
    return f"due {day_words(reasons.due_on)}, {instead}, {why}"


def crossed_because(reasons: WindowReasons, rulebook: Rulebook) -> str:
    """Why a task has no window: it would close before it opens.

    Parameters
    ----------
    reasons : of its days
    rulebook : for the tasks' titles

    Returns
    -------
    one sentence
    """
    say = _Speaker(rulebook, reasons.task)
    closes = reasons.last or reasons.closes
    opens = f"it would open {day_words(reasons.opens.on)}, {say.why(reasons.opens)}"
    cut = "the last day allowed, " if reasons.last is not None else ""
    shut = f"close {day_words(closes.on)}, {cut}{say.why(closes)}"
    title = rulebook.by_name[reasons.task].title
    return f"{title} has no window: {opens}, but {shut}."


def too_late_because(task: str, due: Reason, last: Reason, rulebook: Rulebook) -> str:
    """Why a repeated task has no round at all.

    Parameters
    ----------
    task : its name
    due, last : its first due day, and the last day allowed
    rulebook : for the tasks' titles

    Returns
    -------
    one sentence
    """
    say = _Speaker(rulebook, task)
    title = rulebook.by_name[task].title
    first = f"it would first be due {day_words(due.on)}, {say.why(due)}"
    end = f"{day_words(last.on)}, {say.why(last)}"
    return f"{title} has no round: {first}, after the last day allowed, {end}."


def missing_because(title: str, starts: Sequence[str], rulebook: Rulebook) -> str:
    """Why a task has no window: what it is counted from is not known.

    Parameters
    ----------
    title : of the task
    starts : what is missing: facts, ``task.done``, or tasks without a window
    rulebook : for the tasks' titles

    Returns
    -------
    one sentence
    """
    facts = [FACT_NOUNS[start] for start in starts if start in FACT_NOUNS]
    if facts:
        verb = "is" if len(facts) == 1 else "are"
        noun = _joined(facts)
        return (
            f"{title} is counted from {noun}, which {verb} neither reported nor estimated: "
            f"report the day of {noun}."
        )
    waits = [start for start in starts if start.endswith(f".{DONE}")]
    if waits:
        names = _joined([_noun(rulebook, start.removesuffix(f".{DONE}")) for start in waits])
        return f"{title} waits until {names} is reported done."
    names = _joined([_noun(rulebook, start.partition(".")[0]) for start in starts])
    verb = "has" if len(starts) == 1 else "have"
    return f"{title} is counted from {names}, which {verb} no window on this plot."


def replanted_because(because: str, on: date) -> str:
    """The reason of a task or an estimate of a stand that was replanted.

    Parameters
    ----------
    because : its own reason, one sentence
    on : local day of replanting

    Returns
    -------
    two sentences
    """
    return f"{because} All is counted anew since replanting on {day_words(on)}."


def lost_because(because: str, on: date) -> str:
    """The reason of a task whose stand was lost.

    Parameters
    ----------
    because : its own reason, one sentence
    on : local day on which the loss was reported

    Returns
    -------
    two sentences
    """
    return f"{because} It waits for replanting: the stand was reported lost on {day_words(on)}."


def estimate_because(
    fact: Kind, days: Sequence[date], start: Kind, since: date, likely: int, reported: bool
) -> str:
    """Why a fact nobody reported is taken to be on its day.

    Parameters
    ----------
    fact : what is estimated
    days : earliest, likely and latest local day
    start, since : what it is counted from, and that local day
    likely : days from there to the likely day
    reported : whether that was reported, else it is an estimate itself

    Returns
    -------
    one sentence
    """
    basis = "reported" if reported else "estimated"
    counted = f"{_distance(likely, FACT_NOUNS[start])} on {day_words(since)} ({basis})"
    return f"{_taken_to_be(fact, days)}: {counted}."


def heat_because(
    fact: Kind, days: Sequence[date], start: Kind, since: date, degree_days: float, reported: bool
) -> str:
    """Why a fact nobody reported is taken to be on its day, where warmth decides.

    Parameters
    ----------
    fact : what is estimated
    days : earliest, likely and latest local day
    start, since : what it is counted from, and that local day
    degree_days : from there to the likely day, °C d
    reported : whether that was reported, else it is an estimate itself

    Returns
    -------
    one sentence
    """
    basis = "reported" if reported else "estimated"
    return (
        f"{_taken_to_be(fact, days)}: {degree_days:.0f} degree days after {FACT_NOUNS[start]} on "
        f"{day_words(since)} ({basis}), by the usual temperatures of the ward."
    )


def _taken_to_be(fact: Kind, days: Sequence[date]) -> str:
    earliest, on, latest = map(day_words, days)
    noun = FACT_NOUNS[fact]
    return f"{noun[:1].upper()}{noun[1:]} is taken to be {on}, between {earliest} and {latest}"


class _Speaker:
    """Names each anchor in full once; after that in short, or ``it`` while it is the only one."""

    def __init__(self, rulebook: Rulebook, task: str) -> None:
        self.rulebook = rulebook
        self.task = task
        self.named: set[tuple[str, int]] = set()

    def why(self, reason: Reason) -> str:
        """Say what one day was counted from."""
        if isinstance(reason, CountedDay):
            return self._counted(reason, inside=False)
        return self._chosen(reason.latest, reason.members)

    def _chosen(self, latest: bool, members: Sequence[Reason]) -> str:
        two = ("the later of", "the earlier of")
        more = ("the latest of", "the earliest of")
        word = (two if len(members) == 2 else more)[0 if latest else 1]
        return f"{word} {_joined([self._member(member) for member in members])}"

    def _member(self, reason: Reason) -> str:
        if isinstance(reason, CountedDay):
            return self._counted(reason, inside=True)
        return self._chosen(reason.latest, reason.members)

    def _counted(self, day: CountedDay, inside: bool) -> str:
        key = (day.start, day.number)
        only, known = self.named <= {key}, key in self.named
        self.named.add(key)
        noun = self._noun(day)
        if known:
            if only and not inside and day.days:
                noun = "it"
            return f"{_distance(day.days, noun, inside)}"
        if day.days or inside:
            return f"{_distance(day.days, noun, inside)} on {day_words(day.since)}{_basis(day)}"
        return f"{_distance(0, noun)}{_basis(day)}"

    def _noun(self, day: CountedDay) -> str:
        name, _, field = day.start.partition(".")
        if name == self.task:
            return OWN_NOUNS[field]
        return _noun(self.rulebook, day.start, day.number)


def _basis(day: CountedDay) -> str:
    if day.start in FACT_NOUNS:
        return " (estimated)" if day.estimated else " (reported)"
    return " (estimated)" if day.estimated else ""


def _distance(days: int, noun: str, inside: bool = False) -> str:
    """Words for so many days from something; inside a list the day itself needs none."""
    if days == 0:
        return noun if inside or noun not in FACT_NOUNS.values() else f"the day of {noun}"
    count = f"{abs(days)} day{'' if abs(days) == 1 else 's'}"
    return f"{count} {'after' if days > 0 else 'before'} {noun}"


def _noun(rulebook: Rulebook, start: str, number: int = 1) -> str:
    """Name of an anchor inside a sentence."""
    if start in FACT_NOUNS:
        return FACT_NOUNS[start]
    name, _, field = start.partition(".")
    rule = rulebook.by_name[name]
    title = rule.title[:1].lower() + rule.title[1:]
    if not field:
        return title
    if rule.repeat is not None:
        title = f"round {number} of {title}"
    return DAY_NOUNS[field].format(title)


def _joined(parts: Sequence[str]) -> str:
    if len(parts) < 3:
        return " and ".join(parts)
    return f"{', '.join(parts[:-1])} and {parts[-1]}"
