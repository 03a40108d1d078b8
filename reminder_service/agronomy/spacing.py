"""Planting stations and plants on a hectare, from the spacing."""

from typing import Final

from reminder_service.agronomy.errors import check_within

CM2_PER_HA: Final = 100_000_000
ROW_CM: Final = 75.0  # common practice, no source: the spacing assumed where none is given
IN_ROW_CM: Final = 60.0  # common practice, no source

CM_RANGE: Final = (10, 500)  # setting: outside it, metres or millimetres were meant
DENSITY_RANGE: Final = (1, 1_000_000)  # arithmetic: the densest is 10 x 10 cm
PLANTS_RANGE: Final = (0, 20)  # setting: as many as a stand count takes


def stations_per_ha(row_cm: float = ROW_CM, in_row_cm: float = IN_ROW_CM) -> float:
    """Planting stations on one hectare.

    Parameters
    ----------
    row_cm : between rows, cm, 10 to 500
    in_row_cm : between stations in a row, cm, 10 to 500

    Returns
    -------
    stations/ha

    Raises
    ------
    OutOfRange
        A distance is below 10 or above 500 cm.

    References
    ----------
    Arithmetic.

    Examples
    --------
    >>> round(stations_per_ha(75, 60))
    22222
    """
    check_within("row_cm", row_cm, *CM_RANGE, "cm")
    check_within("in_row_cm", in_row_cm, *CM_RANGE, "cm")
    return CM2_PER_HA / (row_cm * in_row_cm)


def plants_per_ha(stations: float, plants_a_station: float) -> float:
    """Plants on one hectare.

    Parameters
    ----------
    stations : stations/ha, 1 to 1,000,000
    plants_a_station : mean plants at a station, 0 to 20

    Returns
    -------
    plants/ha

    Raises
    ------
    OutOfRange
        A measure is outside its range.

    References
    ----------
    Arithmetic.

    Examples
    --------
    >>> round(plants_per_ha(stations_per_ha(75, 60), 2))
    44444
    """
    check_within("stations", stations, *DENSITY_RANGE, "stations/ha")
    check_within("plants_a_station", plants_a_station, *PLANTS_RANGE, "plants a station")
    return stations * plants_a_station
