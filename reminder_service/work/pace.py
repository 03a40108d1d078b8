"""How many texts the routes carry for a ward, and how long they take for all of it."""

from collections.abc import Sequence
from functools import lru_cache
from math import ceil
from pathlib import Path

from sqlalchemy import Connection

from reminder_service.records.coming import farmers_of_ward
from reminder_service.records.farmers import SeasonForPlanning
from reminder_service.settings import Settings
from reminder_service.work.routes import Route, parsed_routes_file


def late_minutes(
    c: Connection, settings: Settings, season: SeasonForPlanning, day_minutes: int
) -> int:
    """Minutes that the routes take for one text to every farmer of a ward.

    Parameters
    ----------
    c : connection
    settings : names the routes file
    season : whose ward it is
    day_minutes : length of the sending hours

    Returns
    -------
    minutes; 0 where no route is limited
    """
    if settings.routes is None:
        return 0
    pace = carried_per_minute(_routes(settings.routes), season.ward_name, day_minutes)
    return 0 if pace is None else ceil(farmers_of_ward(c, season.ward_id) / pace)


def carried_per_minute(routes: Sequence[Route], ward: str, day_minutes: int) -> float | None:
    """Texts that a ward's routes carry in a minute, each taking its share by weight.

    Only the routes of the lowest order count: the others stand in when those fail. Routes for
    some numbers or languages alone are taken to serve all of the ward, since who has which phone
    changes.

    Parameters
    ----------
    routes : the programme's
    ward : name
    day_minutes : length of the sending hours, over which a day's limit is spread

    Returns
    -------
    texts a minute; None for no limit, or if no route serves the ward

    References
    ----------
    Arithmetic.

    Examples
    --------
    >>> slow = Route(name="slow", gateway="console", per_second=0.5)
    >>> few = Route(name="few", gateway="console", per_day=600, weight=3)
    >>> carried_per_minute([slow], "Olmara", 600), carried_per_minute([slow, few], "Olmara", 600)
    (30.0, 1.3333333333333333)
    """
    fitting = [route for route in routes if not route.wards or ward in route.wards]
    made_for = [route for route in fitting if route.wards] or fitting
    first = min((route.order for route in made_for), default=0)
    sharing = [route for route in made_for if route.order == first]
    total = sum(route.weight for route in sharing)
    paces = [
        (pace, route.weight)
        for route in sharing
        if (pace := _per_minute(route, day_minutes)) is not None
    ]
    return min((pace * total / weight for pace, weight in paces), default=None)


def carried_per_hour(routes: Sequence[Route], day_minutes: int) -> float | None:
    """Texts that all routes of the lowest order carry together in an hour.

    Parameters
    ----------
    routes : the programme's
    day_minutes : length of the sending hours, over which a day's limit is spread

    Returns
    -------
    texts an hour; None if one of them has no limit

    References
    ----------
    Arithmetic.

    Examples
    --------
    >>> slow = Route(name="slow", gateway="console", per_second=0.5)
    >>> few = Route(name="few", gateway="console", per_day=600)
    >>> carried_per_hour([slow, few], 600), carried_per_hour([few], 600)
    (1860.0, 60.0)
    """
    first = min((route.order for route in routes), default=0)
    paces = [_per_minute(route, day_minutes) for route in routes if route.order == first]
    known = [pace for pace in paces if pace is not None]
    return 60 * sum(known) if known and len(known) == len(paces) else None


def _per_minute(route: Route, day_minutes: int) -> float | None:
    limits = []
    if route.per_second is not None:
        limits.append(route.per_second * 60)
    if route.per_day is not None:
        limits.append(route.per_day / day_minutes)
    return min(limits, default=None)


@lru_cache(maxsize=8)
def _routes(path: str) -> tuple[Route, ...]:
    """Routes of a file, read once as the services read theirs once."""
    return parsed_routes_file(Path(path).read_text("utf-8"), path).routes
