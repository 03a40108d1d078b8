"""Checks of the work: the queue's lag, ticks, texts left lying, leases, resting routes."""

from datetime import datetime, timedelta

from sqlalchemy import Connection

from reminder_service.records import condition, queue_sweep, route_health, ticks
from reminder_service.settings import Settings
from reminder_service.work.doctor_types import Check, bad, ok, warn
from reminder_service.work.routes import BadRoutes, routes_file
from reminder_service.work.ticks import EVERY_S, WORK

LATE, VERY_LATE = timedelta(minutes=5), timedelta(minutes=30)
"""How long something due may wait: without a word, and at all (setting)."""

ROUNDS_MISSED, LEAST_AGE = 10, timedelta(minutes=2)
"""A tick is missing after so many of its rounds, but never before that age (setting)."""

SOON = "if the service has run for some minutes, see its log; it may be of an earlier release"

LOOK = "look at the page Routes and the service's log"


def queue(c: Connection, now: datetime) -> Check:
    """Whether what is due goes out."""
    due_at = queue_sweep.next_due_at(c)
    if due_at is None or due_at >= now:
        return ok("queue", "nothing is late")
    late = now - due_at
    found = f"the notice due longest has waited {_span(late)}"
    if late > VERY_LATE:
        todo = f"see that a process does the work (the ticks below); else {LOOK}"
        return bad("queue", found, todo)
    return warn("queue", found, LOOK) if late > LATE else ok("queue", found)


def tick_runs(c: Connection, settings: Settings, now: datetime) -> list[Check]:
    """Whether each piece of repeating work runs, and went well the last time."""
    known = {tick.name: tick for tick in ticks.ticks(c)}
    todo = "start `reminder-service serve` (or serve --work-only): nobody does this work"
    if not known.keys() & WORK.keys():
        return [bad("ticks", "none ever ran", todo)]
    done = []
    for name in WORK:
        tick = known.get(name)
        every = timedelta(seconds=EVERY_S.get(name, settings.tick_s))
        if tick is None:
            done.append(warn(f"tick {name}", "it has not run yet", SOON))
        elif now - tick.started_at > max(every * ROUNDS_MISSED, LEAST_AGE):
            age = _span(now - tick.started_at)
            done.append(bad(f"tick {name}", f"its last run began {age} ago", todo))
        elif tick.error is not None:
            said = f"its last run failed: {tick.error.partition(chr(10))[0]}"
            done.append(warn(f"tick {name}", said, "it is tried again; see the service's log"))
    return done or [ok("ticks", "all run")]


def inbound(c: Connection, now: datetime) -> Check:
    """Whether texts that came in are worked."""
    left = condition.unworked(c)
    if left.since is None:
        return ok("inbound", "every text that came in was worked")
    found = f"{left.count} texts wait to be worked, the first for {_span(now - left.since)}"
    todo = "see that the tick inbound runs; its fault stands in the service's log"
    if now - left.since > VERY_LATE:
        return bad("inbound", found, todo)
    return warn("inbound", found, todo) if now - left.since > LATE else ok("inbound", found)


def leases(c: Connection, settings: Settings, now: datetime) -> Check:
    """Whether what lost workers held came back, and whether anything is in doubt."""
    left = condition.lapsed(c, now - LATE)
    if left.count:
        found = f"{left.count} notices are held by workers that are gone"
        return bad("leases", found, "see that the tick sweep runs: it brings them back")
    doubts = condition.doubtful(c)
    if doubts.since is not None and now - doubts.since > timedelta(seconds=settings.doubt_wait_s):
        found = f"{doubts.count} notices are in doubt, the first for {_span(now - doubts.since)}"
        return warn("leases", found, "settle them on the queue page, or choose a doubt policy")
    return ok("leases", "no worker left anything behind")


def resting(c: Connection, settings: Settings, now: datetime) -> list[Check]:
    """Routes that are passed over at present, or fail."""
    try:
        names = [route.name for route in routes_file(settings).routes]
    except BadRoutes:
        return []  # told by the check of the routes already
    rests = []
    for name, health in route_health.healths(c, names).items():
        if health.rests_until is not None and health.rests_until > now:
            found = f"it rests after {health.failures} failures: {health.reason}"
            rests.append(warn(f"rest of {name}", found, "ask the carrier; it is tried again soon"))
    if rests and len(rests) == len(names):
        return [bad("rests", "every route rests: nothing goes out", LOOK), *rests]
    return rests or [ok("rests", "no route rests")]


def _span(given: timedelta) -> str:
    """A span of time in its largest whole unit.

    Examples
    --------
    >>> _span(timedelta(minutes=95))
    '1 h'
    """
    seconds = int(given.total_seconds())
    for size, unit in ((86_400, "days"), (3600, "h"), (60, "min")):
        if seconds >= size:
            return f"{seconds // size} {unit}"
    return f"{seconds} s"
