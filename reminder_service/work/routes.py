"""Routes: which gateway carries a text, by whom it is for and by cost. Pure but for the file."""

import tomllib
from collections.abc import Sequence
from datetime import timedelta
from decimal import Decimal
from enum import StrEnum
from hashlib import sha256
from math import log
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError
from pydantic_core import ErrorDetails

from reminder_service.errors import ReminderError
from reminder_service.settings import Settings
from reminder_service.texts.alphabets import DEFAULT, SHIFT_TABLES, ShiftTables
from reminder_service.work.money import Budget, thousandths

NAME = r"^[a-z][a-z0-9-]{0,39}$"


class BadRoutes(ReminderError):
    """The routes file cannot be used; names every fault."""

    def __init__(self, path: str, faults: Sequence[str]) -> None:
        super().__init__(f"routes file {path}: {'; '.join(faults)}")
        self.path = path
        self.faults = tuple(faults)


class Choose(StrEnum):
    """What decides between routes of one order that serve a text equally well."""

    WEIGHT = "weight"
    COST = "cost"


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
    cost_per_segment : in the programme's money, to the thousandth
    shift_tables : national tables that the carrier encodes texts by; None as shipped. It must say
        so itself: where it does not, texts are charged as UCS-2. Their header costs room
    weight : share of the texts among routes of one order
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
    cost_per_segment: Annotated[Decimal, Field(ge=0, le=10_000, decimal_places=3)] = Decimal(0)
    shift_tables: Literal["portuguese", "portuguese-single"] | None = None
    weight: int = Field(default=1, ge=1, le=1000)

    @property
    def segment_cost(self) -> int:
        """Cost of one segment in thousandths of the programme's money."""
        return thousandths(self.cost_per_segment)

    @property
    def tables(self) -> ShiftTables:
        """What its carrier can send in septets."""
        return SHIFT_TABLES[self.shift_tables] if self.shift_tables else DEFAULT

    @property
    def gap(self) -> timedelta:
        """Time between two texts; zero for no pace."""
        return timedelta(seconds=1 / self.per_second) if self.per_second else timedelta(0)


class RoutesFile(BaseModel):
    """What a routes file says.

    Attributes
    ----------
    routes : the ways out, at least one
    budget : what they may cost together; None for no limit
    choose : what decides between routes of one order that serve a text equally well
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    routes: tuple[Route, ...] = ()
    budget: Budget | None = None
    choose: Choose = Choose.WEIGHT


def parsed_routes_file(text: str, path: str = "routes.toml") -> RoutesFile:
    """What a routes file says.

    Parameters
    ----------
    text : TOML with one ``[[routes]]`` a route, perhaps a ``[budget]`` and ``choose``
    path : for the message

    Returns
    -------
    the routes and the budget

    Raises
    ------
    BadRoutes
        All faults at once: what is wrong, where, and what was expected.
    """
    try:
        found = RoutesFile.model_validate(tomllib.loads(text))
    except tomllib.TOMLDecodeError as fault:
        raise BadRoutes(path, [str(fault)]) from fault
    except ValidationError as fault:
        raise BadRoutes(path, [_in_words(each) for each in fault.errors()]) from None
    faults = _faults_together(found)
    if faults:
        raise BadRoutes(path, faults)
    return found


def _faults_together(found: RoutesFile) -> list[str]:
    """What is wrong with a file whose parts are well-formed."""
    if not found.routes:
        return ["there is no route: write at least one [[routes]]"]
    names = [route.name for route in found.routes]
    twice = sorted({name for name in names if names.count(name) > 1})
    faults = [f"two routes are called {name!r}: rename one" for name in twice]
    if found.budget is not None and not any(route.segment_cost for route in found.routes):
        faults.append("budget: no route costs anything: give each its cost_per_segment")
    return faults


def _in_words(fault: ErrorDetails) -> str:
    """One fault; the value of an unknown key stays hidden, it may be a secret."""
    where = ".".join(map(str, fault["loc"]))
    shown = "" if fault["type"] == "extra_forbidden" else f" is {fault['input']!r}"
    return f"{where}{shown}: {fault['msg']}"


def routes_file(settings: Settings) -> RoutesFile:
    """The programme's routes file; without one, a single route by the settings' gateway.

    Raises
    ------
    BadRoutes
        The file cannot be read or has faults.
    """
    if settings.routes is None:
        only = Route(
            name=settings.gateway, gateway=settings.gateway, options=settings.gateway_options
        )
        return RoutesFile(routes=(only,))
    try:
        text = Path(settings.routes).read_text("utf-8")
    except (OSError, UnicodeDecodeError) as fault:
        raise BadRoutes(settings.routes, [f"cannot be read: {fault}"]) from fault
    return parsed_routes_file(text, settings.routes)


def serving(
    routes: Sequence[Route],
    number: str,
    ward: str | None,
    language: str | None,
    *,
    reference: str | None = None,
    choose: Choose = Choose.WEIGHT,
) -> list[Route]:
    """Routes that may carry a text, the best first.

    A route made for part of the numbers, wards or languages goes before one for everybody, the
    longer prefix before the shorter, then by ``order``. What is still equal is decided by cost,
    if so chosen, and then by weight.

    Parameters
    ----------
    routes : the programme's
    number : E.164
    ward : name, or None for a phone that belongs to none
    language : ISO 639-1 code, or None
    reference : our id of the text; None puts the heavier route first
    choose : whether cost decides before weight

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
        cost = route.segment_cost if choose is Choose.COST else 0
        worth = route.weight if reference is None else weighted_draw(route, reference)
        rank = (*(-int(part) for part in made_for), route.order, cost, -worth, place)
        fitting.append((rank, route))
    return [route for _, route in sorted(fitting, key=lambda each: each[0])]


def weighted_draw(route: Route, reference: str) -> float:
    """What a route draws for a text; the highest of several carries it.

    Each route draws for itself and always the same for the same text, so a text tried again goes
    the same way, shares follow the weights, and when a route is out, its texts alone move, to the
    others by their weights.

    Parameters
    ----------
    route : name and weight
    reference : our id of the text

    Returns
    -------
    above 0

    References
    ----------
    Arithmetic: of exponential draws the one of rate w is least with probability w / sum of all w.
    """
    digest = sha256(f"{route.name}\n{reference}".encode()).digest()
    evenly = (int.from_bytes(digest[:6]) + 0.5) / 2**48  # strictly between 0 and 1
    return route.weight / -log(evenly)
