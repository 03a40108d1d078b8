"""Degree days against xclim's ``growing_degree_days``, year by year on open daily temperatures.

xclim knows no cap: for the limited variant it is given temperatures that were limited before.
"""

from collections.abc import Mapping
from datetime import date

import pandas
import pytest
import xarray
import xclim.indices
from open_daily_air import open_daily_air
from open_daily_rain import CLIMATES

from reminder_service.agronomy.heat import Temperatures, Variant, heat_sum

# xclim 0.62 itself still asks pandas by the old name.
pytestmark = pytest.mark.filterwarnings("ignore:The 'name' property is deprecated")

Air = Mapping[date, Temperatures]


def whole_years(air: Air) -> list[int]:
    """Years of which every day is known."""
    years = sorted({on.year for on in air})
    return [
        year
        for year in years
        if sum(on.year == year for on in air) == (date(year + 1, 1, 1) - date(year, 1, 1)).days
    ]


def xclims_sums(air: Air) -> dict[int, float]:
    """Degree days above 10 °C of each year by xclim, from daily means."""
    days = pandas.DatetimeIndex([pandas.Timestamp(on) for on in air])
    mean = [(each.tmin_c + each.tmax_c) / 2 for each in air.values()]
    series = xarray.DataArray(mean, {"time": days}, ("time",), attrs={"units": "degC"})
    sums = xclim.indices.growing_degree_days(series, thresh="10 degC", freq="YS")
    return {int(when.dt.year): float(total) for when, total in zip(sums.time, sums, strict=True)}


def limited(air: Air) -> Air:
    """Temperatures brought between 10 and 30 °C."""
    return {
        on: Temperatures(*(min(max(t_c, 10.0), 30.0) for t_c in (each.tmin_c, each.tmax_c)))
        for on, each in air.items()
    }


@pytest.mark.parametrize("place", CLIMATES)
@pytest.mark.parametrize(
    ("variant", "brought"), [(Variant.PLAIN, dict), (Variant.LIMITED, limited)], ids=lambda v: ""
)
def test_a_years_degree_days_are_xclims(place, variant, brought):
    air = open_daily_air(place)
    theirs = xclims_sums(brought(air))
    years = whole_years(air)
    assert years
    for year in years:
        ours = heat_sum(air, date(year, 1, 1), date(year, 12, 31), variant)
        assert ours[-1].total == pytest.approx(theirs[year], rel=1e-6)


def test_hyderabads_season_is_the_one_of_the_reference():
    """20 June to 17 October 2005: 1918.55 without a cap, 1863.5 between the limits."""
    air = open_daily_air("Hyderabad")
    first, last = date(2005, 6, 20), date(2005, 10, 17)
    plain = heat_sum(air, first, last, Variant.PLAIN)[-1].total
    capped = heat_sum(air, first, last, Variant.LIMITED)[-1].total
    assert plain == pytest.approx(1918.55, abs=0.01)
    assert capped == pytest.approx(1863.5, abs=0.05)
