"""What repeats: dispatch, sweep, doubts, polling, rain, soil, re-planning, texts a crash left."""

import logging
from collections.abc import Callable
from datetime import timedelta

from apscheduler.schedulers.background import BackgroundScheduler

from reminder_service.records import inbound, ticks
from reminder_service.records.engine import reading, writing
from reminder_service.work.dispatch import dispatch_due, sweep
from reminder_service.work.doubts import settle_doubts
from reminder_service.work.events import match_receipts, poll_carriers
from reminder_service.work.false_starts import note_false_starts
from reminder_service.work.hooks import tell_hooks
from reminder_service.work.lists.steps import work_lists
from reminder_service.work.program_keys import forget_answers
from reminder_service.work.rain_source import pull_rain
from reminder_service.work.receive import work_inbound
from reminder_service.work.retention import keep_retention
from reminder_service.work.rewording import follow_soil
from reminder_service.work.services import Services, utc_now
from reminder_service.work.ward_rain import replan_left

log = logging.getLogger(__name__)

EVERY_S = {
    "sweep": 30,
    "doubts": 30,
    "poll": 10,
    "rain": 3600,
    "false-starts": 3600,
    "moisture": 600,
    "forget": 3600,
    "imports": 2,
    "retention": 3600,
}
"""Seconds between two rounds of the work that keeps its own time, not the settings' (setting).

Rain is pulled once a day: a ward whose yesterday is known is not asked for. What failed, or was not
there yet, is tried again an hour later. False starts are looked for as often, since the interval
begins anew with each start of the process; it writes only where something changed.
"""


FIRST_WITHIN_S = 60
"""Seconds after the start by which all of it has run once (setting): else a service that starts
often would never do what is seldom done."""


def work_left_inbound(services: Services) -> int:
    """Work the texts that were kept but never answered, oldest first.

    Returns
    -------
    how many were worked
    """
    with reading(services.engine) as c:
        left = inbound.unhandled(c, limit=100)
    for inbound_id in left:
        work_inbound(services, inbound_id)
    return len(left)


WORK: dict[str, Callable[[Services], object]] = {
    "dispatch": dispatch_due,
    "doubts": settle_doubts,
    "false-starts": note_false_starts,
    "forget": forget_answers,
    "hooks": tell_hooks,
    "imports": work_lists,
    "inbound": work_left_inbound,
    "moisture": follow_soil,
    "poll": poll_carriers,
    "rain": pull_rain,
    "receipts": match_receipts,
    "replans": replan_left,
    "retention": keep_retention,
    "sweep": sweep,
}


def tick(services: Services, name: str) -> None:
    """Do one piece of repeating work and note when it ran; a fault is noted, not raised.

    Parameters
    ----------
    services : the services
    name : one of ``WORK``
    """
    # This is a worker's outermost loop: whatever goes wrong, the next tick must come.
    try:
        with writing(services.engine) as c:
            ticks.tick_started(c, name, services.clock())
        error = None
        try:
            WORK[name](services)
        except Exception as fault:
            log.exception("tick %s failed", name, extra={"tick": name})
            error = f"{type(fault).__name__}: {fault}"[:500]
        with writing(services.engine) as c:
            ticks.tick_ended(c, name, services.clock(), error)
    except Exception:
        log.exception(
            "tick %s could not be noted; the database may be away", name, extra={"tick": name}
        )


def start_scheduler(services: Services) -> BackgroundScheduler:
    """Start the ticks in the background.

    Each kind of work has its own turn and thread, so that one that waits for a slow carrier holds
    up no other. Ticks never overlap and missed ones run once: due times live in the queue, not
    here.

    Returns
    -------
    the running scheduler; ``shutdown()`` waits for the tick under way
    """
    scheduler = BackgroundScheduler(
        timezone="UTC",
        job_defaults={"coalesce": True, "max_instances": 1, "misfire_grace_time": None},
    )
    for name in WORK:
        seconds = EVERY_S.get(name, services.settings.tick_s)
        first = utc_now() + timedelta(seconds=min(seconds, FIRST_WITHIN_S))
        scheduler.add_job(
            tick, "interval", seconds=seconds, args=[services, name], id=name, next_run_time=first
        )
    scheduler.start()
    return scheduler
