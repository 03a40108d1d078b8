"""The invented scenario: loaded into a database and played under a clock that can be set.

All of it is made up; it serves the demo and nothing else.
"""

import re
import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from importlib.resources import files
from zoneinfo import ZoneInfo

from argon2 import PasswordHasher
from pydantic import BaseModel, ConfigDict, Field
from sqlalchemy import Connection

from gateways.protocol import Incoming
from reminder_service.kinds import PhoneNumber
from reminder_service.records import farmers, people, queue
from reminder_service.records.engine import reading, writing
from reminder_service.records.tables import Role
from reminder_service.work.dispatch import dispatch_due, sweep
from reminder_service.work.receive import Received, receive
from reminder_service.work.replan import replan
from reminder_service.work.services import Services


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class ScenarioPerson(_Part):
    """Somebody who logs in."""

    login: str
    name: str
    role: Role


class ScenarioWard(_Part):
    """One ward, with days of its rain; they count from the first rain, like those of texts.

    Attributes
    ----------
    onset : first of the days of the planting rain
    false_start : first of two days of rain after which it stays dry
    dry : first and last day of dry spells after the onset
    """

    name: str
    onset: int = 0
    false_start: int | None = None
    dry: tuple[tuple[int, int], ...] = ()


class ScenarioPlot(_Part):
    """One plot with its planting stations and choices."""

    number: str
    stations: int = Field(gt=0)
    stations_per_ha: int = Field(default=22_222, gt=0)
    choices: dict[str, str]


class ScenarioFarmer(_Part):
    """One farmer with a phone, perhaps shared, and plots."""

    name: str
    ward: str
    phone: str
    plots: tuple[ScenarioPlot, ...]


class ScenarioText(_Part):
    """One text: ``day`` counts from the first rain, ``at`` is local time."""

    day: int
    at: str
    sender: str = Field(alias="from")
    text: str


class Scenario(_Part):
    """A whole invented season."""

    district: str
    zone: str
    season_starts: int
    rain_seed: int
    rain_ends: int
    people: tuple[ScenarioPerson, ...]
    wards: tuple[ScenarioWard, ...]
    farmers: tuple[ScenarioFarmer, ...]
    texts: tuple[ScenarioText, ...]


class SettableClock:
    """A clock that only moves when told to.

    Attributes
    ----------
    now : aware UTC instant
    """

    def __init__(self, now: datetime) -> None:
        self.now = now

    def __call__(self) -> datetime:
        """Answer the instant it was last set to."""
        return self.now


@dataclass(frozen=True, slots=True)
class PlayedText:
    """One text of the scenario as it went.

    Attributes
    ----------
    at : aware UTC instant
    sender, body : who wrote what
    received : what became of it
    """

    at: datetime
    sender: str
    body: str
    received: Received


def read_scenario() -> Scenario:
    """The scenario that ships with the tool."""
    text = (files("reminder_service.work") / "scenario.toml").read_text("utf-8")
    return Scenario.model_validate(tomllib.loads(text))


def load_scenario(services: Services, scenario: Scenario, first_rain: date, password: str) -> None:
    """Write the scenario's people, wards, farmers, plots and seasons, and plan each season.

    Parameters
    ----------
    services : with an empty database
    scenario : the scenario
    first_rain : local day that the scenario's day 0 falls on
    password : for everybody who logs in
    """
    with writing(services.engine) as c:
        wards = {w.name: farmers.add_ward(c, w.name, scenario.zone) for w in scenario.wards}
        for person in scenario.people:
            people.add_person(
                c,
                login=person.login,
                name=person.name,
                password_hash=PasswordHasher().hash(password),
                role=person.role,
                ward_ids=list(wards.values()),
            )
        starts_on = first_rain + timedelta(days=scenario.season_starts)
        for farmer in scenario.farmers:
            _add_farmer(c, services, farmer, wards[farmer.ward], starts_on)


def _add_farmer(
    c: Connection, services: Services, farmer: ScenarioFarmer, ward_id: int, starts_on: date
) -> None:
    farmer_id = farmers.add_farmer(
        c,
        ward_id=ward_id,
        name=farmer.name,
        language="en",
        numbers=[PhoneNumber(farmer.phone)],
        at=services.clock(),
    )
    for plot in farmer.plots:
        plot_id = farmers.add_plot(
            c,
            farmer_id=farmer_id,
            ward_id=ward_id,
            number=plot.number,
            stations=plot.stations,
            stations_per_ha=plot.stations_per_ha,
        )
        season_id = farmers.open_season(
            c,
            plot_id=plot_id,
            label=f"{starts_on.year}/{(starts_on.year + 1) % 100:02d}",
            starts_on=starts_on,
            rulebook=services.rulebook.label,
            choices=plot.choices,
        )
        replan(c, season_id, services.rulebook, services.settings, services.clock())


def play(
    services: Services,
    clock: SettableClock,
    scenario: Scenario,
    first_rain: date,
    until: datetime,
) -> Iterator[PlayedText]:
    """Play the scenario's texts and send what falls due, up to an instant.

    Parameters
    ----------
    services : holding ``clock`` as its clock
    clock : moved forward as the season goes
    scenario : the scenario, already loaded
    first_rain : local day of the scenario's day 0
    until : aware UTC instant at which to stop

    Yields
    ------
    each text once it has been worked
    """
    zone = ZoneInfo(scenario.zone)
    script = sorted((text_at(text, first_rain, zone), n) for n, text in enumerate(scenario.texts))
    for at, n in script:
        if at > until:
            break
        send_up_to(services, clock, at)
        text = scenario.texts[n]
        body = written(text.text, first_rain)
        message = Incoming(f"scenario-{n}", text.sender, body.encode(), at)
        received = receive(services, gateway=services.routes[0].name, message=message)
        yield PlayedText(at, text.sender, body, received)
    send_up_to(services, clock, until)


def send_up_to(services: Services, clock: SettableClock, until: datetime) -> None:
    """Let time pass: stop at each instant at which something falls due, and send it.

    Parameters
    ----------
    services : holding ``clock`` as its clock
    clock : left at ``until``
    until : aware UTC instant
    """
    while True:
        sweep(services)
        dispatch_due(services)
        with reading(services.engine) as c:
            due_at = queue.next_due_at(c)
        # One minute at least, so that a notice nobody can send does not stop the clock.
        due_at = max(due_at or until, clock.now + timedelta(minutes=1))
        if due_at >= until:
            break
        clock.now = due_at
    clock.now = max(clock.now, until)


def text_at(text: ScenarioText, first_rain: date, zone: ZoneInfo) -> datetime:
    """Aware UTC instant at which a text of the scenario is sent."""
    day = first_rain + timedelta(days=text.day)
    return datetime.combine(day, time.fromisoformat(text.at), zone).astimezone(UTC)


def written(text: str, first_rain: date) -> str:
    """The text with ``{d9}`` replaced by the date of day 9, day before month.

    Examples
    --------
    >>> written("GERM {d9}", date(2026, 11, 12))
    'GERM 21/11'
    """

    def day(match: re.Match[str]) -> str:
        on = first_rain + timedelta(days=int(match[1]))
        return f"{on.day}/{on.month}"

    return re.sub(r"\{d(\d+)\}", day, text)


def with_clock(services: Services, clock: Callable[[], datetime]) -> Services:
    """The same services under another clock."""
    return replace(services, clock=clock)
