"""Doors of the rules engine: calendar and check-rules."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Annotated

import click
from pydantic import AliasChoices, BeforeValidator, Field

from reminder_service.commands.answers import (
    BadInput,
    Door,
    Request,
    Value,
    dumped,
    json_option,
    lines_option,
)
from reminder_service.kinds import DATED_FACTS, Kind
from reminder_service.rules.derive import derive
from reminder_service.rules.errors import RulebookError, RulebookFault
from reminder_service.rules.facts import PlotFacts
from reminder_service.rules.loader import load_rulebook
from reminder_service.rules.plan import Plan, Task
from reminder_service.rules.rulebook import Rulebook
from reminder_service.work.fitting import texts_that_do_not_fit
from reminder_service.work.services import rulebook_named

FACT_NAMES = ", ".join(kind.value for kind in DATED_FACTS)

SAMPLE_PLOT = PlotFacts(
    {Kind.FIRST_RAIN: date(2026, 11, 12), Kind.GERMINATED: date(2026, 11, 21)}, {}, {}
)
"""An invented plot that shows what a rulebook comes to."""


def _named(given: object) -> object:
    """Facts given as ``NAME=DATE`` pairs, by name; anything else is left for the type to check."""
    return _pairs(given) if isinstance(given, list | tuple) else given


def _pairs(given: Sequence[object]) -> dict[str, str]:
    pairs = {}
    for pair in given:
        name, sign, on = str(pair).partition("=")
        if not sign:
            raise BadInput("fact", pair, "NAME=DATE, for example germinated=2026-11-21")
        pairs[name] = on
    return pairs


class CalendarRequest(Request):
    """The facts of a plot and its choices; ``facts`` may also be written ``fact``, as pairs too."""

    facts: Annotated[dict[str, date], BeforeValidator(_named)] = Field(
        default_factory=dict, validation_alias=AliasChoices("facts", "fact")
    )
    top_dressing: str | None = Field(default=None, alias="top-dressing")
    maturity: str | None = None
    rulebook: str = "maize-hand-hoe"


def _plan(asked: CalendarRequest) -> Plan:
    rulebook = rulebook_given(asked.rulebook)
    given = {"top-dressing": asked.top_dressing, "maturity": asked.maturity}
    choices = {name: value for name, value in given.items() if value is not None}
    for name, value in choices.items():
        allowed = rulebook.choices.get(name, ())
        if value not in allowed:
            raise BadInput(name, value, f"one of {', '.join(allowed) or 'no choice here'}")
    return derive(PlotFacts(_facts(asked.facts), {}, choices), rulebook)


def _facts(given: Mapping[str, date]) -> dict[Kind, date]:
    known = {kind.value: kind for kind in DATED_FACTS}
    for name in given:
        if name not in known:
            raise BadInput("fact", name, f"one of {FACT_NAMES}")
    return {known[name]: on for name, on in given.items()}


def rulebook_given(name: str) -> Rulebook:
    """Rulebook that a door was given.

    Raises
    ------
    BadInput
        It is neither shipped nor a file without faults.
    """
    try:
        return rulebook_named(name)
    except RulebookError as faults:
        raise BadInput("rulebook", name, f"a rulebook without faults: {faults}") from faults
    except (OSError, UnicodeDecodeError) as fault:
        raise BadInput("rulebook", name, f"a shipped rulebook or a file ({fault})") from fault


def _plan_value(plan: Plan) -> Value:
    return {
        "rulebook": plan.rulebook,
        "tasks": [_task_value(task) for task in plan.tasks],
        "estimates": [
            {
                "fact": estimate.fact.value,
                "earliest": estimate.earliest,
                "on": estimate.on,
                "latest": estimate.latest,
                "because": estimate.because,
            }
            for estimate in plan.estimates.values()
        ],
        "left_out": [
            {"task": task.name, "number": task.number, "because": task.because}
            for task in plan.left_out
        ],
    }


def _task_value(task: Task) -> dict[str, object]:
    return {
        "task": task.name,
        "number": task.number,
        "opens": task.opens,
        "due": task.due,
        "closes": task.closes,
        "basis": task.basis.value,
        "estimated": sorted(task.estimated),
        "because": task.because,
    }


def _plan_text(plan: Plan) -> str:
    if not plan.tasks:
        return "No task has a date yet: give a fact, for example --fact germinated=2026-11-21"
    lines = [f"{'task':<20}{'opens':<12}{'due':<12}{'closes':<12}basis"]
    for task in plan.tasks:
        name = f"{task.name} {task.number}"
        days = "".join(f"{day.isoformat():<12}" for day in (task.opens, task.due, task.closes))
        lines += [f"{name:<20}{days}{task.basis.value}", f"    {task.because}"]
    lines += [f"{left.name} {left.number}: {left.because}" for left in plan.left_out]
    return "\n".join(lines)


CALENDAR = Door(CalendarRequest, _plan, _plan_value, _plan_text)


@click.command()
@click.option("--fact", "facts", multiple=True, metavar="NAME=DATE", help=f"One of {FACT_NAMES}.")
@click.option("--top-dressing", help="mineral, manure-tea or both.")
@click.option("--maturity", help="Variety class: short, medium or long.")
@click.option("--rulebook", help="A shipped rulebook's name, or a file.")
@lines_option
@json_option
def calendar(facts: tuple[str, ...], lines: bool, as_json: bool, **given: str | None) -> None:
    """Dated tasks of one plot from what is known of it."""
    if lines:
        CALENDAR.run_lines()
    else:
        options = {name.replace("_", "-"): got for name, got in given.items()}
        CALENDAR.run({"facts": facts, **options}, as_json)


@dataclass(frozen=True, slots=True)
class Checked:
    """What checking a rulebook came to: its faults, or the plan of a sample plot."""

    faults: tuple[RulebookFault, ...]
    plan: Plan | None


def checked_rules(file: Path) -> Checked:
    """Check one rulebook file.

    Parameters
    ----------
    file : the rulebook

    Returns
    -------
    all its faults, or the tasks of a sample plot

    Raises
    ------
    BadInput
        The file cannot be read as text.
    """
    try:
        text = file.read_text("utf-8")
        rulebook = load_rulebook(text)
    except RulebookError as error:
        return Checked(tuple(error.faults), None)
    except (OSError, UnicodeDecodeError) as fault:
        raise BadInput("file", str(file), f"a rulebook file ({fault})") from fault
    too_long = texts_that_do_not_fit(rulebook, text)
    if too_long:
        return Checked(tuple(too_long), None)
    return Checked((), derive(SAMPLE_PLOT, rulebook))


def _checked_value(checked: Checked) -> Value:
    if checked.plan is not None:
        return {"errors": [], **_plan_value(checked.plan)}
    return {
        "errors": [
            {"line": f.line, "path": f.path, "expected": f.expected, "got": f.got}
            for f in checked.faults
        ]
    }


def _checked_text(checked: Checked) -> str:
    if checked.plan is not None:
        return "No faults. A sample plot (first rain 12 Nov 2026, germinated 21 Nov 2026):\n" + (
            _plan_text(checked.plan)
        )
    count = len(checked.faults)
    head = f"{count} fault{'' if count == 1 else 's'}:"
    return "\n".join(
        [head]
        + [f"line {f.line}: {f.path}: expected {f.expected}, got {f.got}" for f in checked.faults]
    )


@click.command("check-rules")
@click.argument("file", type=click.Path(path_type=Path))
@json_option
@click.pass_context
def check_rules(context: click.Context, file: Path, as_json: bool) -> None:
    """All faults of a rulebook with line and path, or the tasks of a sample plot."""
    checked = checked_rules(file)
    click.echo(dumped(_checked_value(checked)) if as_json else _checked_text(checked))
    if checked.faults:
        context.exit(2)
