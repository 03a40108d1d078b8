"""What is known of one plot's season: its reports, its choices, and the facts they add up to."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

from reminder_service.kinds import DATED_FACTS, Kind
from reminder_service.rules.neighbours import Lag

COUNTS = (Kind.COUNT, Kind.BORER_COUNT)
"""Reports that say how many were counted; a task may be settled by one of them."""


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
    lag : days to germination on the plots around, which an estimate leans on; None if they say
        nothing
    """

    dates: Mapping[Kind, date] = field(default_factory=dict)
    done: Mapping[tuple[str, int], date] = field(default_factory=dict)
    choices: Mapping[str, str] = field(default_factory=dict)
    counted: Mapping[Kind, date] = field(default_factory=dict)
    lag: Lag | None = None


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


def plot_facts(reports: Iterable[Report], choices: Mapping[str, str]) -> PlotFacts:
    """Facts that the standing reports of a season add up to.

    Of two standing reports on the same fact the one sent last counts.

    Parameters
    ----------
    reports : all reports of one season, in any order
    choices : the plot's choices

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
    for report in standing_reports(reports):
        if report.on is None:
            continue
        if report.kind in DATED_FACTS:
            dates[report.kind] = report.on
        elif report.kind is Kind.DONE and report.task is not None:
            done[report.task, report.number or 1] = report.on
        elif report.kind in COUNTS:
            counted[report.kind] = max(report.on, counted.get(report.kind, report.on))
    return PlotFacts(dates, done, dict(choices), counted)
