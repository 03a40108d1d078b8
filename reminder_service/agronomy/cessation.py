"""The end of the rains: the first day of a long run without any rain."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from reminder_service.agronomy.errors import check_within
from reminder_service.agronomy.rain_days import (
    RainRecord,
    Status,
    check_day,
    daily_thousandths,
    next_runs,
)

RAINLESS_DAYS: Final = 20  # memory
EARLIEST: Final = ((3, 1), (9, 1))  # memory for 1 September, mirrored by half a year in the south
AFTER_SEARCH_DAYS: Final = 60  # setting: a rainy season is no shorter
SEARCH_DAYS: Final = 365  # setting: what begins later belongs to the next season
RAINLESS_DAYS_RANGE: Final = (1, 120)  # setting


@dataclass(frozen=True, slots=True)
class Cessation:
    """The end of one season's rains.

    Attributes
    ----------
    on : first day of the rainless run, local, or None
    status : ``confirmed``; ``provisional`` where unknown days may hide an earlier end; ``none``
        while no such run is known
    """

    on: date | None
    status: Status


def cessation_search_from(onset_search_from: date) -> date:
    """First day that the rains of a season may end.

    Parameters
    ----------
    onset_search_from : local day that the search for the onset begins

    Returns
    -------
    the first 1 March or 1 September that is at least 60 days later, local

    Raises
    ------
    OutOfRange
        The year is before 1800 or after 2200.

    References
    ----------
    1 September [memory], mirrored for the southern hemisphere; the 60 days are a [setting].

    Examples
    --------
    >>> cessation_search_from(date(2026, 5, 1)), cessation_search_from(date(2026, 11, 1))
    (datetime.date(2026, 9, 1), datetime.date(2027, 3, 1))
    """
    check_day("search_from", onset_search_from)
    soonest = onset_search_from + timedelta(days=AFTER_SEARCH_DAYS)
    years = (soonest.year, soonest.year + 1)
    days = (date(year, month, day) for year in years for month, day in EARLIEST)
    return min(day for day in days if day >= soonest)


def cessation(
    rain: RainRecord,
    search_from: date,
    *,
    rainless_days: int = RAINLESS_DAYS,
    known_until: date | None = None,
) -> Cessation:
    """First day that begins a run without any rain.

    A run that began earlier counts from ``search_from``. Every day of the run must be known. If
    an earlier run could be there, were the unknown days without rain, the answer is provisional.

    Parameters
    ----------
    rain : mm by local day; a day left out, or None, is unknown
    search_from : first local day that the run may begin; it is looked for over one year
    rainless_days : days without any rain, in a row, that end the season, 1 to 120
    known_until : last local day that the record speaks of; its last day if left out

    Returns
    -------
    the day and how sure it is

    Raises
    ------
    OutOfRange
        A measure is outside its range.

    References
    ----------
    Twenty rainless days: [memory], and the shipped defaults of xclim's ``rain_season``.

    Examples
    --------
    >>> record = {date(2027, 3, day): 4.0 if day < 8 else 0.0 for day in range(1, 32)}
    >>> cessation(record, date(2027, 3, 1)).on
    datetime.date(2027, 3, 8)
    """
    check_day("search_from", search_from)
    if known_until is not None:
        check_day("known_until", known_until)
    check_within("rainless_days", rainless_days, *RAINLESS_DAYS_RANGE, "days")
    first = search_from.toordinal()
    last = first + SEARCH_DAYS - 1 + rainless_days - 1  # of a run that begins on the last day
    if known_until is None:
        known_until = max(rain, default=search_from)
    amounts = daily_thousandths(rain, first, min(last, known_until.toordinal()))
    sure = next_runs([amount == 0 for amount in amounts], rainless_days)[0]
    if sure == len(amounts):
        return Cessation(None, Status.NONE)
    possible = next_runs([not amount for amount in amounts], rainless_days)[0]
    return Cessation(
        on=date.fromordinal(first + sure),
        status=Status.CONFIRMED if possible == sure else Status.PROVISIONAL,
    )
