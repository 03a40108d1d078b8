"""Texts that are about to go out are put in line with the soil of the day."""

from datetime import timedelta

from sqlalchemy import Connection

from reminder_service.kinds import SeasonId
from reminder_service.records import farmers, rewordings
from reminder_service.records.engine import reading, writing
from reminder_service.rules.reminders import IN_WINDOW
from reminder_service.work.dry_weeks import while_wet_tasks
from reminder_service.work.moisture import dressing_tasks
from reminder_service.work.replan import planned_change, replan, ward_first_rain
from reminder_service.work.services import Services

SOON = timedelta(minutes=15)
"""How long before it goes out a text is looked at (setting); a little more than a turn takes."""


def follow_soil(services: Services) -> int:
    """Let the texts of the day say, or wait for, what the soil asks for.

    Parameters
    ----------
    services : the services

    Returns
    -------
    how many texts were reworded or moved
    """
    return reword_dressings(services) + put_off_weeding(services)


def put_off_weeding(services: Services) -> int:
    """Let reminders wait that make sense on wet soil only, and go when it has become wet.

    Each plot has a transaction of its own; it is planned anew, so that of what waited together
    one text goes out.

    Parameters
    ----------
    services : the services

    Returns
    -------
    how many texts were moved
    """
    now, rulebook = services.clock(), services.rulebook
    with reading(services.engine) as c:
        season_ids = rewordings.seasons_going_out(
            c, while_wet_tasks(rulebook), IN_WINDOW, now, now + SOON
        )
    count = 0
    for season_id in season_ids:
        with writing(services.engine) as c:
            count += replan(c, season_id, rulebook, services.settings, now).changed
    return count


def reword_dressings(services: Services) -> int:
    """Let dressing texts that are due, or soon will be, say what the soil of the day asks for.

    Each plot has a transaction of its own. Nothing but the words of a text is changed, and only
    as long as no worker has taken it.

    Parameters
    ----------
    services : the services

    Returns
    -------
    how many texts were reworded
    """
    now = services.clock()
    tasks = dressing_tasks(services.rulebook)
    with reading(services.engine) as c:
        season_ids = rewordings.seasons_going_out(c, tasks, IN_WINDOW, now, now + SOON)
    count = 0
    for season_id in season_ids:
        with writing(services.engine) as c:
            count += _reword(c, services, season_id)
    return count


def _reword(c: Connection, services: Services, season_id: SeasonId) -> int:
    now, settings = services.clock(), services.settings
    season = farmers.lock_season(c, season_id)
    ward_rain_on = ward_first_rain(c, season, settings)
    _, change = planned_change(c, season, services.rulebook, settings, now, ward_rain_on)
    tasks = dressing_tasks(services.rulebook)
    return sum(
        rewordings.reword(c, notice_id, notice, now)
        for notice_id, notice in change.move
        if notice.task in tasks and notice.stage in IN_WINDOW
    )
