"""Dry spells in a record of daily rain."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from typing import Final

from reminder_service.agronomy.errors import check_within
from reminder_service.agronomy.rain_days import (
    RainRecord,
    check_day,
    daily_thousandths,
    thousandths,
)

WET_DAY_MM_RANGE: Final = (0.1, 20)  # setting
SPELL_DAYS_RANGE: Final = (1, 366)  # setting


@dataclass(frozen=True, slots=True)
class DrySpell:
    """A run of dry days, as long as the record shows it.

    Attributes
    ----------
    first_on : its first dry day, local
    days : known dry days in a row, within the days looked at
    may_be_longer : the day before or after it is not known to be wet
    """

    first_on: date
    days: int
    may_be_longer: bool


def dry_spells(
    rain: RainRecord, from_on: date, until_on: date, *, wet_day_mm: float, at_least_days: int
) -> tuple[DrySpell, ...]:
    """Runs of known dry days.

    Unknown days belong to no spell and end it; the spell then says that it may be longer.

    Parameters
    ----------
    rain : mm by local day; a day left out, or None, is unknown
    from_on, until_on : first and last local day to look at
    wet_day_mm : a day below this many mm is dry, 0.1 to 20
    at_least_days : shorter runs are left out, 1 to 366

    Returns
    -------
    the spells, earliest first

    Raises
    ------
    OutOfRange
        A measure is outside its range.

    References
    ----------
    Arithmetic.

    Examples
    --------
    >>> record = {date(2026, 11, day): mm for day, mm in enumerate([12.0, 0.0, 0.9, 0.0, 5.0], 1)}
    >>> dry_spells(record, min(record), max(record), wet_day_mm=1.0, at_least_days=3)
    (DrySpell(first_on=datetime.date(2026, 11, 2), days=3, may_be_longer=False),)
    """
    check_day("from_on", from_on)
    check_day("until_on", until_on)
    check_within("wet_day_mm", wet_day_mm, *WET_DAY_MM_RANGE, "mm")
    check_within("at_least_days", at_least_days, *SPELL_DAYS_RANGE, "days")
    # One day more on either side tells whether the first and the last spell go on there.
    before = from_on.toordinal() - 1
    amounts = daily_thousandths(rain, before, until_on.toordinal() + 1)
    wet = [None if amount is None else amount >= thousandths(wet_day_mm) for amount in amounts]
    return tuple(
        DrySpell(
            first_on=date.fromordinal(before + first),
            days=days,
            may_be_longer=not (wet[first - 1] and wet[first + days]),
        )
        for first, days in _dry_runs(wet)
        if days >= at_least_days
    )


def _dry_runs(wet: Sequence[bool | None]) -> Iterator[tuple[int, int]]:
    """First place and length of each run of dry days, the outermost two days left out."""
    for state, run in groupby(range(1, len(wet) - 1), key=wet.__getitem__):
        if state is False:
            places = list(run)
            yield places[0], len(places)
