"""What the tests of this room share: a small rulebook, a plot's facts, a ward's hours."""

from collections.abc import Mapping
from datetime import UTC, date, datetime

from reminder_service.kinds import Kind, Stage
from reminder_service.rules.derive import derive
from reminder_service.rules.facts import PlotFacts
from reminder_service.rules.loader import load_rulebook
from reminder_service.rules.plan import Plan, SendingHours, SentNotice, Task, WantedNotice
from reminder_service.rules.rulebook import Rulebook
from reminder_service.rules.shipped import shipped_rulebook

RAIN_ON = date(2026, 11, 12)
GERMINATED_ON = date(2026, 11, 21)

HOURS = SendingHours("Africa/Lusaka", 8 * 60, 18 * 60)
"""Two hours ahead of UTC all year."""

HEAD = """
[rulebook]
name = "small"
version = 3
title = "A small rulebook"
crop = "maize"

[settings]
correction_tolerance_days = { days = 2, source = "setting" }
question_late_days = { days = 7, source = "setting" }
question_useful_days = { days = 3, source = "setting" }
stop_days = { days = 90, source = "setting" }

[choices]
dressing = ["cup", "tea"]
"""

THIN = """
[[tasks]]
name = "thin"
title = "Thinning"
words = ["thin"]
importance = 2
opens = { from = "germinated", days = 14 }
due = { from = "germinated", days = 17 }
closes = { from = "germinated", days = 21 }
source = "common practice, no source"
reminders = [
    { stage = "getting-ready", from = "opens", days = -3 },
    { stage = "opens", from = "opens" },
    { stage = "nudge", from = "due" },
    { stage = "last-call", from = "closes", days = -1 },
]
texts.getting-ready = "{name}: get ready by {opens}"
texts.opens = "{name}: thin by {closes}"
texts.nudge = "{name}: thinned?"
texts.last-call = "{name}: last days"
texts.correction = "{name}: now {opens} to {closes}"
"""

SMALL = HEAD + THIN


def task_text(name: str, **keys: str) -> str:
    """One more task for the small rulebook; keys are TOML values and win over the usual ones."""
    usual = {
        "title": f'"{name.capitalize()}"',
        "words": f'["{name}"]',
        "importance": "5",
        "opens": '{ from = "germinated", days = 1 }',
        "due": '{ from = "germinated", days = 2 }',
        "closes": '{ from = "germinated", days = 3 }',
        "source": '"setting"',
    }
    lines = [f"{key} = {value}" for key, value in {**usual, **keys}.items() if value]
    return "\n".join(["", "[[tasks]]", f'name = "{name}"', *lines, ""])


def small(*tasks: str) -> Rulebook:
    return load_rulebook(HEAD + "".join(tasks or (THIN,)))


def plot(
    *,
    done: Mapping[tuple[str, int], date] | None = None,
    choices: Mapping[str, str] | None = None,
    counted: Mapping[Kind, date] | None = None,
    **dates: date,
) -> PlotFacts:
    """Facts of a plot; ``first_rain=…`` and the like are its reported days."""
    known = {Kind(name.replace("_", "-")): on for name, on in dates.items()}
    return PlotFacts(known, done or {}, choices or {}, counted or {})


def maize_plan(facts: PlotFacts) -> Plan:
    return derive(facts, shipped_rulebook())


def task_of(plan: Plan, name: str, number: int = 1) -> Task:
    return next(task for task in plan.tasks if (task.name, task.number) == (name, number))


def rounds_of(plan: Plan, name: str) -> list[Task]:
    return sorted((task for task in plan.tasks if task.name == name), key=lambda t: t.number)


def window(task: Task) -> tuple[date, date, date]:
    return task.opens, task.due, task.closes


def utc(year: int, month: int, day: int, hour: int = 0, minute: int = 0) -> datetime:
    return datetime(year, month, day, hour, minute, tzinfo=UTC)


def sent(notice: WantedNotice) -> SentNotice:
    """A wanted notice once it has gone out on its day."""
    about = notice.about
    return SentNotice(
        notice.key,
        notice.task,
        notice.number,
        notice.stage,
        about.opens if about else notice.on,
        about.due if about else notice.on,
        about.closes if about else notice.on,
        notice.on,
    )


def told(task: Task, stage: Stage, on: date, key: str = "") -> SentNotice:
    """A notice about a task as it stands, sent on a day."""
    key = key or f"{task.name}/{task.number}/{stage}"
    return SentNotice(key, task.name, task.number, stage, task.opens, task.due, task.closes, on)
