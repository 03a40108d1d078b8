"""What the Routes page says: troubles, reasons, money."""

from datetime import UTC, date, datetime, timedelta

import pytest

from reminder_service.records.route_answers import Failure
from reminder_service.records.route_health import RouteHealth
from reminder_service.web.route_cards import (
    last_reasons,
    money_words,
    troubles,
    without_long_numbers,
)
from reminder_service.work.routes import Route

NOW = datetime(2026, 12, 6, 9, 0, tzinfo=UTC)
LIMITED = Route(name="main", gateway="http", per_day=100)


def fares(**fields) -> RouteHealth:
    known = {
        "route": "main",
        "next_at": NOW,
        "day": NOW.date(),
        "texts_that_day": 0,
        "failures": 0,
        "rests_until": None,
        "reason": None,
    }
    return RouteHealth(**known | fields)


def failed(kind="later", reason="busy", minutes=0) -> Failure:
    return Failure("main", kind, reason, NOW - timedelta(minutes=minutes))


@pytest.mark.parametrize(
    "fare",
    [
        pytest.param(None, id="never used"),
        pytest.param(fares(), id="used"),
        pytest.param(fares(reason="an old failure"), id="mended"),
        pytest.param(fares(texts_that_day=99), id="nearly at its limit"),
        pytest.param(fares(texts_that_day=100, day=date(2026, 12, 5)), id="at it yesterday"),
    ],
)
def test_a_route_is_well(fare):
    assert list(troubles(LIMITED, fare, NOW)) == []


def test_a_rest_tells_its_end_and_its_reason():
    rests = fares(failures=6, rests_until=NOW + timedelta(minutes=4), reason="throttled.")
    ((wrong, advice),) = troubles(LIMITED, rests, NOW)
    assert wrong == "Rests until Sun 6 Dec, 09:04 UTC after 6 failures in a row: throttled."
    assert "tried again by itself" in advice


def test_failures_go_on_after_a_rest():
    failing = fares(failures=2, rests_until=NOW, reason=None)
    ((wrong, _),) = troubles(LIMITED, failing, NOW)
    assert wrong == "2 failures in a row: no reason given."


def test_a_route_may_rest_and_be_at_its_limit():
    both = fares(failures=1, reason="busy", texts_that_day=100)
    first, second = troubles(LIMITED, both, NOW)
    assert first[0] == "1 failure: busy."
    assert second[0] == "At its limit of 100 a day." and "per_day" in second[1]


def test_reasons_are_counted_and_the_latest_comes_first():
    first, second = last_reasons(
        [failed(reason="timed out", kind="unsure"), failed(minutes=1), failed(minutes=2)]
    )
    assert (first.count, first.kind, first.words) == (1, "unsure whether taken", "timed out")
    assert (second.count, second.words, second.last_at) == (2, "busy", NOW - timedelta(minutes=1))


def test_five_reasons_are_enough():
    assert len(last_reasons(failed(reason=letter) for letter in "abcdefg")) == 5


def test_reasons_that_differ_by_a_phone_number_are_one():
    said = [failed("refused", f"+4477009001{last:02} is barred") for last in range(20)]
    (only,) = last_reasons(said)
    assert (only.count, only.words) == (20, "… is barred")


def test_the_same_words_of_another_kind_are_another_reason():
    assert len(last_reasons([failed("later"), failed("refused")])) == 2


def test_a_failure_without_words_says_so():
    assert last_reasons([failed(reason="")])[0].words == "no reason given"


@pytest.mark.parametrize(
    ("reason", "shown"),
    [
        ("07700900123 is off", "… is off"),
        ("id 4471889102/2", "id …/2"),
        ("HTTP 503 at 09:15, code 21614", "HTTP 503 at 09:15, code 21614"),
    ],
)
def test_numbers_that_may_name_somebody_are_left_out(reason, shown):
    assert without_long_numbers(reason) == shown


@pytest.mark.parametrize(
    ("amount", "written"),
    [(0, "0.00"), (15, "0.015"), (20, "0.02"), (1_500, "1.50"), (12_000_000, "12,000.00")],
)
def test_money_has_as_many_places_as_it_needs(amount, written):
    assert money_words(amount) == written and money_words(amount, "ZMW") == f"ZMW {written}"
