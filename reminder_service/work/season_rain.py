"""The rain book of one ward's season: what is known, the onset in it, and what does not fit."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy import Connection

from reminder_service.agronomy.dry_spells import DrySpell, dry_spells
from reminder_service.agronomy.onset import Onset, onset
from reminder_service.agronomy.onset_criteria import Criterion, criterion
from reminder_service.agronomy.rain_book import (
    DayRain,
    Flag,
    Gap,
    Observation,
    amounts,
    borne_out,
    gaps,
    observation_flags,
    plot_rain,
    ward_rain,
)
from reminder_service.records import rain, ward_rains
from reminder_service.records.ward_rains import Declared, OwnFirstRain

CRITERION = "programme"
"""The definition of the onset that the rain book uses (setting)."""

DRY_SPELL_DAYS = 7
"""Dry days in a row that the page tells of (setting)."""

NEAR_DAYS = 7
"""Days that a reported first rain and the onset may lie apart and still be the same (setting)."""


@dataclass(frozen=True, slots=True)
class SeasonRain:
    """What the rain book holds of one ward, or one of its plots, in one season.

    Attributes
    ----------
    first, last : local days it covers; the last is yesterday, or today if today is known
    rain : by local day; unknown days are left out
    observations : what was observed and counts
    flags : by observation, what is odd about it
    unknown : runs of days of which nothing is known
    onset : by the programme's criterion, with its false starts
    declared : first rain declared for the ward, if any
    not_borne_out : first rains of plots that the rain book denies
    declared_not_borne_out : whether it denies the declared one
    not_reported : day of an onset near which nobody reported a first rain, if there is one
    dry : dry spells from the onset on
    """

    first: date
    last: date
    rain: Mapping[date, DayRain]
    observations: Sequence[Observation]
    flags: Mapping[int, frozenset[Flag]]
    unknown: Sequence[Gap]
    onset: Onset
    declared: Declared | None
    not_borne_out: Sequence[OwnFirstRain]
    declared_not_borne_out: bool
    not_reported: date | None
    dry: Sequence[DrySpell] = ()

    @property
    def disbelieved(self) -> list[date]:
        """Unknown local days on which something impossible was observed, in order."""
        odd = {o.on for o in self.observations if Flag.IMPOSSIBLE in self.flags.get(o.ref, ())}
        return sorted(on for on in odd if on not in self.rain and self.first <= on <= self.last)


def season_rain(
    c: Connection, ward_id: int, starts_on: date, today: date, plot_id: int | None = None
) -> SeasonRain:
    """The rain book of a ward from a season's first day on.

    Parameters
    ----------
    c : connection
    ward_id : which ward
    starts_on : first local day of the season
    today : local day in the ward
    plot_id : a plot whose own rain is wanted; None for the ward's

    Returns
    -------
    the book
    """
    rule = criterion(CRITERION)
    until = min(today, starts_on.replace(year=starts_on.year + 1) - timedelta(days=1))
    # The first days' sums reach back before the season.
    seen = rain.observations(c, ward_id, starts_on - timedelta(days=rule.within_days), until)
    book = ward_rain(seen) if plot_id is None else plot_rain(seen, plot_id)
    last = until if until in book else min(until, today - timedelta(days=1))
    found = onset(amounts(book), rule, starts_on, known_until=max(last, starts_on))
    own = [each for each in ward_rains.own_first_rains(c, ward_id) if starts_on <= each.on <= until]
    said = ward_rains.declared(c, ward_id, starts_on)
    denied = [
        each
        for each in own
        if _denies(plot_rain(seen, each.plot_id), each.on, rule.wet_mm, rule.within_days)
    ]
    declared_on = None if said is None else said.on
    known = [each.on for each in own] + ([declared_on] if declared_on else [])
    return SeasonRain(
        starts_on,
        last,
        {on: day for on, day in book.items() if on >= starts_on},
        seen,
        observation_flags(seen),
        gaps(book, starts_on, last),
        found,
        said,
        denied,
        declared_on is not None
        and _denies(ward_rain(seen), declared_on, rule.wet_mm, rule.within_days),
        None if found.on is None or _is_near(found.on, known) else found.on,
        _dry(book, found.on, last, rule),
    )


def _dry(
    book: Mapping[date, DayRain], onset_on: date | None, last: date, rule: Criterion
) -> Sequence[DrySpell]:
    """Dry spells since the onset; a day is dry as the onset's look-ahead has it."""
    if onset_on is None or onset_on > last or rule.wet_day_mm is None:
        return ()
    record = amounts(book)
    return dry_spells(
        record, onset_on, last, wet_day_mm=rule.wet_day_mm, at_least_days=DRY_SPELL_DAYS
    )


def _denies(rain: Mapping[date, DayRain], on: date, wet_mm: float, within_days: int) -> bool:
    return borne_out(amounts(rain), on, wet_mm, within_days) is False


def _is_near(on: date, known: Sequence[date]) -> bool:
    return any(abs((on - other).days) <= NEAR_DAYS for other in known)
