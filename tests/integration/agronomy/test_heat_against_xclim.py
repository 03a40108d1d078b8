"""Degree days against a public library, over every season of an open record."""

from datetime import date, timedelta
from importlib.util import find_spec
from pathlib import Path

import pandas
import pytest
import xarray
from xclim.indices import growing_degree_days

from reminder_service.agronomy.heat import Temperatures, Variant, heat_sum

# The library still asks pandas for a name that pandas is about to drop; nothing of ours does.
pytestmark = pytest.mark.filterwarnings("ignore:The 'name' property is deprecated")

PLACES = ("hyderabad", "tunis", "champion")


def air(place: str) -> dict[date, Temperatures]:
    """Temperatures of a record that a crop model ships, read without importing the model."""
    spec = find_spec("aquacrop")
    assert spec is not None and spec.submodule_search_locations
    file = Path(spec.submodule_search_locations[0]) / "data" / f"{place}_climate.txt"
    days = {}
    for line in file.read_text("utf-8").splitlines()[1:]:
        day, month, year, tmin_c, tmax_c, _, _ = line.split()
        days[date(int(year), int(month), int(day))] = Temperatures(float(tmin_c), float(tmax_c))
    return days


def test_the_season_of_the_reference() -> None:
    days = air("hyderabad")
    season = date(2005, 6, 20), date(2005, 10, 17)
    assert heat_sum(days, *season, Variant.PLAIN)[-1].total == pytest.approx(1918.55)
    assert heat_sum(days, *season)[-1].total == pytest.approx(1863.5)


@pytest.mark.parametrize("place", PLACES)
def test_plain_sums_of_every_year_and_month_agree(place: str) -> None:
    days = air(place)
    first, last = min(days), max(days)
    ours = heat_sum(days, first, last, Variant.PLAIN)
    assert all(day.total is not None for day in ours)
    index = pandas.date_range(first, last)
    means = [(days[on].tmin_c + days[on].tmax_c) / 2 for on in index.date]
    series = xarray.DataArray(means, coords={"time": index}, dims="time", attrs={"units": "degC"})
    theirs = growing_degree_days(series, thresh="10 degC", freq="MS").to_series()
    by_month = pandas.Series([day.degree_days for day in ours], index=index).resample("MS").sum()
    assert len(by_month) > 120
    assert by_month.to_numpy() == pytest.approx(theirs.to_numpy(), abs=1e-6)


def test_limited_sums_are_those_of_temperatures_limited_first() -> None:
    days = air("tunis")
    first, last = min(days), max(days)
    index = pandas.date_range(first, last)
    limited = [
        sum(min(max(air_c, 10.0), 30.0) for air_c in (days[on].tmin_c, days[on].tmax_c)) / 2
        for on in index.date
    ]
    series = xarray.DataArray(limited, coords={"time": index}, dims="time", attrs={"units": "degC"})
    theirs = growing_degree_days(series, thresh="10 degC", freq="YS").sum()
    assert heat_sum(days, first, last)[-1].total == pytest.approx(float(theirs))


def test_a_southern_season_moves_with_its_days() -> None:
    days = air("hyderabad")
    moved = {on + timedelta(days=184): found for on, found in days.items()}
    start, end = date(2005, 6, 20), date(2005, 10, 17)
    south = heat_sum(moved, start + timedelta(days=184), end + timedelta(days=184))
    assert south[-1].total == heat_sum(days, start, end)[-1].total
    assert south[0].on.year < south[-1].on.year
