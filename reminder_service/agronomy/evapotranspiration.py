"""Reference evapotranspiration of a day: by Penman-Monteith, or from temperatures alone."""

from dataclasses import dataclass
from math import acos, cos, exp, log, pi, radians, sin, sqrt, tan
from typing import Final

from reminder_service.agronomy.errors import check_within
from reminder_service.agronomy.heat import Temperatures

ALBEDO: Final = 0.23  # fao56: of the reference grass
SOLAR_CONSTANT: Final = 0.0820  # fao56: MJ/(m2 min)
STEFAN_BOLTZMANN: Final = 4.903e-9  # fao56: MJ/(K4 m2 d)
MM_PER_MJ: Final = 0.408  # fao56: water that one MJ/m2 evaporates
KELVIN: Final = 273.16  # fao56

LATITUDE_RANGE: Final = (-65.0, 65.0)  # setting: beyond, some days have no sunset
ALTITUDE_M_RANGE: Final = (-450.0, 6000.0)  # setting


@dataclass(frozen=True, slots=True)
class Place:
    """Where the weather was measured: degrees of latitude, south below zero, and metres."""

    latitude_deg: float
    altitude_m: float

    def __post_init__(self) -> None:
        check_within("latitude_deg", self.latitude_deg, *LATITUDE_RANGE, "degrees")
        check_within("altitude_m", self.altitude_m, *ALTITUDE_M_RANGE, "m")


def extraterrestrial_radiation(latitude_deg: float, day_of_year: int) -> float:
    """Sunshine above the air on one day.

    Parameters
    ----------
    latitude_deg : degrees, south below zero
    day_of_year : 1 to 366

    Returns
    -------
    MJ/(m2 d)

    References
    ----------
    Equations 21 to 25 [fao56].

    Examples
    --------
    >>> round(extraterrestrial_radiation(-20, 246), 1)
    32.2
    """
    sunset, declination = _sunset_angle(latitude_deg, day_of_year)
    nearness = 1 + 0.033 * cos(2 * pi * day_of_year / 365)
    latitude = radians(latitude_deg)
    height = sunset * sin(latitude) * sin(declination)
    height += cos(latitude) * cos(declination) * sin(sunset)
    return 24 * 60 / pi * SOLAR_CONSTANT * nearness * height


def daylight_hours(latitude_deg: float, day_of_year: int) -> float:
    """Hours from sunrise to sunset.

    Parameters
    ----------
    latitude_deg : degrees, south below zero
    day_of_year : 1 to 366

    Returns
    -------
    hours

    References
    ----------
    Equation 34 [fao56].

    Examples
    --------
    >>> round(daylight_hours(-20, 246), 1)
    11.7
    """
    return 24 / pi * _sunset_angle(latitude_deg, day_of_year)[0]


def _sunset_angle(latitude_deg: float, day_of_year: int) -> tuple[float, float]:
    """Hour angle of sunset and the sun's declination, in radians."""
    check_within("latitude_deg", latitude_deg, *LATITUDE_RANGE, "degrees")
    check_within("day_of_year", day_of_year, 1, 366, "days")
    declination = 0.409 * sin(2 * pi * day_of_year / 365 - 1.39)
    return acos(-tan(radians(latitude_deg)) * tan(declination)), declination


def radiation_from_sunshine(sunshine_h: float, latitude_deg: float, day_of_year: int) -> float:
    """Sunshine on the ground, from the hours of bright sun.

    Parameters
    ----------
    sunshine_h : hours of bright sun, 0 to 24; more than the day is long counts as all of it
    latitude_deg : degrees, south below zero
    day_of_year : 1 to 366

    Returns
    -------
    MJ/(m2 d)

    Raises
    ------
    OutOfRange
        The hours lie outside a day.

    References
    ----------
    Equation 35 with the shares 0.25 and 0.50 [fao56].

    Examples
    --------
    >>> round(radiation_from_sunshine(9.25, 50.8, 187), 1)
    22.1
    """
    check_within("sunshine_h", sunshine_h, 0, 24, "hours")
    share = min(1.0, sunshine_h / daylight_hours(latitude_deg, day_of_year))
    return (0.25 + 0.50 * share) * extraterrestrial_radiation(latitude_deg, day_of_year)


def saturation_kpa(air_c: float) -> float:
    """Vapour pressure of saturated air.

    Parameters
    ----------
    air_c : °C

    Returns
    -------
    kPa

    References
    ----------
    Equation 11 [fao56].

    Examples
    --------
    >>> round(saturation_kpa(24.5), 3)
    3.075
    """
    return 0.6108 * exp(17.27 * air_c / (air_c + 237.3))


def vapour_kpa(day: Temperatures, humidity_max: float, humidity_min: float) -> float:
    """Vapour pressure of the day's air, from its relative humidities.

    Parameters
    ----------
    day : its temperatures
    humidity_max, humidity_min : relative humidity, 0 to 100 %

    Returns
    -------
    kPa

    Raises
    ------
    OutOfRange
        A humidity lies outside 0 to 100 %.

    References
    ----------
    Equation 17 [fao56].

    Examples
    --------
    >>> round(vapour_kpa(Temperatures(18, 25), 82, 54), 2)
    1.7
    """
    check_within("humidity_max", humidity_max, 0, 100, "%")
    check_within("humidity_min", humidity_min, 0, 100, "%")
    lowest, highest = saturation_kpa(day.tmin_c), saturation_kpa(day.tmax_c)
    return (lowest * humidity_max + highest * humidity_min) / 200


