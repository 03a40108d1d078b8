"""Reminders of weeding after harvest wait while the soil is too dry for weeds to come up."""

from dataclasses import replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from reminder_service.rules.plan import SendingHours, WantedNotice
from reminder_service.rules.rulebook import Rulebook
from reminder_service.rules.sending import slot


def while_wet_tasks(rulebook: Rulebook) -> frozenset[str]:
    """Names of the tasks whose reminders wait while the soil is dry."""
    return frozenset(task.name for task in rulebook.tasks if task.while_wet)


def is_while_wet_on(wish: WantedNotice, today: date) -> bool:
    """Whether a reminder would go out today and only makes sense on a wet soil."""
    return wish.while_wet and wish.on == today


def put_off(
    wish: WantedNotice, hours: SendingHours, spread: int, today: date, now: datetime
) -> WantedNotice:
    """The notice at its next chance: the next day that its task is open and texts go out.

    Where there is none any more it waits for its end, and expires.

    Parameters
    ----------
    wish : a reminder of a task
    hours : sending hours of the ward
    spread : number of the phone
    today : local day
    now : aware UTC instant

    Returns
    -------
    the same reminder with a later time
    """
    last = wish.expires_at.astimezone(ZoneInfo(hours.zone)).date()
    found = slot(hours, spread, today + timedelta(days=1), now, last)
    if found is None or found.at >= wish.expires_at:
        return replace(wish, on=last, send_at=wish.expires_at)
    return replace(wish, on=found.on, send_at=found.at)
