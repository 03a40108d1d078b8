"""Which gateways are installed, and how one is made from its options."""

from collections.abc import Callable, Mapping
from importlib.metadata import EntryPoint, entry_points

from gateways.errors import BadGateway, UnknownGateway
from gateways.protocol import Abilities, Gateway

GROUP = "reminder_service.gateways"
"""The entry-point group that a package offers its gateways in."""

_PARTS: dict[str, tuple[Callable[[object], bool], str]] = {
    "name": (lambda value: isinstance(value, str) and value != "", "a text"),
    "abilities": (lambda value: isinstance(value, Abilities), "gateways.protocol.Abilities"),
    "send": (callable, "a method"),
    "close": (callable, "a method"),
}


def gateway_names() -> list[str]:
    """Names of all installed gateways, sorted; none of them is imported.

    Examples
    --------
    >>> "console" in gateway_names()
    True
    """
    return sorted(entry_points(group=GROUP).names)


def make_gateway(name: str, options: Mapping[str, str]) -> Gateway:
    """Import one gateway and make it ready to send.

    Parameters
    ----------
    name : its entry point's name
    options : handed to the gateway's class method ``from_options``

    Raises
    ------
    UnknownGateway
        No installed package offers it.
    BadGateway
        It cannot be imported, two packages offer it, or it does not meet the protocol.
    BadOption
        The gateway does not know an option or cannot use its value.
    """
    from_options = _from_options(_entry_point(name))
    made = from_options(options)
    faults = _faults(made)
    if faults or not isinstance(made, Gateway):
        raise BadGateway(name, faults)
    return made


def _entry_point(name: str) -> EntryPoint:
    """Find the one entry point of that name."""
    found = {point.value: point for point in entry_points(group=GROUP, name=name)}
    if not found:
        raise UnknownGateway(name, gateway_names())
    if len(found) > 1:
        raise BadGateway(name, [f"offered more than once: {', '.join(sorted(found))}"])
    return next(iter(found.values()))


def _from_options(point: EntryPoint) -> Callable[[Mapping[str, str]], object]:
    """Import the gateway's class and answer what makes an object of it."""
    try:
        loaded: object = point.load()
    except (ImportError, AttributeError) as error:
        raise BadGateway(point.name, [f"{point.value} cannot be imported: {error}"]) from error
    from_options: object = getattr(loaded, "from_options", None)
    if not callable(from_options):
        raise BadGateway(point.name, [f"{point.value} has no class method from_options"])
    return from_options


def _faults(made: object) -> list[str]:
    """Name everything in which an object does not meet the protocol."""
    faults = []
    for attribute, (fits, expected) in _PARTS.items():
        if not hasattr(made, attribute):
            faults.append(f"{attribute} is missing, expected {expected}")
        elif not fits(getattr(made, attribute)):
            faults.append(f"{attribute} is not {expected}")
    return faults
