"""Calendars of a ward's or a plot's tasks, for any program that reads iCalendar.

References
----------
RFC 5545, iCalendar: all-day events end on the day after their last (section 3.6.1); a feed without
a METHOD states in DTSTAMP when the event was last revised (section 3.8.7.2).
"""

from collections.abc import Callable, Sequence
from datetime import timedelta
from secrets import token_urlsafe
from uuid import NAMESPACE_URL, uuid5
from zoneinfo import ZoneInfo

from icalendar import Calendar, Event

from reminder_service.records import audit, calendars, people
from reminder_service.records.calendars import CalendarLink, CalendarTask
from reminder_service.records.engine import reading, writing
from reminder_service.records.people import Person
from reminder_service.records.tables import Role
from reminder_service.work.program_keys import hash_of
from reminder_service.work.services import Services

CLOSED_SHOWN = timedelta(days=30)
"""How long a task stays in the calendar after it closed (setting)."""

REFRESH = timedelta(hours=6)
"""How often a program is asked to fetch the calendar anew (setting)."""

Title = Callable[[str, int], str]


def make_link(
    services: Services, person: Person, *, ward_id: int | None = None, plot_id: int | None = None
) -> str:
    """Make a secret link to the calendar of a ward or of a plot.

    Returns
    -------
    the secret, which is shown once and not kept
    """
    secret = token_urlsafe(32)
    now = services.clock()
    values = {"key_hash": hash_of(secret), "person_id": person.id, "made_at": now}
    with writing(services.engine) as c:
        calendars.add_link(c, values | {"ward_id": ward_id, "plot_id": plot_id})
        subject = _subject(ward_id, plot_id)
        audit.note(c, at=now, who=person.login, what="make calendar link", subject=subject)
    return secret


def end_link(
    services: Services,
    link_id: int,
    person: Person,
    *,
    ward_id: int | None = None,
    plot_id: int | None = None,
) -> bool:
    """End a link of a ward or plot at once; False if it has none such."""
    now = services.clock()
    with writing(services.engine) as c:
        ended = calendars.end_link(c, link_id, now, ward_id=ward_id, plot_id=plot_id)
        if ended:
            subject = _subject(ward_id, plot_id)
            audit.note(c, at=now, who=person.login, what="end calendar link", subject=subject)
    return ended


def _subject(ward_id: int | None, plot_id: int | None) -> str:
    return f"ward {ward_id}" if plot_id is None else f"plot {plot_id}"


def link_shown(services: Services, secret: str) -> CalendarLink | None:
    """The link that a secret belongs to, whose use is noted; None if it opens nothing.

    It opens nothing either once the person who made it may see the ward no more.

    Parameters
    ----------
    services : the services
    secret : as it was shown
    """
    now = services.clock()
    with reading(services.engine) as c:
        link = calendars.link_by_hash(c, hash_of(secret))
        if link is None:
            return None
        person = people.person_by_id(c, link.person_id)
        ward_id = calendars.place_of(c, link)[2]
    if person is None or not person.active:
        return None
    if person.role == Role.COORDINATOR and ward_id not in person.ward_ids:
        return None
    if link.used_at is None or link.used_at < now - calendars.SEEN_EVERY:
        with writing(services.engine) as c:
            calendars.note_use(c, link.id, now)
    return link


def calendar_of(services: Services, link: CalendarLink, title: Title) -> bytes:
    """The calendar of a link, as iCalendar.

    Parameters
    ----------
    services : the services
    link : of a ward or a plot
    title : of a task by its name and round
    """
    with reading(services.engine) as c:
        name, zone, _ = calendars.place_of(c, link)
        since = services.clock().astimezone(ZoneInfo(zone)).date() - CLOSED_SHOWN
        found = calendars.calendar_tasks(c, link.ward_id, link.plot_id, since)
    return ical(name, found, services.settings.programme, title)


def ical(name: str, found: Sequence[CalendarTask], programme: str, title: Title) -> bytes:
    """Tasks as one iCalendar file: an all-day event from each window's first day to its last.

    Parameters
    ----------
    name : of the ward or plot
    found : its tasks
    programme : what farmers know the programme as
    title : of a task by its name and round
    """
    made = Calendar()
    made.add("prodid", "-//field reminders//tasks//EN")
    made.add("version", "2.0")
    made.add("x-wr-calname", f"{programme}: {name}")
    made.add("name", f"{programme}: {name}")
    made.add("refresh-interval", REFRESH, parameters={"VALUE": "DURATION"})
    for task in found:
        made.add_component(_event(task, programme, title(task.name, task.number)))
    written: bytes = made.to_ical()
    return written


def _event(task: CalendarTask, programme: str, title: str) -> Event:
    event = Event()
    key = f"{programme}/season/{task.season_id}/{task.name}/{task.number}"
    event.add("uid", str(uuid5(NAMESPACE_URL, key)))
    event.add("dtstamp", task.planned_at)
    event.add("last-modified", task.planned_at)
    event.add("dtstart", task.opens_on)
    event.add("dtend", task.closes_on + timedelta(days=1))
    done = "Done: " if task.done_on else ""
    about = " (estimated)" if task.estimated and not task.done_on else ""
    event.add("summary", f"{done}{title}, plot {task.plot_number}{about}")
    due = f"Due {task.due_on:%A} {task.due_on.day} {task.due_on:%B %Y}."
    if task.done_on:
        due = f"Done on {task.done_on.day} {task.done_on:%B %Y}."
    event.add("description", f"{due} Because: {task.because}")
    event.add("transp", "TRANSPARENT")
    return event
