"""Nitrogen top-dressing by the level measured cup: grams, kilograms, bags and nitrogen.

Density differs from bag to bag and shifts the dose by a tenth and more: weigh a level cup of the
product in hand. The label, local rules and a licensed adviser overrule every figure here. Keep
the bags dry and away from children, stock, fire and fuel; ammonium nitrate feeds a fire.
"""

from dataclasses import dataclass
from math import ceil
from types import MappingProxyType
from typing import Final

from reminder_service.agronomy import spacing
from reminder_service.agronomy.errors import OutOfRange, check_within


@dataclass(frozen=True, slots=True)
class Product:
    """A straight nitrogen fertiliser.

    Attributes
    ----------
    n_share : nitrogen by weight, 0 to 1
    density_g_per_ml : g/ml, loose, as a cup is filled
    """

    n_share: float
    density_g_per_ml: float


PRODUCTS: Final = MappingProxyType(
    {
        # N: S25, and 34.6 % measured in S27. Density: S26, middle of 54-58 lb/cu ft (prill).
        "an": Product(n_share=0.345, density_g_per_ml=0.90),
        # N: S25. Density: S26, middle of 44-48 lb/cu ft (granular).
        "urea": Product(n_share=0.46, density_g_per_ml=0.74),
        # N: S64, the grade on the label. Density: value from memory.
        "can": Product(n_share=0.27, density_g_per_ml=1.00),
    }
)
"""Ammonium nitrate, urea and calcium ammonium nitrate, by the names that commands take."""

BAG_KG: Final = 50  # common practice, no source

STATIONS_RANGE: Final = (1, 10_000_000)  # setting: up to a whole programme's plots
CUP_ML_RANGE: Final = (0.5, 250)  # setting: outside it, litres or a bucket were meant
DOSES_RANGE: Final = (1, 6)  # setting: two are usual
AREA_HA_RANGE: Final = (0.001, 100_000)  # setting
N_KG_RANGE: Final = (1, 500)  # setting: more belongs on no rain-fed maize


@dataclass(frozen=True, slots=True)
class Dressing:
    """What top-dressing a plot takes.

    Attributes
    ----------
    grams_per_station : g of product laid at a station in one dose
    kg : kg of product for all doses on the whole plot
    bags_50kg : whole bags of 50 kg to buy for that
    n_kg_per_ha : kg of nitrogen per hectare in all doses together
    """

    grams_per_station: float
    kg: float
    bags_50kg: int
    n_kg_per_ha: float


def product_named(name: str) -> Product:
    """Product of a name.

    Parameters
    ----------
    name : ``an``, ``urea`` or ``can``

    Returns
    -------
    its nitrogen and loose density

    Raises
    ------
    OutOfRange
        There is no such product.

    References
    ----------
    Nitrogen [S25], [S27], [S64]; density [S26], for ``can`` [memory].

    Examples
    --------
    >>> product_named("urea").n_share
    0.46
    """
    if name not in PRODUCTS:
        raise OutOfRange("product", name, f"one of {', '.join(PRODUCTS)}")
    return PRODUCTS[name]


def dressing(
    stations: int,
    cup_ml: float,
    product: str,
    doses: int = 1,
    *,
    row_cm: float = spacing.ROW_CM,
    in_row_cm: float = spacing.IN_ROW_CM,
    stations_per_ha: float | None = None,
    area_ha: float | None = None,
) -> Dressing:
    """Product and nitrogen that one level cup a station comes to.

    Stations per hectare are taken from ``stations_per_ha`` if given, else from ``area_ha``, else
    from the spacing, which is 75 x 60 cm where nothing is said.

    Parameters
    ----------
    stations : planting stations of the plot, 1 to 10,000,000
    cup_ml : level cup laid at a station in one dose, ml, 0.5 to 250
    product : ``an``, ``urea`` or ``can``
    doses : dressings in the season, 1 to 6
    row_cm, in_row_cm : spacing, cm, 10 to 500
    stations_per_ha : 1 to 1,000,000
    area_ha : plot area, ha, 0.001 to 100,000

    Returns
    -------
    grams a station for one dose; kilograms, bags and nitrogen for all doses

    Raises
    ------
    OutOfRange
        A measure is outside its range, or there is no such product.

    References
    ----------
    Arithmetic. Nitrogen and density as in ``product_named``; bag and spacing: Common practice,
    no source.

    Examples
    --------
    >>> need = dressing(stations=2000, cup_ml=5, product="an", doses=2)
    >>> need.grams_per_station, need.kg, need.bags_50kg, round(need.n_kg_per_ha, 1)
    (4.5, 18.0, 1, 69.0)
    """
    check_within("stations", stations, *STATIONS_RANGE, "stations")
    check_within("cup_ml", cup_ml, *CUP_ML_RANGE, "ml")
    check_within("doses", doses, *DOSES_RANGE, "doses")
    if stations_per_ha is None:
        stations_per_ha = _density(stations, area_ha, row_cm, in_row_cm)
    check_within("stations_per_ha", stations_per_ha, *spacing.DENSITY_RANGE, "stations/ha")
    chosen = product_named(product)
    grams = cup_ml * chosen.density_g_per_ml
    kg = grams * doses * stations / 1000
    return Dressing(
        grams_per_station=grams,
        kg=kg,
        bags_50kg=ceil(round(kg / BAG_KG, 6)),  # 100 kg and a rounding error are two bags
        n_kg_per_ha=grams * doses * stations_per_ha / 1000 * chosen.n_share,
    )


def _density(stations: int, area_ha: float | None, row_cm: float, in_row_cm: float) -> float:
    """Stations per hectare from the plot's area, else from its spacing."""
    if area_ha is None:
        return spacing.stations_per_ha(row_cm, in_row_cm)
    check_within("area_ha", area_ha, *AREA_HA_RANGE, "ha")
    return stations / area_ha


def cup_ml_for(n_kg_per_ha: float, product: str, stations_per_ha: float, doses: int = 1) -> float:
    """Level cup a station that brings a wanted amount of nitrogen.

    Parameters
    ----------
    n_kg_per_ha : nitrogen wanted in all doses together, kg/ha, 1 to 500
    product : ``an``, ``urea`` or ``can``
    stations_per_ha : 1 to 1,000,000
    doses : dressings it is split into, 1 to 6

    Returns
    -------
    ml for one station and one dose

    Raises
    ------
    OutOfRange
        A measure is outside its range, or there is no such product.

    References
    ----------
    Arithmetic. Nitrogen and density as in ``product_named``.

    Examples
    --------
    >>> round(cup_ml_for(34.5, "an", spacing.stations_per_ha(75, 60)), 2)
    5.0
    """
    check_within("n_kg_per_ha", n_kg_per_ha, *N_KG_RANGE, "kg/ha")
    check_within("stations_per_ha", stations_per_ha, *spacing.DENSITY_RANGE, "stations/ha")
    check_within("doses", doses, *DOSES_RANGE, "doses")
    chosen = product_named(product)
    grams = n_kg_per_ha / chosen.n_share * 1000 / stations_per_ha / doses
    return grams / chosen.density_g_per_ml
