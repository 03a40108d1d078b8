"""Whether a reported date can be true, given the day and the plot's other reports. Pure."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from reminder_service.kinds import Kind


class Fault(StrEnum):
    """What is wrong with a reported date."""

    FUTURE = "future"
    BEFORE_SEASON = "before season"
    CONTRADICTION = "contradiction"


@dataclass(frozen=True, slots=True)
class DateFault:
    """Why a report is not taken.

    Attributes
    ----------
    fault : what is wrong
    other, other_on : the fact and local day that it contradicts, or the season's first day
    """

    fault: Fault
    other: Kind | None = None
    other_on: date | None = None


ORDER: tuple[tuple[Kind, Kind], ...] = (
    (Kind.FIRST_RAIN, Kind.GERMINATED),
    (Kind.PLANTED, Kind.GERMINATED),
    (Kind.GERMINATED, Kind.TASSELLED),
    (Kind.TASSELLED, Kind.HARVESTED),
    (Kind.GERMINATED, Kind.HARVESTED),
    (Kind.FIRST_RAIN, Kind.TASSELLED),
    (Kind.FIRST_RAIN, Kind.HARVESTED),
    (Kind.PLANTED, Kind.TASSELLED),
    (Kind.PLANTED, Kind.HARVESTED),
    (Kind.REPLANTED, Kind.TASSELLED),
    (Kind.REPLANTED, Kind.HARVESTED),
)
"""Pairs of which the first always comes on an earlier day than the second.

Planting may come before the first rain (dry planting) or after it, so that pair is not here; nor is
germination with a replanting, since each stand has its own.
"""


def date_fault(
    kind: Kind,
    on: date,
    *,
    today: date,
    season_starts: date,
    known: Mapping[Kind, date],
) -> DateFault | None:
    """First thing wrong with a report, or None.

    Parameters
    ----------
    kind : what is reported; a ``done`` must not come before the plot germinated
    on : the reported local day
    today : local day in the ward
    season_starts : first local day of the season
    known : the season's reported facts, without the one that this report would correct

    Returns
    -------
    the fault, or None if the report can be true

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> date_fault(Kind.GERMINATED, date(2026, 11, 2), today=date(2026, 11, 25),
    ...            season_starts=date(2026, 10, 1),
    ...            known={Kind.FIRST_RAIN: date(2026, 11, 12)}).fault
    <Fault.CONTRADICTION: 'contradiction'>
    """
    if on > today:
        return DateFault(Fault.FUTURE, None, today)
    if on < season_starts:
        return DateFault(Fault.BEFORE_SEASON, None, season_starts)
    if kind is Kind.REPLANTED and on < known.get(Kind.PLANTED, on):
        return DateFault(Fault.CONTRADICTION, Kind.PLANTED, known[Kind.PLANTED])
    for earlier, later in ORDER:
        if kind is later and earlier in known and on <= known[earlier]:
            return DateFault(Fault.CONTRADICTION, earlier, known[earlier])
        if kind is earlier and later in known and on >= known[later]:
            return DateFault(Fault.CONTRADICTION, later, known[later])
    return None
