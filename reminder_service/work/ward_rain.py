"""A coordinator declares the first rain of a whole ward; its plots are re-planned in batches."""

from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from reminder_service.records import audit, farmers, plans, ward_rains
from reminder_service.records.engine import reading, writing
from reminder_service.records.people import Person
from reminder_service.records.views import Ward
from reminder_service.texts.wording import full_day
from reminder_service.work.replan import moved_tasks, planned_change, replan
from reminder_service.work.services import Services

MOST_PREVIEWED = 100
"""Plots that a preview works out; a larger ward's is said to be of the first ones (setting)."""

AT_ONCE = 50
"""Plots that are re-planned while the page waits; the rest follow in the background (setting)."""

BATCH = 20
"""Plots that are re-planned in one transaction, so that nobody waits long for it (setting)."""


@dataclass(frozen=True, slots=True)
class Preview:
    """What declaring a ward's first rain would come to.

    Attributes
    ----------
    plots : open plots of the ward
    looked_at : how many of them were worked out
    own : of those, how many have a first rain of their own, which stays
    moved : of those, how many would get other days
    texts : reminders that would be planned, moved or reworded
    withdrawn : reminders that would no longer go out
    """

    plots: int
    looked_at: int
    own: int
    moved: int
    texts: int
    withdrawn: int


@dataclass(frozen=True, slots=True)
class Declaring:
    """What became of a declaration.

    Attributes
    ----------
    done : whether it was taken
    sentence : what to tell the person
    replanned, left : plots re-planned so far, and those that follow in the background
    """

    done: bool
    sentence: str
    replanned: int = 0
    left: int = 0


def ward_today(services: Services, ward: Ward) -> date:
    """Local day in a ward now."""
    return services.clock().astimezone(ZoneInfo(ward.zone)).date()


def fault_of(services: Services, ward: Ward, on: date) -> str | None:
    """Why a day cannot be the first rain of the running season, in a sentence; None if it can.

    Parameters
    ----------
    services : the services
    ward : which ward
    on : local day
    """
    today = ward_today(services, ward)
    starts_on = services.settings.season_start(today)
    if on > today:
        return f"{full_day(on)} is still to come: give the day on which it rained."
    if on < starts_on:
        return f"The season starts on {full_day(starts_on)}: give a day from then on."
    return None


def preview(services: Services, ward: Ward, on: date | None) -> Preview:
    """What declaring a ward's first rain would come to; nothing is changed.

    Parameters
    ----------
    services : the services
    ward : which ward
    on : local day; None for taking the declared one back

    Returns
    -------
    counts of plots and texts
    """
    now = services.clock()
    own = moved = texts = withdrawn = 0
    with reading(services.engine) as c:
        season_ids = ward_rains.open_seasons(c, ward.id)
        looked_at = season_ids[:MOST_PREVIEWED]
        with_own = {each.season_id for each in ward_rains.own_first_rains(c, ward.id)}
        for season_id in looked_at:
            own += season_id in with_own
            season = farmers.season(c, season_id)
            day = on if on is not None and on >= season.starts_on else None
            plan, change = planned_change(c, season, services.rulebook, services.settings, now, day)
            moved += bool(moved_tasks(plans.tasks_of_season(c, season_id), plan.tasks))
            texts += len(change.insert) + len(change.move)
            withdrawn += len(change.withdraw)
    return Preview(len(season_ids), len(looked_at), own, moved, texts, withdrawn)


def declare(services: Services, ward: Ward, on: date | None, person: Person) -> Declaring:
    """Take a day as the first rain of a ward's plots that have none of their own, or take it back.

    The first plots are re-planned at once, the others by the tick ``replans``.

    Parameters
    ----------
    services : the services
    ward : one of the person's
    on : local day; None to take the declared one back
    person : who declares it

    Returns
    -------
    what became of it
    """
    fault = None if on is None else fault_of(services, ward, on)
    if fault is not None:
        return Declaring(False, f"Nothing was changed. {fault}")
    now = services.clock()
    starts_on = services.settings.season_start(ward_today(services, ward))
    with writing(services.engine) as c:
        before = ward_rains.declared(c, ward.id, starts_on)
        was = None if before is None else before.on
        if was == on:
            return Declaring(False, "Nothing was changed: that is what was declared already.")
        ward_rains.add_declared(c, ward.id, starts_on, on, person.id, now)
        ward_rains.ask_replans(c, ward.id)
        audit.note(
            c,
            at=now,
            who=person.login,
            what="ward first rain",
            subject=f"ward {ward.id}",
            before={"on": was.isoformat() if was else None},
            after={"on": on.isoformat() if on else None},
        )
    replanned = replan_some(services, ward.id, AT_ONCE)
    with reading(services.engine) as c:
        left = ward_rains.count_replans(c, ward.id)
    what = f"{full_day(on)} is" if on else "No day is any longer"
    rest = f"; {left} more follow in the background" if left else ""
    sentence = f"{what} the first rain of {ward.name}. {replanned} plots were re-planned{rest}."
    return Declaring(True, sentence, replanned, left)


def replan_some(services: Services, ward_id: int | None, most: int) -> int:
    """Re-plan seasons whose ward changed, in small transactions.

    Parameters
    ----------
    services : the services
    ward_id : of one ward; of all if None
    most : how many at most

    Returns
    -------
    how many were re-planned
    """
    done = 0
    while done < most:
        with writing(services.engine) as c:
            season_ids = ward_rains.replans_left(c, ward_id, min(BATCH, most - done))
            for season_id in season_ids:
                replan(c, season_id, services.rulebook, services.settings, services.clock())
            ward_rains.end_replans(c, season_ids)
        if not season_ids:
            break
        done += len(season_ids)
    return done


def replan_left(services: Services) -> int:
    """Go on with the re-planning that a declaration left over.

    Returns
    -------
    how many seasons were re-planned
    """
    return replan_some(services, None, AT_ONCE)
