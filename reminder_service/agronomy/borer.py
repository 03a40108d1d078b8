"""Stalk borer: when eggs are laid and hatch, and what a count of damaged funnels asks for.

A calendar alone never orders a chemical: plants are looked at first, and above the threshold the
farmer is sent to the adviser and to the label. Fall armyworm does damage that looks alike.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from typing import Final

from reminder_service.agronomy.errors import check_within

LAYING_DAYS: Final = (21, 35)  # S44: plants draw egg-laying 3 to 5 weeks after they came up
EGG_DAYS: Final = (7, 11)  # S40
PLANTS_LOOKED_AT: Final = 100  # common practice, no source


class BorerAnswer(StrEnum):
    """What a count of damaged funnels asks for."""

    NOT_YET = "not yet"
    FEW = "few"
    ASK_ADVISER = "ask adviser and label"
    TOO_LATE = "too late"
    OTHER_PEST = "another pest"


@dataclass(frozen=True, slots=True)
class BorerDays:
    """When the borer does what on one plot, by the days of the literature; local days.

    Attributes
    ----------
    laying : first and last day on which plants draw egg-laying
    hatch : first and last day on which eggs laid then hatch
    """

    laying: tuple[date, date]
    hatch: tuple[date, date]


def borer_days(germinated: date) -> BorerDays:
    """Laying and hatch by the days of the literature.

    Parameters
    ----------
    germinated : local day the seedlings were seen

    Returns
    -------
    the days

    References
    ----------
    Laying, *Busseola fusca* on maize [S44]; egg 7 to 11 days [S40]; hatch: Arithmetic.

    Examples
    --------
    >>> days = borer_days(date(2026, 11, 21))
    >>> [day.isoformat() for day in (*days.laying, *days.hatch)]
    ['2026-12-12', '2026-12-26', '2026-12-19', '2027-01-06']
    """
    laying = tuple(germinated + timedelta(days=days) for days in LAYING_DAYS)
    return BorerDays(
        laying=(laying[0], laying[1]),
        hatch=(laying[0] + timedelta(EGG_DAYS[0]), laying[1] + timedelta(EGG_DAYS[1])),
    )


def borer_answer(
    damaged: int,
    threshold: int,
    on: date,
    *,
    opens: date | None = None,
    tasselled: date | None = None,
    in_stem: bool = False,
    other_pest: bool = False,
) -> BorerAnswer:
    """What a count of damaged funnels asks for.

    What was seen goes before the calendar: another pest, then larvae in the stem or tassels out,
    then too early, and only then the count. Nothing is answered by a day alone with a chemical.

    Parameters
    ----------
    damaged : plants with funnel damage, of 100, 0 to 100
    threshold : of 100, above which the farmer is sent on, 0 to 100
    on : local day of the count
    opens : local day from which larvae can be expected; None if it is not known
    tasselled : local day tassels were seen; None if they were not
    in_stem : dead hearts or holes in stems were seen
    other_pest : what was described is no stalk borer

    Returns
    -------
    the answer

    Raises
    ------
    OutOfRange
        A count is below 0 or above 100.

    References
    ----------
    Thresholds of 3 to 10 [S47] and 5 to 10 [S63] of 100 plants; dead hearts and stem holes mean
    larvae inside [S48]; not past tasselling: Common practice, no source.

    Examples
    --------
    >>> borer_answer(12, 5, date(2026, 12, 20), opens=date(2026, 12, 10)).value
    'ask adviser and label'
    >>> borer_answer(12, 5, date(2026, 12, 1), opens=date(2026, 12, 10)).value
    'not yet'
    """
    for name, count in (("damaged", damaged), ("threshold", threshold)):
        check_within(name, count, 0, PLANTS_LOOKED_AT, "plants of 100")
    if other_pest:
        return BorerAnswer.OTHER_PEST
    if in_stem or (tasselled is not None and on >= tasselled):
        return BorerAnswer.TOO_LATE
    if opens is not None and on < opens:
        return BorerAnswer.NOT_YET
    return BorerAnswer.ASK_ADVISER if damaged > threshold else BorerAnswer.FEW
