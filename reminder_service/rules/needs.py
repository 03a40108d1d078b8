"""What a task takes on one plot: fertiliser by the cup, manure and its tea by the station."""

from dataclasses import dataclass
from math import ceil
from typing import Literal

from pydantic import Field

from reminder_service.agronomy.manure import LITRES_RANGE, tea_batch
from reminder_service.agronomy.nitrogen import CUP_ML_RANGE, dressing
from reminder_service.rules.bounds import Strict


class CupNeed(Strict):
    """Fertiliser laid by one level cup at every station."""

    product: Literal["an", "can", "urea"]
    cup_ml: float = Field(
        ge=CUP_ML_RANGE[0], le=CUP_ML_RANGE[1], strict=False, description="Level cup, ml."
    )
    source: str = Field(min_length=1, description="Where the measure comes from.")


class TeaNeed(Strict):
    """Manure tea poured at every station, or the manure that is hung in water for it."""

    of: Literal["tea", "manure"]
    litres_per_station: float = Field(
        ge=LITRES_RANGE[0], le=LITRES_RANGE[1], strict=False, description="Dilute tea, l."
    )
    source: str = Field(min_length=1, description="Where the measure comes from.")


Need = CupNeed | TeaNeed
"""What one station takes at a task."""


@dataclass(frozen=True, slots=True)
class Amount:
    """What a whole plot takes at a task once.

    Attributes
    ----------
    quantity : rounded up to whole units
    unit : ``kg`` or ``l``
    """

    quantity: int
    unit: Literal["kg", "l"]

    def __str__(self) -> str:
        """The quantity with its unit, as texts show it."""
        return f"{self.quantity} {self.unit}"


def plot_amount(need: Need, stations: int) -> Amount:
    """What a plot takes at a task once.

    Parameters
    ----------
    need : of one station, from the rulebook
    stations : planting stations of the plot, 1 or more

    Returns
    -------
    the amount; rounded up, since farmers buy and carry whole kilograms and litres

    Raises
    ------
    OutOfRange
        A measure is outside its range.

    References
    ----------
    Arithmetic, on `agronomy.nitrogen.dressing` and `agronomy.manure.tea_batch`.

    Examples
    --------
    >>> str(plot_amount(CupNeed(product="an", cup_ml=5, source="setting"), 5600))
    '26 kg'
    """
    if isinstance(need, CupNeed):
        return Amount(ceil(dressing(stations, need.cup_ml, need.product).kg), "kg")
    batch = tea_batch(stations, need.litres_per_station)
    if need.of == "manure":
        return Amount(batch.manure_kg, "kg")
    return Amount(ceil(batch.dilute_l), "l")
