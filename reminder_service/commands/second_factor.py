"""Door for a person who has lost phone and recovery codes."""

import click

from reminder_service.commands.answers import BadInput
from reminder_service.records import people
from reminder_service.records.engine import reading
from reminder_service.settings import load_settings
from reminder_service.work.second_factor import end
from reminder_service.work.services import make_services


@click.command("end-second-factor")
@click.argument("login")
def end_second_factor(login: str) -> None:
    """Let somebody log in without one-time codes; first make sure that it is they who ask."""
    services = make_services(load_settings())
    with reading(services.engine) as c:
        person = people.person_by_login(c, login)
    if person is None:
        raise BadInput("login", login, "the login of somebody who was added")
    if end(services, person.id, "command line"):
        click.echo(f"{login} logs in without codes now.")
    else:
        click.echo(f"{login} logs in without codes as it is.")
