"""What is known of one plot's season: its reports, its choices, and the facts they add up to."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

from reminder_service.agronomy.heat import Temperatures
from reminder_service.kinds import DATED_FACTS, OF_THE_STAND, Kind
from reminder_service.rules.stands import stand_of

COUNTS = (Kind.COUNT, Kind.BORER_COUNT)
"""Reports that say how many were counted; a task may be settled by one of them."""

OF_LIFE = (Kind.PLANTED, Kind.GERMINATED, Kind.TASSELLED, Kind.HARVESTED, Kind.COUNT)
"""Reports that speak of a living stand, if they are of a later day than its loss."""

AFTER_RAIN = (Kind.GERMINATED, Kind.TASSELLED, Kind.HARVESTED)
"""Facts that come after the first rain; planting may come before it (dry planting)."""


@dataclass(frozen=True, slots=True)
class Report:
    """One thing somebody says happened on a plot.

    Attributes
    ----------
    ref : name of the report, unique within the season
    kind : one of ``kinds.REPORTS``
    on : local day of the field event; None only for a report that withdraws another
    sent_at : aware UTC instant at which it was sent
    task, number : for ``done``: which task, and which round of it (from 1)
    replaces : ``ref`` of the report that this one corrects or withdraws
    """

    ref: str
    kind: Kind
    on: date | None
    sent_at: datetime
    task: str | None = None
    number: int | None = None
    replaces: str | None = None


@dataclass(frozen=True, slots=True)
class PlotFacts:
    """The facts that a plan is derived from.

    Attributes
    ----------
    dates : reported local day of each of ``kinds.DATED_FACTS`` that is known
    done : local day on which a task's round (task name, number from 1) was reported done
    choices : the plot's choices, e.g. ``{"top-dressing": "mineral", "maturity": "medium"}``
    counted : last local day for which each kind of count was reported
    normals : usual temperatures of the ward by month, 1 to 12; empty if they are not known
    replanted : local days of replanting, in order; all else is of the stand that grows since
    lost_on : local day on which that stand was reported lost; None if it was not, or lives
    """

    dates: Mapping[Kind, date] = field(default_factory=dict)
    done: Mapping[tuple[str, int], date] = field(default_factory=dict)
    choices: Mapping[str, str] = field(default_factory=dict)
    counted: Mapping[Kind, date] = field(default_factory=dict)
    normals: Mapping[int, Temperatures] = field(default_factory=dict)
    replanted: tuple[date, ...] = ()
    lost_on: date | None = None


def standing_reports(reports: Iterable[Report]) -> list[Report]:
    """Reports that nothing has replaced, oldest first.

    The answer depends on the set of reports alone, not on the order they are given in.

    Parameters
    ----------
    reports : all reports of one season

    Returns
    -------
    those not replaced by another, without the ones that only withdraw, by ``(sent_at, ref)``

    References
    ----------
    Arithmetic.
    """
    kept = list(reports)
    replaced = {report.replaces for report in kept if report.replaces is not None}
    standing = [r for r in kept if r.ref not in replaced and r.on is not None]
    return sorted(standing, key=lambda report: (report.sent_at, report.ref))


def replanted_days(standing: Iterable[Report]) -> tuple[date, ...]:
    """Local days of replanting, in order.

    Parameters
    ----------
    standing : reports of one season that nothing has replaced
    """
    days = {r.on for r in standing if r.kind is Kind.REPLANTED and r.on is not None}
    return tuple(sorted(days))


def lost_on(standing: Iterable[Report]) -> date | None:
    """Local day on which the stand that grows now was reported lost.

    The last word on the stand counts, whatever day it names: a farmer says that a stand is lost
    after having planted again, and names the planting later. So does any sign of life since.

    Parameters
    ----------
    standing : reports of one season that nothing has replaced, oldest first

    Returns
    -------
    None if it was not, or if it lives after all
    """
    known = list(standing)
    last = next((r for r in reversed(known) if r.kind in OF_THE_STAND), None)
    if last is None or last.kind is not Kind.LOST or last.on is None:
        return None
    day = last.on
    lives = any(r.kind in OF_LIFE and r.on is not None and r.on > day for r in known)
    return None if lives else day


def plot_facts(
    reports: Iterable[Report],
    choices: Mapping[str, str],
    ward_first_rain: date | None = None,
    normals: Mapping[int, Temperatures] | None = None,
) -> PlotFacts:
    """Facts that the standing reports of a season add up to.

    Of two standing reports on the same fact the one sent last counts. The ward's first rain
    stands in where the plot has none of its own, unless the plot germinated by then. After a
    replanting only what happened to the new stand counts, and that day is its planting.

    Parameters
    ----------
    reports : all reports of one season, in any order
    choices : the plot's choices
    ward_first_rain : local day declared for the whole ward; None if there is none
    normals : usual temperatures of the ward by month; None if they are not known

    Returns
    -------
    the season's facts

    References
    ----------
    Arithmetic.
    """
    dates: dict[Kind, date] = {}
    done: dict[tuple[str, int], date] = {}
    counted: dict[Kind, date] = {}
    standing = standing_reports(reports)
    replanted = replanted_days(standing)
    for report in standing:
        if report.on is None or stand_of(report.kind, report.on, replanted) < len(replanted):
            continue
        if report.kind is Kind.REPLANTED:
            dates[Kind.PLANTED] = report.on
        elif report.kind in DATED_FACTS:
            dates[report.kind] = report.on
        elif report.kind is Kind.DONE and report.task is not None:
            done[report.task, report.number or 1] = report.on
        elif report.kind in COUNTS:
            counted[report.kind] = max(report.on, counted.get(report.kind, report.on))
    grew_on = [dates[kind] for kind in AFTER_RAIN if kind in dates]
    if ward_first_rain is not None and all(ward_first_rain < on for on in grew_on):
        if stand_of(Kind.FIRST_RAIN, ward_first_rain, replanted) == len(replanted):
            dates.setdefault(Kind.FIRST_RAIN, ward_first_rain)
    lost = lost_on(standing)
    return PlotFacts(dates, done, dict(choices), counted, normals or {}, replanted, lost)
