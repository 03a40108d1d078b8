"""A person changes what a plot has chosen: its dressing, its class of maize, its soil."""

from collections.abc import Mapping, Sequence

from reminder_service.agronomy.soils import SOILS
from reminder_service.kinds import SeasonId
from reminder_service.records import audit, farmers, joining
from reminder_service.records.engine import writing
from reminder_service.records.people import Person
from reminder_service.rules.rulebook import Rulebook
from reminder_service.work.moisture import CHOICE
from reminder_service.work.replan import replan
from reminder_service.work.reporting import change_sentences
from reminder_service.work.services import Services


def choices_offered(rulebook: Rulebook) -> dict[str, Sequence[str]]:
    """What a plot may choose: what the rulebook knows, and the soil.

    Parameters
    ----------
    rulebook : the programme's

    Returns
    -------
    values by name
    """
    return {**rulebook.choices, CHOICE: tuple(SOILS)}


def change_choices(
    services: Services, season_id: SeasonId, given: Mapping[str, str], person: Person
) -> list[str] | None:
    """Write choices of a plot anew and plan it by them.

    Parameters
    ----------
    services : the services
    season_id : which season
    given : values by name, each one that is offered; an empty one takes the choice back
    person : who decides

    Returns
    -------
    one sentence a change to the plan; None if nothing was other than before

    Raises
    ------
    NotFound
        There is no such season.
    """
    now = services.clock()
    with writing(services.engine) as c:
        before = farmers.lock_season(c, season_id).choices
        after = {name: value for name, value in {**before, **given}.items() if value}
        if after == before:
            return None
        joining.change_choices(c, season_id, after)
        audit.note(
            c,
            at=now,
            who=person.login,
            what="choices",
            subject=f"season {season_id}",
            before=before,
            after=after,
        )
        done = replan(c, season_id, services.rulebook, services.settings, now)
    return change_sentences(done, services.rulebook)
