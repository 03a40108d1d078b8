"""The demo: the invented scenario on an embedded database, served or printed."""

import io
import tempfile
from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import click

from gateways.console.gateway import ConsoleGateway
from gateways.protocol import Outgoing, Taken
from reminder_service.commands.answers import dumped, json_option
from reminder_service.commands.serving import check_port_free, serve_until_stopped
from reminder_service.records import farmers
from reminder_service.records.engine import reading
from reminder_service.settings import Settings, load_settings
from reminder_service.work.scenario import (
    PlayedText,
    Scenario,
    SettableClock,
    load_scenario,
    play,
    read_scenario,
    with_clock,
)
from reminder_service.work.scenario_rain import let_it_rain
from reminder_service.work.services import Services, make_services, utc_now

PASSWORD = "maize-by-hand-hoe"  # noqa: S105 - the demo's own, printed at its start
DAYS_IN = 30
"""Day of the scenario that a served demo opens on: dressings are due, thinning just closed."""
SEASON_DAYS = 400
"""Days from the first rain after which the scenario has nothing left to send."""


class RecordingConsole(ConsoleGateway):
    """A console gateway that keeps the instant at which each text left, and prints nothing."""

    def __init__(self, clock: SettableClock) -> None:
        super().__init__(out=io.StringIO())
        self.left: list[tuple[datetime, Outgoing]] = []
        self._clock = clock

    def send(self, message: Outgoing) -> Taken:
        """Take the text and note when."""
        before = len(self.sent)
        taken = super().send(message)
        self.left += [(self._clock(), sent) for sent in self.sent[before:]]
        return taken


@click.command("demo")
@click.option("--once", is_flag=True, help="Play the whole season, print it and end.")
@click.option("--load", is_flag=True, help="Load the scenario into the database and end.")
@json_option
def demo(once: bool, load: bool, as_json: bool) -> None:
    """The invented scenario with the console gateway: served, or printed with --once."""
    settings = load_settings(gateway="console")
    if once:
        _print_season(settings, as_json)
        return
    if not load:
        check_port_free(settings)
    services = _opened(settings)
    if not load:
        _tell_where(settings)
        serve_until_stopped(services)


def _opened(settings: Settings) -> Services:
    """The demo's services, with the scenario played up to now if the database is new."""
    services = make_services(settings)
    with reading(services.engine) as c:
        if farmers.wards(c):
            return services
    click.echo("Loading the invented scenario: district, farmers, rain and texts are made up.")
    zone = ZoneInfo(read_scenario().zone)
    first_rain = utc_now().astimezone(zone).date() - timedelta(days=DAYS_IN)
    clock = SettableClock(_season_opening(first_rain, zone))
    quiet = ConsoleGateway(out=io.StringIO())
    past = with_clock(make_services(settings, clock, {"console": quiet}), clock)
    for _ in _played(past, clock, read_scenario(), first_rain, utc_now()):
        pass
    return services


def _played(
    services: Services,
    clock: SettableClock,
    scenario: Scenario,
    first_rain: date,
    until: datetime,
) -> Iterator[PlayedText]:
    load_scenario(services, scenario, first_rain, PASSWORD)
    yesterday = until.astimezone(ZoneInfo(scenario.zone)).date() - timedelta(days=1)
    let_it_rain(services, scenario, first_rain, yesterday)
    yield from play(services, clock, scenario, first_rain, until)


def _season_opening(first_rain: date, zone: ZoneInfo) -> datetime:
    return datetime.combine(first_rain - timedelta(days=1), time(12), zone).astimezone(UTC)


def _tell_where(settings: Settings) -> None:
    login = read_scenario().people[0].login
    click.echo(f"Pages:    http://{settings.host}:{settings.port}/")
    click.echo(f"Log in:   {login}   password: {PASSWORD}")
    click.echo("Texts out are printed below. Type one in as   +447700900001: NEXT")
    click.echo("Stop with Ctrl-C.")


def _print_season(settings: Settings, as_json: bool) -> None:
    scenario = read_scenario()
    zone = ZoneInfo(scenario.zone)
    first_rain = date(settings.season_start(utc_now().date()).year, 11, 12)
    clock = SettableClock(_season_opening(first_rain, zone))
    gateway = RecordingConsole(clock)
    until = clock() + timedelta(days=SEASON_DAYS)
    with tempfile.TemporaryDirectory() as folder:
        throw_away = settings.model_copy(
            update={"database_url": f"sqlite:///{Path(folder) / 'demo.sqlite3'}"}
        )
        services = make_services(throw_away, clock, {"console": gateway})
        played = list(_played(services, clock, scenario, first_rain, until))
        services.engine.dispose()
    lines = sorted(
        [(p.at, "in", p.sender, p.body) for p in played]
        + [(at, "out", message.to, message.body) for at, message in gateway.left],
        key=lambda line: (line[0], line[1]),
    )
    if as_json:
        entries = [
            {"at": at, "way": way, "phone": phone, "body": body} for at, way, phone, body in lines
        ]
        click.echo(dumped({"district": scenario.district, "texts": entries}))
        return
    click.echo(f"Invented season in {scenario.district}; first rain {first_rain:%a %d %b %Y}.\n")
    for at, way, phone, body in lines:
        arrow = "->" if way == "out" else "<-"
        one_line = body.replace("\n", " | ")
        local = at.astimezone(zone)
        click.echo(f"{local:%a %d %b %Y %H:%M} {arrow} {phone} {one_line}")
    sent = sum(way == "out" for _, way, _, _ in lines)
    click.echo(f"\n{sent} texts out, {len(lines) - sent} in.")
