"""One day of a plan together with what it was counted from, and how a bound comes to it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from reminder_service.rules.bounds import Bound, Counted, LaterOf


@dataclass(frozen=True, slots=True)
class Anchor:
    """A known day that others are counted from.

    Attributes
    ----------
    on : local day
    estimated : whether it is, or leans on, an estimate
    """

    on: date
    estimated: bool


@dataclass(frozen=True, slots=True)
class CountedDay:
    """A day counted from one anchor.

    Attributes
    ----------
    on : the local day
    estimated : whether the anchor is estimated
    start, number : the anchor's name in the rulebook and its round
    since : the anchor's local day
    days : days after it
    """

    on: date
    estimated: bool
    start: str
    number: int
    since: date
    days: int


@dataclass(frozen=True, slots=True)
class ChosenDay:
    """The latest or earliest of several days.

    Attributes
    ----------
    on : the local day
    estimated : whether any of the members is, for a report could then still change the choice
    latest : whether the latest was chosen, else the earliest
    members : what was chosen among, at least two
    """

    on: date
    estimated: bool
    latest: bool
    members: "tuple[Reason, ...]"


Reason = CountedDay | ChosenDay


@dataclass(frozen=True, slots=True)
class Missing:
    """A day that cannot be told.

    Attributes
    ----------
    starts : names of the anchors that are not known
    """

    starts: tuple[str, ...]


def reason_of(
    bound: Bound,
    anchor_of: Callable[[str], tuple[Anchor | None, int]],
    setting_days: Mapping[str, int],
) -> Reason | Missing:
    """Day that a bound comes to, or what is missing for it.

    Parameters
    ----------
    bound : from the rulebook
    anchor_of : anchor and round for a name in the rulebook; None if it is not known
    setting_days : days by setting

    Returns
    -------
    the day with its reason, or the missing anchors

    References
    ----------
    Arithmetic.
    """
    if isinstance(bound, Counted):
        anchor, number = anchor_of(bound.start)
        if anchor is None:
            return Missing((bound.start,))
        days = bound.days if isinstance(bound.days, int) else setting_days[bound.days]
        on = anchor.on + timedelta(days)
        return CountedDay(on, anchor.estimated, bound.start, number, anchor.on, days)
    found: list[Reason] = []
    missing: list[str] = []
    unknown: list[str] = []
    for member in bound.members:
        reason = reason_of(member, anchor_of, setting_days)
        if not isinstance(reason, Missing):
            found.append(reason)
        elif isinstance(member, Counted) and member.if_known:
            unknown += reason.starts
        else:
            missing += reason.starts
    if missing or not found:
        return Missing(tuple(dict.fromkeys(missing or unknown)))
    return _chosen(found, latest=isinstance(bound, LaterOf))


def _chosen(found: list[Reason], latest: bool) -> Reason:
    if len(found) == 1:
        return found[0]
    days = [reason.on for reason in found]
    on = max(days) if latest else min(days)
    return ChosenDay(on, any(reason.estimated for reason in found), latest, tuple(found))


def decider(reason: Reason) -> CountedDay:
    """The one count that decided a day; the first one where several come to the same day.

    Parameters
    ----------
    reason : of the day

    Returns
    -------
    the count
    """
    if isinstance(reason, CountedDay):
        return reason
    return decider(next(member for member in reason.members if member.on == reason.on))


def shifted(reason: Reason, days: int) -> Reason:
    """Reason of the same day in a later round.

    Parameters
    ----------
    reason : of the first round
    days : days from the first round to this one

    Returns
    -------
    the reason, all days counted moved

    References
    ----------
    Arithmetic.
    """
    if not days:
        return reason
    on = reason.on + timedelta(days)
    if isinstance(reason, CountedDay):
        return CountedDay(
            on, reason.estimated, reason.start, reason.number, reason.since, reason.days + days
        )
    members = tuple(shifted(member, days) for member in reason.members)
    return ChosenDay(on, reason.estimated, reason.latest, members)
