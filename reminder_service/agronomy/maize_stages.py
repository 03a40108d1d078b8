"""Maize stages by degree days, as extension services print them, and by days of the variety."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from reminder_service.agronomy.errors import OutOfRange, check_within
from reminder_service.agronomy.heat import Basis, HeatDay
from reminder_service.agronomy.stages import days_to_maturity

C_PER_F: Final = 5 / 9
"""Degree days in °C for one in °F; both limits are the same temperatures."""

EMERGENCE_F: Final = 115.0  # nielsen: 90 to 120 F d after planting
SLOW_LEAVES: Final = 10  # nielsen: leaves up to V10 come more slowly than those beyond


class LeafRule(StrEnum):
    """Whose degree days from one leaf collar to the next.

    Published rules differ by up to 30 % at V8; that of Nebraska lies closer to the tables of
    Wisconsin and Delaware.
    """

    NEBRASKA = "nebraska"
    PURDUE = "purdue"


LEAF_F: Final = MappingProxyType({LeafRule.NEBRASKA: 60.0, LeafRule.PURDUE: 82.0})
"""Up to V10: hprcc, 120 for two leaves from 4 to 16; nielsen."""

UPPER_LEAF_F: Final = MappingProxyType({LeafRule.NEBRASKA: 60.0, LeafRule.PURDUE: 50.0})
"""Beyond V10: hprcc; nielsen."""


class Stage(StrEnum):
    """A stage by its usual letters: V with collared leaves, VT tassel, R from silk to ripe."""

    EMERGENCE = "VE"
    V2 = "V2"
    V4 = "V4"
    V6 = "V6"
    V8 = "V8"
    V10 = "V10"
    V12 = "V12"
    TASSELLING = "VT"
    SILKING = "R1"
    BLISTER = "R2"
    MILK = "R3"
    DOUGH = "R4"
    DENT = "R5"
    MATURITY = "R6"


NAMES: Final = MappingProxyType(
    {
        Stage.EMERGENCE: "emergence",
        Stage.TASSELLING: "tasselling",
        Stage.SILKING: "silking",
        Stage.BLISTER: "blister",
        Stage.MILK: "milk",
        Stage.DOUGH: "dough",
        Stage.DENT: "dent",
        Stage.MATURITY: "maturity",
    }
)
"""Stages that have a name of their own; the others are so many collared leaves."""

_SILK_AND_RIPE_F: Final = MappingProxyType(
    {
        # hprcc: silks, blister, dough, begin dent, black layer; early, middle and late group.
        # Counted from emergence: its leaf rows fall on those of S12 and udel only so (setting).
        "short": (1143.6, 1327.2, 1510.9, 1694.5, 2061.7),
        "medium": (1200.0, 1440.0, 1680.0, 1920.0, 2400.0),
        "long": (1272.5, 1585.0, 1897.4, 2209.9, 2834.9),
    }
)

TASSEL_TO_SILK_SHARE: Final = 50 / 54  # S10: days from emergence to VT and to R1, 5, 55 and 59

DAYS_AFTER_SOWING: Final = MappingProxyType(
    {
        # S10, lowland tropics; R6 on day 112.
        Stage.EMERGENCE: 5,
        Stage.V2: 12,
        Stage.TASSELLING: 55,
        Stage.SILKING: 59,
        Stage.BLISTER: 71,
        Stage.MILK: 80,
        Stage.DOUGH: 90,
        Stage.DENT: 102,
        Stage.MATURITY: 112,
    }
)


@dataclass(frozen=True, slots=True)
class StageDay:
    """When a stage was reached.

    Attributes
    ----------
    stage : the stage
    needs : degree days from planting that it takes, °C d
    on : first local day with that sum; None if not reached, or if the sum is not known that far
    on_normals : True if a day up to it was bridged by normals
    """

    stage: Stage
    needs: float
    on: date | None
    on_normals: bool


def leaf_needs(leaves: int, rule: LeafRule = LeafRule.NEBRASKA) -> float:
    """Degree days from planting to so many collared leaves.

    Parameters
    ----------
    leaves : 0 (emergence) to 20
    rule : whose

    Returns
    -------
    °C d in the variant ``86-50``

    Raises
    ------
    OutOfRange
        The count lies outside its range.

    References
    ----------
    [hprcc], [nielsen].

    Examples
    --------
    >>> round(leaf_needs(8) / C_PER_F), round(leaf_needs(8, LeafRule.PURDUE) / C_PER_F)
    (595, 771)
    """
    check_within("leaves", leaves, 0, 20, "leaves")
    slow, fast = min(leaves, SLOW_LEAVES), max(0, leaves - SLOW_LEAVES)
    return (EMERGENCE_F + slow * LEAF_F[rule] + fast * UPPER_LEAF_F[rule]) * C_PER_F


def leaves_at(degree_days: float, rule: LeafRule = LeafRule.NEBRASKA) -> int | None:
    """Collared leaves after so many degree days from planting, before the tassel ends the count.

    Parameters
    ----------
    degree_days : °C d in the variant ``86-50``, 0 or more
    rule : whose

    Returns
    -------
    leaves, at most 20; None before emergence

    Raises
    ------
    OutOfRange
        The sum is below zero.

    References
    ----------
    [hprcc], [nielsen].

    Examples
    --------
    >>> leaves_at(785 * C_PER_F, LeafRule.PURDUE)
    8
    """
    check_within("degree_days", degree_days, 0, 10_000, "°C d")
    reached = [leaves for leaves in range(21) if leaf_needs(leaves, rule) <= degree_days]
    return reached[-1] if reached else None


def stage_needs(maturity: str) -> Mapping[Stage, float]:
    """Degree days from planting to each stage of a variety class.

    Parameters
    ----------
    maturity : ``short``, ``medium`` or ``long``

    Returns
    -------
    °C d in the variant ``86-50``, in the order of the season

    Raises
    ------
    OutOfRange
        There is no such class.

    References
    ----------
    Emergence [nielsen]; leaves, and silks to maturity [hprcc]; tassel as a share of silk [S10].

    Examples
    --------
    >>> round(stage_needs("medium")[Stage.MATURITY])
    1397
    """
    if maturity not in _SILK_AND_RIPE_F:
        raise OutOfRange("maturity", maturity, f"one of {', '.join(_SILK_AND_RIPE_F)}")
    silk, blister, dough, dent, ripe = _SILK_AND_RIPE_F[maturity]
    after_emergence = {
        Stage.TASSELLING: silk * TASSEL_TO_SILK_SHARE,
        Stage.SILKING: silk,
        Stage.BLISTER: blister,
        Stage.DOUGH: dough,
        Stage.DENT: dent,
        Stage.MATURITY: ripe,
    }
    leaves = {
        stage: leaf_needs(int(stage[1:]) if stage is not Stage.EMERGENCE else 0)
        for stage in tuple(Stage)[: tuple(Stage).index(Stage.TASSELLING)]
    }
    return MappingProxyType(
        leaves | {stage: (EMERGENCE_F + f) * C_PER_F for stage, f in after_emergence.items()}
    )


def stage_days(days: Sequence[HeatDay], maturity: str = "medium") -> tuple[StageDay, ...]:
    """Day of each stage on a running sum of degree days that begins at planting.

    Parameters
    ----------
    days : the sum, in order, in the variant ``86-50``
    maturity : ``short``, ``medium`` or ``long``

    Returns
    -------
    one entry a stage, in the order of the season

    Raises
    ------
    OutOfRange
        There is no such class.

    References
    ----------
    Needs of the stages [hprcc], [nielsen], [S10]; the day by arithmetic.

    Examples
    --------
    >>> from datetime import timedelta
    >>> day = date(2025, 12, 1)
    >>> sums = [HeatDay(day + timedelta(n), 16.0, 16.0 * (n + 1), Basis.MEASURED) for n in range(5)]
    >>> stage_days(sums)[0].on
    datetime.date(2025, 12, 4)
    """
    reached = []
    for stage, needs in stage_needs(maturity).items():
        on = next((day.on for day in days if day.total is not None and day.total >= needs), None)
        bridged = any(day.basis is Basis.NORMAL for day in days if on is not None and day.on <= on)
        reached.append(StageDay(stage, needs, on, bridged))
    return tuple(reached)


def days_to_stage(stage: Stage, maturity: str) -> int:
    """Days from planting to a stage, where no temperatures are known.

    Parameters
    ----------
    stage : one of those printed with days: emergence, V2, tasselling, silking and later
    maturity : ``short``, ``medium`` or ``long``

    Returns
    -------
    days after planting, rounded to whole days

    Raises
    ------
    OutOfRange
        There is no such class, or the stage is printed without days.

    References
    ----------
    Share of the days to maturity [S10]; days to maturity of the class [S18].

    Examples
    --------
    >>> days_to_stage(Stage.SILKING, "medium")
    74
    """
    if stage not in DAYS_AFTER_SOWING:
        raise OutOfRange("stage", stage.value, f"one of {', '.join(DAYS_AFTER_SOWING)}")
    share = DAYS_AFTER_SOWING[stage] / DAYS_AFTER_SOWING[Stage.MATURITY]
    return round(days_to_maturity(maturity) * share)