def wind_at_2m(wind_m_s: float, height_m: float) -> float:
    """Wind at two metres above grass, from wind measured higher up.

    Parameters
    ----------
    wind_m_s : m/s, 0 to 60
    height_m : height of the measurement, 0.5 to 100 m

    Returns
    -------
    m/s

    Raises
    ------
    OutOfRange
        A measure lies outside its range.

    References
    ----------
    Equation 47 [fao56].

    Examples
    --------
    >>> round(wind_at_2m(3.2, 10), 1)
    2.4
    """
    check_within("wind_m_s", wind_m_s, 0, 60, "m/s")
    check_within("height_m", height_m, 0.5, 100, "m")
    return wind_m_s * 4.87 / log(67.8 * height_m - 5.42)


def net_radiation(
    day: Temperatures, solar_mj: float, vapour: float, place: Place, day_of_year: int
) -> float:
    """What the grass keeps of the sun after its own loss to the sky.

    Parameters
    ----------
    day : its temperatures
    solar_mj : sunshine on the ground, 0 to 50 MJ/(m2 d)
    vapour : vapour pressure, kPa
    place : where
    day_of_year : 1 to 366

    Returns
    -------
    MJ/(m2 d)

    Raises
    ------
    OutOfRange
        The sunshine lies outside its range.

    References
    ----------
    Equations 37 to 40 [fao56].

    Examples
    --------
    >>> round(net_radiation(Temperatures(12.3, 21.5), 22.07, 1.409, Place(50.8, 100), 187), 2)
    13.28
    """
    check_within("solar_mj", solar_mj, 0, 50, "MJ/(m2 d)")
    above = extraterrestrial_radiation(place.latitude_deg, day_of_year)
    clear_mj = (0.75 + 2e-5 * place.altitude_m) * above
    clearness = min(1.0, solar_mj / clear_mj)
    warmth = sum((t_c + KELVIN) ** 4 for t_c in (day.tmin_c, day.tmax_c)) / 2
    to_the_sky = (
        STEFAN_BOLTZMANN * warmth * (0.34 - 0.14 * sqrt(vapour)) * (1.35 * clearness - 0.35)
    )
    return (1 - ALBEDO) * solar_mj - to_the_sky


def reference_et_mm(
    day: Temperatures,
    net_mj: float,
    vapour: float,
    wind_2m_m_s: float,
    altitude_m: float,
    soil_heat_mj: float = 0.0,
) -> float:
    """Reference evapotranspiration by Penman-Monteith.

    Parameters
    ----------
    day : its temperatures
    net_mj : net radiation, MJ/(m2 d)
    vapour : vapour pressure, kPa
    wind_2m_m_s : wind at two metres, m/s
    altitude_m : m above the sea
    soil_heat_mj : heat that goes into the soil, MJ/(m2 d); nothing over one day

    Returns
    -------
    mm/d, 0 or more

    References
    ----------
    Equations 6 to 8, 12 and 13 [fao56].

    Examples
    --------
    >>> round(reference_et_mm(Temperatures(12.3, 21.5), 13.28, 1.409, 2.078, 100), 2)
    3.88
    """
    mean_c = (day.tmin_c + day.tmax_c) / 2
    pressure_kpa = 101.3 * float(((293 - 0.0065 * altitude_m) / 293) ** 5.26)
    psychrometric = 0.665e-3 * pressure_kpa
    slope = 4098 * saturation_kpa(mean_c) / (mean_c + 237.3) ** 2
    dryness = (saturation_kpa(day.tmin_c) + saturation_kpa(day.tmax_c)) / 2 - vapour
    sun = MM_PER_MJ * slope * (net_mj - soil_heat_mj)
    wind = psychrometric * 900 / (mean_c + 273) * wind_2m_m_s * dryness
    return max(0.0, (sun + wind) / (slope + psychrometric * (1 + 0.34 * wind_2m_m_s)))


def reference_et_from_temperatures_mm(
    day: Temperatures, latitude_deg: float, day_of_year: int
) -> float:
    """Reference evapotranspiration where only temperatures are known, by Hargreaves.

    Too low in strong wind and too high in damp air.

    Parameters
    ----------
    day : its temperatures
    latitude_deg : degrees, south below zero
    day_of_year : 1 to 366

    Returns
    -------
    mm/d, 0 or more

    References
    ----------
    Equation 52 [fao56].

    Examples
    --------
    >>> round(reference_et_from_temperatures_mm(Temperatures(14.8, 26.6), 45.72, 196), 1)
    5.0
    """
    above_mm = MM_PER_MJ * extraterrestrial_radiation(latitude_deg, day_of_year)
    mean_c = (day.tmin_c + day.tmax_c) / 2
    return max(0.0, 0.0023 * (mean_c + 17.8) * sqrt(day.tmax_c - day.tmin_c) * above_mm)
