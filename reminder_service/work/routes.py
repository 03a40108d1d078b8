"""Routes: which gateway carries a text, by number, ward and language. Pure but for the file."""

import tomllib
from collections.abc import Sequence
from datetime import timedelta
from pathlib import Path
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, ValidationError
from pydantic_core import ErrorDetails

from reminder_service.errors import ReminderError
from reminder_service.settings import Settings

NAME = r"^[a-z][a-z0-9-]{0,39}$"


class BadRoutes(ReminderError):
    """The routes file cannot be used; names every fault."""

    def __init__(self, path: str, faults: Sequence[str]) -> None:
        super().__init__(f"routes file {path}: {'; '.join(faults)}")
        self.path = path
        self.faults = tuple(faults)


class Route(BaseModel):
    """One way out: a gateway with its options, whom it serves, and how much it carries.

    Attributes
    ----------
    name : what attempts and pages call it
    gateway, options : an installed gateway and its options
    prefixes, wards, languages : whom it serves: beginnings of numbers, ward names, language codes;
        empty for everybody
    order : routes that serve a text alike are tried in this order, lowest first
    per_second, per_day : most texts; None for no limit. A day is a UTC day
    connections : texts handed over at once
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    name: Annotated[str, Field(pattern=NAME)]
    gateway: str
    options: dict[str, str] = Field(default_factory=dict)
    prefixes: tuple[Annotated[str, Field(pattern=r"^\+[0-9]{1,15}$")], ...] = ()
    wards: tuple[str, ...] = ()
    languages: tuple[str, ...] = ()
    order: int = 1
    per_second: float | None = Field(default=None, gt=0)
    per_day: int | None = Field(default=None, gt=0)
    connections: int = Field(default=1, ge=1, le=64)

    @property
    def gap(self) -> timedelta:
        """Time between two texts; zero for no pace."""
        return timedelta(seconds=1 / self.per_second) if self.per_second else timedelta(0)


class _RoutesFile(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)

    routes: tuple[Route, ...] = ()


def parsed_routes(text: str, path: str = "routes.toml") -> tuple[Route, ...]:
    """Routes of a routes file.

    Parameters
    ----------
    text : TOML with one ``[[routes]]`` a route
    path : for the message

    Returns
    -------
    the routes

    Raises
    ------
    BadRoutes
        All faults at once: what is wrong, where, and what was expected.
    """
    try:
        routes = _RoutesFile.model_validate(tomllib.loads(text)).routes
    except tomllib.TOMLDecodeError as fault:
        raise BadRoutes(path, [str(fault)]) from fault
    except ValidationError as fault:
        raise BadRoutes(path, [_in_words(each) for each in fault.errors()]) from None
    if not routes:
        raise BadRoutes(path, ["there is no route: write at least one [[routes]]"])
    names = [route.name for route in routes]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise BadRoutes(path, [f"two routes are called {name!r}: rename one" for name in twice])
    return routes


def _in_words(fault: ErrorDetails) -> str:
    """One fault; the value of an unknown key stays hidden, it may be a secret."""
    where = ".".join(map(str, fault["loc"]))
    shown = "" if fault["type"] == "extra_forbidden" else f" is {fault['input']!r}"
    return f"{where}{shown}: {fault['msg']}"


def routes_of(settings: Settings) -> tuple[Route, ...]:
    """The programme's routes: those of its routes file, or one by the settings' gateway.

    Raises
    ------
    BadRoutes
        The file cannot be read or has faults.
    """
    if settings.routes is None:
        return (
            Route(
                name=settings.gateway, gateway=settings.gateway, options=settings.gateway_options
            ),
        )
    try:
        text = Path(settings.routes).read_text("utf-8")
    except (OSError, UnicodeDecodeError) as fault:
        raise BadRoutes(settings.routes, [f"cannot be read: {fault}"]) from fault
    return parsed_routes(text, settings.routes)


def serving(
    routes: Sequence[Route], number: str, ward: str | None, language: str | None
) -> list[Route]:
    """Routes that may carry a text, the best first.

    A route made for part of the numbers, wards or languages goes before one for everybody, the
    longer prefix before the shorter, then by ``order``.

    Parameters
    ----------
    routes : the programme's
    number : E.164
    ward : name, or None for a phone that belongs to none
    language : ISO 639-1 code, or None

    Returns
    -------
    the routes; empty if none serves it
    """
    fitting = []
    for place, route in enumerate(routes):
        prefixes = [prefix for prefix in route.prefixes if number.startswith(prefix)]
        if (route.prefixes and not prefixes) or (route.wards and ward not in route.wards):
            continue
        if route.languages and language not in route.languages:
            continue
        made_for = len(max(prefixes, key=len, default="")), bool(route.wards), bool(route.languages)
        fitting.append((tuple(-int(part) for part in made_for), route.order, place, route))
    return [route for *_, route in sorted(fitting, key=lambda each: each[:3])]
