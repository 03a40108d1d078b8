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


def utc_now() -> datetime:
    """Read the machine's clock: an aware UTC instant."""
    return datetime.now(UTC)


@dataclass(frozen=True, slots=True)
class Services:
    """The database, the rulebook, the clock and the gateways of one running programme.

    Attributes
    ----------
    clock : answers the present instant, aware UTC; simulated in rehearsals and tests
    gateways : by name; the settings' gateway is the one that notices leave by
    """

    engine: Engine
    settings: Settings
    rulebook: Rulebook
    clock: Callable[[], datetime]
    gateways: Mapping[str, Gateway]

    @property
    def gateway(self) -> Gateway:
        """The gateway that notices leave by."""
        return self.gateways[self.settings.gateway]


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
    engine = make_engine(settings.database_url)
    upgrade(engine)
    if gateways is None:
        gateways = {settings.gateway: make_gateway(settings.gateway, settings.gateway_options)}
    return Services(engine, settings, rulebook_named(settings.rulebook), clock, gateways)
