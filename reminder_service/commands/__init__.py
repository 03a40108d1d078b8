"""The command line: stable doors that answer people in plain text and programs in JSON."""

import sys

import click

from gateways.errors import GatewayError
from reminder_service.commands.backups import backup, restore
from reminder_service.commands.bench import bench
from reminder_service.commands.calculate import dressing, segments, stand
from reminder_service.commands.demo import demo
from reminder_service.commands.doctor import doctor
from reminder_service.commands.heat import heat
from reminder_service.commands.lists import import_list
from reminder_service.commands.onset import onset
from reminder_service.commands.privacy import erase_person_door, person_data_door
from reminder_service.commands.programme import add_person, queue, serve, text
from reminder_service.commands.reading import read
from reminder_service.commands.rulebooks import calendar, check_rules
from reminder_service.commands.second_factor import end_second_factor
from reminder_service.commands.wordings import check_texts
from reminder_service.errors import ReminderError


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
def reminder_service() -> None:
    """Dated field tasks and text reminders for smallholder maize."""


for command in (
    demo,
    serve,
    add_person,
    end_second_factor,
    calendar,
    read,
    text,
    segments,
    stand,
    dressing,
    heat,
    onset,
    queue,
    import_list,
    check_rules,
    check_texts,
    bench,
    backup,
    restore,
    doctor,
    person_data_door,
    erase_person_door,
):
    reminder_service.add_command(command)


def main(arguments: list[str] | None = None) -> None:
    """Run one command; bad input ends with one line on standard error and exit code 2.

    Parameters
    ----------
    arguments : the command line without the program's name; that of the process if None
    """
    try:
        code = reminder_service.main(arguments, prog_name="reminder-service", standalone_mode=False)
    except click.exceptions.NoArgsIsHelpError as help_text:
        click.echo(help_text.format_message())
        sys.exit(2)
    except click.ClickException as fault:
        _stop(fault.format_message())
    except (ValueError, GatewayError, ReminderError) as fault:
        _stop(str(fault))
    except click.Abort:
        sys.exit(130)
    if code:
        sys.exit(code)


def _stop(message: str) -> None:
    one_line = " ".join(message.split())
    click.echo(f"reminder-service: {one_line}", err=True)
    sys.exit(2)
