"""A person says who reads the rain gauge of a ward, and leaves observations out."""

from collections.abc import Collection

from sqlalchemy import Connection

from reminder_service.records import audit, gauges, rain
from reminder_service.records.engine import writing
from reminder_service.records.people import Person
from reminder_service.records.views import Ward
from reminder_service.work.services import Services


def add_keeper(services: Services, ward: Ward, plot_number: str, person: Person) -> str | None:
    """Let the farmer of a plot read the ward's gauge: a bare number after rain is millimetres.

    Parameters
    ----------
    services : the services
    ward : one of the person's
    plot_number : of a plot of the farmer in that ward
    person : who decides

    Returns
    -------
    the farmer's name; None if there is no such plot
    """
    with writing(services.engine) as c:
        farmer = gauges.farmer_of_plot(c, ward.id, plot_number)
        if farmer is None:
            return None
        gauges.add_keeper(c, farmer.farmer_id, ward.id)
        _note(c, services, person, farmer.farmer_id, ward, keeper=True)
    return farmer.farmer_name


def end_keeper(services: Services, ward: Ward, farmer_id: int, person: Person) -> bool:
    """Let a farmer read the ward's gauge no more.

    Returns
    -------
    False if they did not
    """
    with writing(services.engine) as c:
        ended = gauges.end_keeper(c, farmer_id, ward.id)
        if ended:
            _note(c, services, person, farmer_id, ward, keeper=False)
    return ended


def leave_out(
    services: Services, ward: Ward, ids: Collection[int], person: Person, *, out: bool
) -> int:
    """Leave observations of a ward out of the rain book, or count them again.

    Parameters
    ----------
    services : the services
    ward : one of the person's
    ids : the observations; those of another ward are left alone
    person : who decides
    out : whether to leave them out

    Returns
    -------
    how many that changed
    """
    now = services.clock()
    with writing(services.engine) as c:
        changed = rain.set_left_out(c, ward.id, ids, now if out else None)
        if changed:
            audit.note(
                c,
                at=now,
                who=person.login,
                what="rain left out" if out else "rain counted again",
                subject=f"ward {ward.id}",
                after={"observations": sorted(ids)},
            )
    return changed


def _note(
    c: Connection, services: Services, person: Person, farmer_id: int, ward: Ward, *, keeper: bool
) -> None:
    audit.note(
        c,
        at=services.clock(),
        who=person.login,
        what="gauge keeper",
        subject=f"farmer {farmer_id}",
        after={"ward": ward.name, "keeper": keeper},
    )
