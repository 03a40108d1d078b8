"""Evapotranspiration and soil water against two public libraries, on generated weather."""

import random
from datetime import date, timedelta

import pandas
import pyfao56
import pytest
import refet
from pyfao56.refet import ascedaily

from reminder_service.agronomy.crop_water import PRINTED_GROWTH, ROOT_FIRST_M, SEEDLING_M
from reminder_service.agronomy.evapotranspiration import (
    Place,
    extraterrestrial_radiation,
    net_radiation,
    reference_et_mm,
    saturation_kpa,
)
from reminder_service.agronomy.heat import Temperatures
from reminder_service.agronomy.soils import SOILS
from reminder_service.agronomy.water import Plot, WaterDay, water_balance

PLANTED = date(2025, 11, 20)
LAST = PLANTED + timedelta(days=139)


def weather(seed: int):
    """One generated day: place, day of the year, air, sun, vapour and wind."""
    draw = random.Random(seed).uniform
    place, day_of_year = Place(draw(-35, 35), draw(0, 2500)), int(draw(1, 365))
    tmin_c = draw(2, 26)
    day = Temperatures(tmin_c, tmin_c + draw(2, 18))
    sun = draw(0.25, 0.74) * extraterrestrial_radiation(place.latitude_deg, day_of_year)
    return place, day_of_year, day, sun, saturation_kpa(tmin_c) * draw(0.3, 1), draw(0.5, 8)


def ours(seed: int) -> float:
    place, day_of_year, day, sun, vapour, wind = weather(seed)
    net = net_radiation(day, sun, vapour, place, day_of_year)
    return reference_et_mm(day, net, vapour, wind, place.altitude_m)


def test_evapotranspiration_of_500_days_agrees_with_pyfao56() -> None:
    worst = 0.0
    for seed in range(500):
        place, day_of_year, day, sun, vapour, wind = weather(seed)
        theirs = ascedaily(
            "S",
            place.altitude_m,
            place.latitude_deg,
            day_of_year,
            sun,
            day.tmax_c,
            day.tmin_c,
            vapr=vapour,
            wndsp=wind,
        )
        worst = max(worst, abs(ours(seed) - theirs))
    # Theirs rounds the density of the air and the wind's height a little differently.
    assert worst < 0.005


def test_evapotranspiration_of_200_days_agrees_with_refet() -> None:
    worst = 0.0
    for seed in range(1000, 1200):
        place, day_of_year, day, sun, vapour, wind = weather(seed)
        theirs = refet.Daily(
            tmin=day.tmin_c,
            tmax=day.tmax_c,
            rs=sun,
            uz=wind,
            zw=2.0,
            elev=place.altitude_m,
            lat=place.latitude_deg,
            doy=day_of_year,
            ea=vapour,
        ).eto()
        worst = max(worst, abs(ours(seed) - float(theirs[0])))
    assert worst < 0.005


def season(seed: int) -> tuple[dict[date, float], dict[date, float]]:
    """Rain and reference evapotranspiration of a generated season."""
    draw = random.Random(seed)
    days = [PLANTED + timedelta(days=n) for n in range((LAST - PLANTED).days + 1)]
    rain = {on: round(draw.expovariate(1 / 14), 1) if draw.random() < 0.3 else 0.0 for on in days}
    return rain, {on: round(draw.uniform(2.5, 7.5), 2) for on in days}


def theirs_of(plot: Plot, rain: dict[date, float], et0: dict[date, float]) -> pandas.DataFrame:
    """The same season by pyfao56."""
    soil, growth = plot.soil, plot.growth
    start = soil.wilting_point + plot.start_share * (soil.field_capacity - soil.wilting_point)
    parameters = pyfao56.Parameters(
        Kcbini=0.15,
        Kcbmid=1.15,
        Kcbend=0.15,
        Lini=growth.first,
        Ldev=growth.development,
        Lmid=growth.middle,
        Lend=growth.last,
        hini=SEEDLING_M,
        hmax=2.0,
        thetaFC=soil.field_capacity,
        thetaWP=soil.wilting_point,
        theta0=start,
        Zrini=ROOT_FIRST_M,
        Zrmax=plot.root_deepest_m,
        pbase=0.55,
        Ze=0.10,
        REW=soil.readily_evaporable_mm,
    )
    record = pyfao56.Weather()
    record.rfcrp, record.z, record.lat, record.wndht = "S", 1000.0, -17.0, 2.0
    unused = float("nan")
    record.wdata = pandas.DataFrame.from_dict(
        {
            on.strftime("%Y-%j"): [
                20.0,
                28.0,
                15.0,
                unused,
                unused,
                90.0,
                plot.humidity_min,
                plot.wind_m_s,
                rain[on],
                et0[on],
                "M",
            ]
            for on in rain
        },
        orient="index",
        columns=record.cnames,
    )
    profile = None
    if plot.start_share < 1:  # only its layered soil is dry below the roots as well
        profile = pyfao56.SoilProfile()
        profile.sdata = pandas.DataFrame(
            {
                "thetaFC": [soil.field_capacity],
                "thetaWP": [soil.wilting_point],
                "theta0": [start],
            },
            index=[round(100 * plot.root_deepest_m)],
        )
    model = pyfao56.Model(
        PLANTED.strftime("%Y-%j"), LAST.strftime("%Y-%j"), parameters, record, sol=profile
    )
    model.run()
    return model.odata


def worst(days: tuple[WaterDay, ...], theirs: pandas.DataFrame, ours: str, column: str) -> float:
    pairs = zip(days, theirs[column], strict=True)
    return max(abs(getattr(day, ours) - value) for day, value in pairs)


@pytest.mark.parametrize("name", SOILS)
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_soil_water_of_a_wet_start_agrees_to_the_hundredth(name: str, seed: int) -> None:
    plot = Plot(SOILS[name], PRINTED_GROWTH, start_share=1.0)
    rain, et0 = season(seed)
    days = water_balance(plot, PLANTED, LAST, rain, et0)
    theirs = theirs_of(plot, rain, et0)
    assert worst(days, theirs, "missing_mm", "Dr") < 0.01
    assert worst(days, theirs, "topsoil_missing_mm", "De") < 0.01
    assert worst(days, theirs, "drained_mm", "DP") < 0.01
    assert worst(days, theirs, "used_mm", "ETa") < 0.01
    assert worst(days, theirs, "stress", "Ks") < 0.001
    assert worst(days, theirs, "stress_after", "Ksend") < 0.001
    assert min(day.stress for day in days) < 0.9  # the season is dry enough to tell them apart


@pytest.mark.parametrize("name", SOILS)
@pytest.mark.parametrize("seed", [2, 7])
def test_soil_water_of_a_dry_start_agrees(name: str, seed: int) -> None:
    plot = Plot(SOILS[name], PRINTED_GROWTH, start_share=0.3)
    rain, et0 = season(seed)
    days = water_balance(plot, PLANTED, LAST, rain, et0)
    theirs = theirs_of(plot, rain, et0)
    assert worst(days, theirs, "topsoil_missing_mm", "De") < 0.01
    # Once the root zone is empty, theirs charges what the surface still gives off to the soil
    # below the roots; ours charges nothing that is not there.
    emptied = any(day.stress == 0 for day in days)
    assert worst(days, theirs, "missing_mm", "Dr") < (1.0 if emptied else 0.01)
