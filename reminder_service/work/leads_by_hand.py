"""A person makes a farmer lead farmer of the ward, or ends it."""

from reminder_service.kinds import SeasonId
from reminder_service.records import audit, farmers, leads
from reminder_service.records.engine import writing
from reminder_service.records.people import Person
from reminder_service.work.services import Services


def set_lead(services: Services, season_id: SeasonId, person: Person, *, lead: bool) -> str:
    """Let the farmer of a plot report for every plot of its ward, or no more.

    Parameters
    ----------
    services : the services
    season_id : a season of the plot
    person : who decides
    lead : whether the farmer may

    Returns
    -------
    a sentence for the person

    Raises
    ------
    NotFound
        There is no such season.
    """
    with writing(services.engine) as c:
        season = farmers.season(c, season_id)
        before = leads.is_lead(c, season.farmer_id, season.ward_id)
        change = leads.add_lead if lead else leads.end_lead
        change(c, season.farmer_id, season.ward_id)
        audit.note(
            c,
            at=services.clock(),
            who=person.login,
            what="lead farmer",
            subject=f"farmer {season.farmer_id}",
            before={"ward": season.ward_name, "lead": before},
            after={"ward": season.ward_name, "lead": lead},
        )
    if lead:
        return f"{season.farmer_name} may now report for every plot of {season.ward_name}."
    return f"{season.farmer_name} reports for their own plots only."
