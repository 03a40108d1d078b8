"""Whether a reported day can be true: one case for each way it cannot."""

from datetime import date

import pytest

from reminder_service.kinds import Kind
from reminder_service.work.checks import ORDER, Fault, date_fault

TODAY = date(2027, 5, 1)
STARTS = date(2026, 10, 1)
RAIN = date(2026, 11, 12)


def fault(kind: Kind, on: date, known: dict[Kind, date] | None = None):
    return date_fault(kind, on, today=TODAY, season_starts=STARTS, known=known or {})


def test_a_day_still_to_come_is_refused():
    assert fault(Kind.PLANTED, date(2027, 5, 2)).fault is Fault.FUTURE


def test_today_is_not_the_future():
    assert fault(Kind.HARVESTED, TODAY) is None


@pytest.mark.parametrize("on, expected", [(date(2026, 9, 30), Fault.BEFORE_SEASON), (STARTS, None)])
def test_the_season_begins_with_its_first_day(on, expected):
    found = fault(Kind.FIRST_RAIN, on)
    assert (found.fault if found else None) is expected


@pytest.mark.parametrize("earlier, later", ORDER, ids=[f"{a} before {b}" for a, b in ORDER])
def test_facts_come_in_their_order_whichever_is_reported_first(earlier, later):
    assert fault(later, RAIN, {earlier: RAIN}).other is earlier
    assert fault(earlier, RAIN, {later: RAIN}).other is later
    assert fault(later, date(2026, 11, 13), {earlier: RAIN}) is None


def test_dry_planting_before_the_rain_is_no_contradiction():
    assert fault(Kind.PLANTED, date(2026, 11, 1), {Kind.FIRST_RAIN: RAIN}) is None
    assert fault(Kind.FIRST_RAIN, RAIN, {Kind.PLANTED: date(2026, 11, 1)}) is None


@pytest.mark.parametrize(
    "on, fits",
    [(date(2026, 11, 11), False), (RAIN, True), (date(2026, 12, 2), True)],
    ids=["before planting", "that day, so it was no mistake", "later"],
)
def test_a_replanting_does_not_come_before_planting(on, fits):
    found = fault(Kind.REPLANTED, on, {Kind.PLANTED: RAIN})
    assert (found is None) is fits
    assert fits or found.other is Kind.PLANTED


def test_a_replanting_may_come_after_the_first_stand_was_up():
    assert fault(Kind.REPLANTED, date(2026, 12, 2), {Kind.GERMINATED: RAIN}) is None
