"""Manure tea: bags, drums and water for a plot, and the stop before harvest.

Tea of raw manure counts as raw manure. Wear gloves or wash hands, keep it off leaves and cobs,
keep the drum covered and away from wells and children. Local rules overrule the figures here.
"""

from dataclasses import dataclass
from math import ceil
from typing import Final

from reminder_service.agronomy.errors import check_within

STOP_DAYS: Final = 90  # S39: raw manure before harvest, eaten part clear of the soil
STOP_DAYS_TOUCHING_SOIL: Final = 120  # S39: the same, eaten part touching the soil

WATER_PARTS: Final = 10  # common practice, no source: to one part of steeped tea
DRUM_L: Final = 200  # S36
MANURE_KG_A_BAG: Final = 40  # S36: middle of 30-50 kg, one bag a drum
LITRES_A_STATION: Final = 0.5  # setting

STATIONS_RANGE: Final = (1, 10_000_000)  # setting: up to a whole programme's plots
LITRES_RANGE: Final = (0.05, 10)  # setting


@dataclass(frozen=True, slots=True)
class TeaBatch:
    """What one application of manure tea takes.

    Attributes
    ----------
    dilute_l : litres of dilute tea for the plot
    steeped_l : litres of steeped tea in that
    water_l : litres of water to dilute it with, not counting the drums' own
    drums, bags : whole drums to fill, one bag of manure in each
    manure_kg : kg of fresh manure for all bags
    """

    dilute_l: float
    steeped_l: float
    water_l: float
    drums: int
    bags: int
    manure_kg: int


def tea_batch(stations: int, litres_per_station: float = LITRES_A_STATION) -> TeaBatch:
    """Drums, bags, manure and water for one application.

    A drum is counted at its full 200 litres; the bulk of the bag is not taken off.

    Parameters
    ----------
    stations : planting stations of the plot, 1 to 10,000,000
    litres_per_station : dilute tea at a station, l, 0.05 to 10

    Returns
    -------
    what the application takes

    Raises
    ------
    OutOfRange
        A measure is outside its range.

    References
    ----------
    Manure a drum [S36]; one part to ten of water: Common practice, no source; litres a station
    [setting].

    Examples
    --------
    >>> tea_batch(stations=4400, litres_per_station=0.5)
    TeaBatch(dilute_l=2200.0, steeped_l=200.0, water_l=2000.0, drums=1, bags=1, manure_kg=40)
    """
    check_within("stations", stations, *STATIONS_RANGE, "stations")
    check_within("litres_per_station", litres_per_station, *LITRES_RANGE, "l")
    dilute_l = stations * litres_per_station
    steeped_l = dilute_l / (1 + WATER_PARTS)
    drums = ceil(round(steeped_l / DRUM_L, 6))  # a full drum and a rounding error are one drum
    return TeaBatch(
        dilute_l=dilute_l,
        steeped_l=steeped_l,
        water_l=dilute_l - steeped_l,
        drums=drums,
        bags=drums,
        manure_kg=drums * MANURE_KG_A_BAG,
    )
