"""What a text costs by a route, and what replacing its costly letters saves."""

from collections.abc import Sequence
from dataclasses import dataclass

from reminder_service.texts.alphabets import ShiftTables
from reminder_service.texts.segments import segments
from reminder_service.work.routes import Route
from reminder_service.work.services import Services


@dataclass(frozen=True, slots=True)
class Price:
    """What one text costs by one route.

    Attributes
    ----------
    route : its name
    segments : that the carrier charges for; 1 where a text is charged for whole
    cost : thousandths of the programme's money
    """

    route: str
    segments: int
    cost: int


def tables_of(services: Services, route: Route) -> ShiftTables | None:
    """What a route's carrier can send in septets; None where texts are not cut into segments.

    Parameters
    ----------
    services : the gateways
    route : one of the services' routes
    """
    segmented = services.gateways[route.name].abilities.segmented
    return route.tables if segmented else None


def price(services: Services, route: Route, body: str) -> Price:
    """Segments that a text is charged for by a route, and what they cost.

    Parameters
    ----------
    services : the gateways
    route : one of the services' routes
    body : the text as it is sent

    Returns
    -------
    the price
    """
    tables = tables_of(services, route)
    count = 1 if tables is None else segments(body, tables).segments
    return Price(route.name, count, count * route.segment_cost)


def prices(services: Services, body: str) -> list[Price]:
    """What a text costs by each route of the programme.

    Parameters
    ----------
    services : routes and gateways
    body : the text as it is sent

    Returns
    -------
    the prices, in the order of the routes
    """
    return [price(services, route, body) for route in services.routes]


def savings(before: Sequence[Price], after: Sequence[Price]) -> list[Price]:
    """What writing a text otherwise saves by each route.

    Parameters
    ----------
    before, after : prices of the two wordings by the same routes

    Returns
    -------
    segments and money saved
    """
    return [
        Price(old.route, old.segments - new.segments, old.cost - new.cost)
        for old, new in zip(before, after, strict=True)
    ]
