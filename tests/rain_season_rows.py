"""Many seasons of daily rain side by side, asked of xclim's ``rain_season`` in one call.

Every season is laid on one made calendar, so that its first day of search falls on one day. What
it is asked is made alike with the shipped rule:

- A dry day of xclim is one at or below its threshold: 0.99 mm stands for "below 1 mm" (all series
  are given to a hundredth of a millimetre or coarser, the inches apart, where none lies between).
- Its sum needs all its days after the first day that may be asked: that day is moved back.
- Its look-ahead counts to the day that a dry run begins, the wet days included: see `look_ahead`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy
import pandas
import xarray
from xclim.indices import rain_season

from reminder_service.agronomy.onset_criteria import Criterion

DRY_DAY = "0.99 mm"
DAYS_BEFORE = 30
DAYS_AFTER = 240
SEARCHED_DAYS = 200


@dataclass(frozen=True, slots=True)
class Season:
    """One season of one series, from the first day of its search."""

    series: str
    search_from: date
    rain: Mapping[date, float]

    @property
    def search_until(self) -> date:
        return self.search_from + timedelta(SEARCHED_DAYS - 1)

    @property
    def known_until(self) -> date:
        return self.search_from + timedelta(DAYS_AFTER - 1)


def seasons_of(series: str, rain: Mapping[date, float], month: int, day: int) -> list[Season]:
    """Seasons that begin on one day of the year and lie wholly within a record."""
    days = range(-DAYS_BEFORE, DAYS_AFTER)
    seasons = []
    for year in range(min(rain).year, max(rain).year + 1):
        begin = date(year, month, day)
        named = {begin + timedelta(n) for n in days}
        if named <= rain.keys():
            seasons.append(Season(series, begin, {on: rain[on] for on in sorted(named)}))
    return seasons


def equal_look_ahead(chosen: Criterion) -> int:
    """Days that make xclim reject just the runs that lie wholly inside the look-ahead.

    A run of r days inside the l days after the onset begins on day l - r + 1 at the latest; xclim
    takes a start whose next run begins n + w days later or more.
    """
    return chosen.look_ahead_days - chosen.reject_dry_days + 2 - chosen.within_days


def xclim_starts_and_ends(
    seasons: Sequence[Season], chosen: Criterion, look_ahead: int, ends_after: int
) -> list[tuple[date | None, date | None]]:
    """Start and end of each season as xclim answers them.

    ``ends_after`` is the first day that the rains may end, in days from the start of the search.
    """
    made = date(2001, 2, 1)  # no leap year, and early enough for a whole season before its end
    first = made - timedelta(DAYS_BEFORE)
    millimetres = [
        [season.rain[season.search_from + timedelta(n)] for n in range(-DAYS_BEFORE, DAYS_AFTER)]
        for season in seasons
    ]
    pr = xarray.DataArray(
        numpy.array(millimetres),
        dims=("season", "time"),
        coords={"time": pandas.date_range(str(first), periods=DAYS_BEFORE + DAYS_AFTER)},
        attrs={"units": "mm/day"},
    )
    # A hundredth more than "more than" asks for, as no series is finer.
    wet_mm = chosen.wet_mm + (0.01 if chosen.wet_test == "more_than" else 0.0)
    starts, ends, _ = rain_season(
        pr,
        thresh_wet_start=f"{wet_mm} mm",
        window_wet_start=chosen.within_days,
        window_not_dry_start=look_ahead,
        thresh_dry_start=DRY_DAY,
        window_dry_start=chosen.reject_dry_days,
        date_min_start=_month_day(made - timedelta(chosen.within_days - 1)),
        date_max_start=_month_day(made + timedelta(SEARCHED_DAYS - 1)),
        date_min_end=_month_day(made + timedelta(ends_after)),
        date_max_end=_month_day(made + timedelta(DAYS_AFTER - 1)),
    )
    offset = made.timetuple().tm_yday
    return [
        (_day(season, start - offset), _day(season, end - offset))
        for season, start, end in zip(
            seasons, starts.values.ravel(), ends.values.ravel(), strict=True
        )
    ]


def _month_day(day: date) -> str:
    return day.strftime("%m-%d")


def _day(season: Season, place: float) -> date | None:
    return None if numpy.isnan(place) else season.search_from + timedelta(int(place))
