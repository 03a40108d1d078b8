"""What every use case works with, put together once at start."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Engine

from gateways.protocol import Gateway
from gateways.registry import make_gateway
from reminder_service.records.engine import make_engine, upgrade
from reminder_service.rules.loader import load_rulebook
from reminder_service.rules.rulebook import Rulebook
from reminder_service.rules.shipped import shipped_names, shipped_rulebook
from reminder_service.settings import Settings
from reminder_service.work.money import Budget
from reminder_service.work.normals import load_normals
from reminder_service.work.rain_profile import RainProfile, load_rain_profile
from reminder_service.work.routes import Choose, Route, RoutesFile, routes_file


def utc_now() -> datetime:
    """Read the machine's clock: an aware UTC instant."""
    return datetime.now(UTC)


@dataclass(frozen=True, slots=True)
class Services:
    """The database, the rulebook, the clock and the gateways of one running programme.

    Attributes
    ----------
    clock : answers the present instant, aware UTC; simulated in rehearsals and tests
    gateways : by the name of their route
    routes : which gateway carries which texts
    budget : what they may cost together; None for no limit
    choose : what decides between routes that serve a text equally well
    rain_source : where daily rain is pulled from; None for nowhere
    """

    engine: Engine
    settings: Settings
    rulebook: Rulebook
    clock: Callable[[], datetime]
    gateways: Mapping[str, Gateway]
    routes: tuple[Route, ...] = ()
    budget: Budget | None = None
    choose: Choose = Choose.WEIGHT
    rain_source: RainProfile | None = None

    def __post_init__(self) -> None:
        """Without routes, each gateway given is a route of its own."""
        if not self.routes:
            plain = tuple(Route(name=name, gateway=name) for name in self.gateways)
            object.__setattr__(self, "routes", plain)


def rulebook_named(name: str) -> Rulebook:
    """Rulebook shipped under a name, or read from a file.

    Parameters
    ----------
    name : a shipped rulebook's name, or the path of a rulebook file

    Returns
    -------
    the rulebook

    Raises
    ------
    RulebookError
        The file has faults; all of them are listed.
    OSError
        The file cannot be read.
    """
    if name in shipped_names():
        return shipped_rulebook(name)
    return load_rulebook(Path(name).read_text("utf-8"))


def make_services(
    settings: Settings,
    clock: Callable[[], datetime] = utc_now,
    gateways: Mapping[str, Gateway] | None = None,
) -> Services:
    """Open the database, bring it up to date, and make the gateways.

    Parameters
    ----------
    settings : the programme's settings
    clock : the one clock
    gateways : ready-made gateways; those of the settings are made if None

    Returns
    -------
    the services
    """
    source = load_rain_profile(settings.rain_source) if settings.rain_source else None
    if settings.normals:
        load_normals(settings.normals)  # a faulty file stops the start, not the first re-plan
    engine = make_engine(settings.database_url)
    upgrade(engine)
    found = RoutesFile()
    if gateways is None:
        found = routes_file(settings)
        gateways = {
            route.name: make_gateway(route.gateway, route.options) for route in found.routes
        }
    return Services(
        engine,
        settings,
        rulebook_named(settings.rulebook),
        clock,
        gateways,
        found.routes,
        found.budget,
        found.choose,
        source,
    )
