"""Reference evapotranspiration day by day: measured temperatures, else usual ones, else unknown."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from reminder_service.agronomy.evapotranspiration import reference_et_from_temperatures_mm
from reminder_service.agronomy.heat import Basis, Temperatures
from reminder_service.agronomy.water import ET0_MM_RANGE


@dataclass(frozen=True, slots=True)
class Et0Day:
    """Reference evapotranspiration of one day.

    Attributes
    ----------
    mm : mm/d
    basis : whether the temperatures were measured or are the usual ones of the month
    """

    mm: float
    basis: Basis


def et0_days(
    latitude_deg: float | None,
    first: date,
    last: date,
    measured: Mapping[date, Temperatures],
    normals: Mapping[int, Temperatures],
) -> dict[date, Et0Day]:
    """Reference evapotranspiration of some days, by Hargreaves.

    Parameters
    ----------
    latitude_deg : degrees, south below zero; None if it is not known
    first, last : local days, both included
    measured : lowest and highest temperature by local day
    normals : usual ones by month, 1 to 12

    Returns
    -------
    by local day; days without any temperatures are left out, and all of them without a latitude

    References
    ----------
    Equation 52 [fao56]; measured before usual is a [setting].

    Examples
    --------
    >>> day = date(2026, 7, 15)
    >>> found = et0_days(45.72, day, day, {day: Temperatures(14.8, 26.6)}, {})
    >>> round(found[day].mm, 1), found[day].basis.value
    (5.0, 'measured')
    """
    if latitude_deg is None:
        return {}
    found = {}
    for number in range((last - first).days + 1):
        on = first + timedelta(days=number)
        air = measured.get(on, normals.get(on.month))
        if air is None:
            continue
        basis = Basis.MEASURED if on in measured else Basis.NORMAL
        mm = reference_et_from_temperatures_mm(air, latitude_deg, on.timetuple().tm_yday)
        found[on] = Et0Day(min(mm, ET0_MM_RANGE[1]), basis)
    return found
