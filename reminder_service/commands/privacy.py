"""Doors of whoever answers for people's data: hand it out, erase it."""

import json
from dataclasses import asdict

import click

from reminder_service.commands.answers import BadInput, dumped, json_option
from reminder_service.kinds import PhoneNumber
from reminder_service.settings import load_settings
from reminder_service.work.privacy import erase_person, person_data
from reminder_service.work.receive import e164
from reminder_service.work.services import Services, make_services

WHO = "command"
"""Who stands on the audit log: whoever may run commands on this machine."""

number_argument = click.argument("number")
farmer_option = click.option("--farmer", type=int, help="Which farmer, if several share the phone.")


def _opened(number: str) -> tuple[Services, PhoneNumber]:
    settings = load_settings()
    known = e164(number, settings.default_region)
    if known is None:
        raise BadInput("number", number, "a phone number such as +447700900001")
    return make_services(settings), known


@click.command("person-data")
@number_argument
@farmer_option
@json_option
def person_data_door(number: str, farmer: int | None, as_json: bool) -> None:
    """Everything that is held about whoever has a NUMBER, by table."""
    services, known = _opened(number)
    found = person_data(services, known, WHO, farmer)
    if as_json:
        click.echo(dumped({"number": known, "tables": found}))
        return
    for table, rows in found.items():
        click.echo(f"{table}: {len(rows)}")
        for row in rows:
            click.echo(f"  {json.dumps(row, ensure_ascii=False)}")


@click.command("erase-person")
@number_argument
@farmer_option
@click.option("--yes", is_flag=True, help="Do not ask again.")
@json_option
def erase_person_door(number: str, farmer: int | None, yes: bool, as_json: bool) -> None:
    """Erase name, number and texts of whoever has a NUMBER; only the counts stay."""
    services, known = _opened(number)
    if not yes:
        click.confirm("This cannot be taken back. Erase?", abort=True, err=True)
    done = erase_person(services, known, WHO, farmer)
    text = (
        f"Erased. {done.texts} texts and {done.notices} notices are emptied, {done.withdrawn} of "
        f"them withdrawn, {done.wiped} other rows wiped. Backups made before still hold them."
    )
    click.echo(dumped(asdict(done)) if as_json else text)
