"""The onset rule in its plainest form, to hold the shipped one against."""

from collections.abc import Sequence
from datetime import date, timedelta

from reminder_service.agronomy.onset_criteria import Criterion

SMALL = Criterion("small numbers", 20, 2, 2, 4, 1.0)
"""A criterion small enough to play through every case."""


def record_of(first: date, mm: Sequence[float | None]) -> dict[date, float | None]:
    """One amount a day from a first day on."""
    return {first + timedelta(place): amount for place, amount in enumerate(mm)}


def plain_onset(record: dict[date, float], chosen: Criterion, search_from: date) -> date | None:
    """First day of a fully known record that passes the wet test and is not rejected."""
    for on in sorted(record):
        if on >= search_from and _passes(record, chosen, on) and not _rejected(record, chosen, on):
            return on
    return None


def _passes(record: dict[date, float], chosen: Criterion, on: date) -> bool:
    total = round(sum(record.get(on - timedelta(n), 0.0) for n in range(chosen.within_days)), 6)
    enough = total > chosen.wet_mm if chosen.wet_test == "more_than" else total >= chosen.wet_mm
    return record[on] > 0 and enough


def _rejected(record: dict[date, float], chosen: Criterion, on: date) -> bool:
    if chosen.look_ahead_days is None or chosen.reject_dry_days is None:
        return False
    days = [on + timedelta(n) for n in range(1, chosen.look_ahead_days + 1)]
    dry = [day in record and record[day] < chosen.wet_day_mm for day in days]
    starts = range(len(dry) - chosen.reject_dry_days + 1)
    return any(all(dry[start : start + chosen.reject_dry_days]) for start in starts)
