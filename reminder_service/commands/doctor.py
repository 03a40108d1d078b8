"""The door that examines a set-up."""

import click

from reminder_service.commands.answers import dumped, json_option
from reminder_service.errors import ReminderError
from reminder_service.log_lines import masked
from reminder_service.work.doctor import examined
from reminder_service.work.doctor_types import Check
from reminder_service.work.services import utc_now


class NotWell(ReminderError):
    """Something keeps reminders from going out, or is unsafe.

    Attributes
    ----------
    names : of the checks that are bad
    """

    def __init__(self, names: list[str]) -> None:
        told = "1 check is" if len(names) == 1 else f"{len(names)} checks are"
        super().__init__(f"{told} bad: {', '.join(names)}; do what stands beside them")
        self.names = names


@click.command("doctor")
@json_option
def doctor(as_json: bool) -> None:
    """Examine settings, database, clock, routes, disk and queue, and say what to do."""
    done = examined(utc_now)
    names = [check.name for check in done if check.state == "bad"]
    if as_json:
        checks = [
            {
                "name": check.name,
                "state": check.state,
                "found": masked(check.found),
                "todo": check.todo,
            }
            for check in done
        ]
        click.echo(dumped({"well": not names, "checks": checks}))
    else:
        click.echo("\n".join(map(_line, done)))
    if names:
        raise NotWell(names)


def _line(check: Check) -> str:
    found = " ".join(masked(check.found).split())
    told = f"{check.state:<4}  {check.name}: {found}"
    return f"{told}\n      -> {check.todo}" if check.todo else told
