"""When a stage will come: earliest, likely and latest day, by degree days where they are known."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from typing import Final

from reminder_service.agronomy.errors import OutOfRange
from reminder_service.agronomy.heat import Basis, Temperatures, day_degrees, day_temperatures
from reminder_service.agronomy.maize_stages import Stage, days_to_stage, stage_needs

SPREAD: Final = 0.10  # needspread: needs differ by 10 to 20 % between years and places
LONGEST_DAYS: Final = 400  # setting: maize that is not there by then will not come


class EstimateBasis(StrEnum):
    """What an estimated day rests on, for the most part of the way to it."""

    MEASURED = "degree days"
    NORMALS = "degree days of usual temperatures"
    CLASS_DAYS = "days of the variety class"


@dataclass(frozen=True, slots=True)
class StageEstimate:
    """When a stage is to be expected.

    Attributes
    ----------
    stage : the stage
    earliest, likely, latest : local days
    basis : what the likely day rests on for the most part
    measured_days, normal_days, class_days : days on the way to the likely day that rest on
        measured temperatures, on normals, and on the days of the variety class
    """

    stage: Stage
    earliest: date
    likely: date
    latest: date
    basis: EstimateBasis
    measured_days: int
    normal_days: int
    class_days: int


def estimated_stage(
    stage: Stage,
    maturity: str,
    since_on: date,
    since: Stage | None = None,
    temperatures: Mapping[date, Temperatures] | None = None,
    normals: Mapping[int, Temperatures] | None = None,
) -> StageEstimate:
    """Day a stage is to be expected, counted from planting or from a stage that was seen.

    Each day brings the crop its share of the way: its degree days over the degree days needed, or,
    where no temperature is known, one day over the days of the variety class. The day of planting
    or of the stage seen itself brings nothing.

    Parameters
    ----------
    stage : the stage asked for, one that is printed with days
    maturity : ``short``, ``medium`` or ``long``
    since_on : local day of planting, or of the stage seen
    since : the stage seen; None for planting
    temperatures : by local day
    normals : mean temperatures of months 1 to 12

    Returns
    -------
    the estimate; earliest and latest are where 10 % less or more is needed than printed

    Raises
    ------
    OutOfRange
        There is no such class, the stage does not come after the one seen, it is printed without
        days, or it is too cold for it ever to come.

    References
    ----------
    Needs [hprcc] and days [S10], [S18] of the stages; count from the day after [ohio]; the spread
    [needspread], its lower end as a [setting].

    Examples
    --------
    >>> estimated_stage(Stage.TASSELLING, "medium", date(2025, 11, 20)).likely
    datetime.date(2026, 1, 28)
    """
    needs, days_needed = _distance(stage, since, maturity)
    way, basis_of_days = 0.0, []
    found: dict[float, tuple[date, int]] = {}
    for number in range(1, LONGEST_DAYS + 1):
        on = since_on + timedelta(days=number)
        day, basis = day_temperatures(on, temperatures or {}, normals)
        way += 1 / days_needed if day is None else day_degrees(day) / needs
        basis_of_days.append(basis)
        for factor in (1 - SPREAD, 1.0, 1 + SPREAD):
            # Sums of shares fall short of the whole by a rounding error now and then.
            if factor not in found and way >= factor - 1e-9:
                found[factor] = (on, number)
        if len(found) == 3:
            return _estimate(stage, found, basis_of_days)
    raise OutOfRange("temperatures", f"too cold for {stage}", f"{stage} within {LONGEST_DAYS} days")


def _distance(stage: Stage, since: Stage | None, maturity: str) -> tuple[float, int]:
    """Degree days and days from one stage to another."""
    needs, days = stage_needs(maturity), days_to_stage(stage, maturity)
    wanted = needs.get(stage)
    if wanted is None:
        raise OutOfRange("stage", stage.value, f"one of {', '.join(needs)}")
    if since is None:
        return wanted, days
    degree_days = wanted - needs.get(since, wanted)
    days -= days_to_stage(since, maturity)
    if degree_days <= 0 or days <= 0:
        raise OutOfRange("since", since.value, f"a stage before {stage}")
    return degree_days, days


def _estimate(
    stage: Stage, found: Mapping[float, tuple[date, int]], basis_of_days: list[Basis]
) -> StageEstimate:
    likely_on, number = found[1.0]
    way = basis_of_days[:number]
    counts = {
        EstimateBasis.MEASURED: way.count(Basis.MEASURED),
        EstimateBasis.NORMALS: way.count(Basis.NORMAL),
        EstimateBasis.CLASS_DAYS: way.count(Basis.UNKNOWN),
    }
    return StageEstimate(
        stage=stage,
        earliest=found[1 - SPREAD][0],
        likely=likely_on,
        latest=found[1 + SPREAD][0],
        basis=max(counts, key=lambda basis: counts[basis]),
        measured_days=counts[EstimateBasis.MEASURED],
        normal_days=counts[EstimateBasis.NORMALS],
        class_days=counts[EstimateBasis.CLASS_DAYS],
    )
