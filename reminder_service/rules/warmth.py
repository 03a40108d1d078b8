"""Days of an estimate that follow from warmth: degree days by the usual temperatures of a ward."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from reminder_service.agronomy.errors import OutOfRange
from reminder_service.agronomy.heat import Temperatures
from reminder_service.agronomy.maize_stages import Stage, stage_needs
from reminder_service.agronomy.stage_estimate import (
    EstimateBasis,
    StageEstimate,
    estimated_stage,
)
from reminder_service.kinds import Kind

STAGES: Mapping[Kind, Stage | None] = {
    Kind.PLANTED: None,
    Kind.GERMINATED: Stage.EMERGENCE,
    Kind.TASSELLED: Stage.TASSELLING,
    Kind.HARVESTED: Stage.MATURITY,
}
"""The stage of maize that each fact is, in the order of the season; planting is none."""


@dataclass(frozen=True, slots=True)
class Warmth:
    """What warmth says of a fact that nobody reported.

    Attributes
    ----------
    days : earliest, likely and latest local day
    degree_days : from the fact it is counted from, °C d
    """

    days: tuple[date, date, date]
    degree_days: float


def comes_after(fact: str, start: str) -> bool:
    """Whether degree days can be counted from one fact to another: both are stages, in order.

    Parameters
    ----------
    fact, start : names of facts

    References
    ----------
    Arithmetic.

    Examples
    --------
    >>> comes_after("tasselled", "germinated"), comes_after("planted", "first-rain")
    (True, False)
    """
    order = [kind.value for kind in STAGES]
    return fact in order and start in order and order.index(fact) > order.index(start)


def warmth_days(
    fact: Kind,
    start: Kind,
    since: Sequence[date],
    maturity: str,
    normals: Mapping[int, Temperatures],
) -> Warmth | None:
    """When a fact is to be expected by degree days.

    Parameters
    ----------
    fact, start : what is estimated, and an earlier stage that it is counted from
    since : earliest, likely and latest local day of that
    maturity : class of maize
    normals : usual temperatures by month, 1 to 12

    Returns
    -------
    None where too few months are known or it is too cold: days of the class then say more

    References
    ----------
    The needs of the stages and their spread: `agronomy.stage_estimate`.

    Examples
    --------
    >>> warm = {month: Temperatures(17, 29) for month in range(1, 13)}
    >>> seen = [date(2026, 11, 21)] * 3
    >>> warmth_days(Kind.TASSELLED, Kind.GERMINATED, seen, "medium", warm).days[1]
    datetime.date(2027, 1, 8)
    """
    stage = STAGES[fact]
    if stage is None or not normals:
        return None
    months = tuple(sorted(normals.items()))
    first, likely, last = (_expected(stage, maturity, on, STAGES[start], months) for on in since)
    if first is None or likely is None or last is None:
        return None
    needs = stage_needs(maturity)
    seen = STAGES[start]
    needed = needs[stage] - (0.0 if seen is None else needs[seen])
    return Warmth((first.earliest, likely.likely, last.latest), needed)


# Plots of a ward share their days, so most are worked out once.
@lru_cache(maxsize=4096)
def _expected(
    stage: Stage,
    maturity: str,
    since_on: date,
    since: Stage | None,
    months: tuple[tuple[int, Temperatures], ...],
) -> StageEstimate | None:
    try:
        found = estimated_stage(stage, maturity, since_on, since, normals=dict(months))
    except OutOfRange:  # too cold ever to come
        return None
    return None if found.basis is EstimateBasis.CLASS_DAYS else found
