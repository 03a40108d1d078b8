"""Dates nobody reported: which rule counts, how spreads add up, and that a report wins."""

from datetime import date

import pytest
from rules_cast import GERMINATED_ON, HEAD, RAIN_ON, THIN, plot

from reminder_service.agronomy.stages import days_tassel_to_maturity, days_to_tasselling
from reminder_service.kinds import Kind
from reminder_service.rules.estimates import estimated_dates
from reminder_service.rules.loader import load_rulebook
from reminder_service.rules.shipped import shipped_rulebook

MAIZE = shipped_rulebook()


def test_check_value_first_rain_gives_germination() -> None:
    # Common practice, no source: rain on 12 November, germination about 21 November.
    found = estimated_dates(plot(first_rain=RAIN_ON), MAIZE)
    assert found[Kind.GERMINATED].on == GERMINATED_ON


def test_spreads_add_up_from_estimate_to_estimate() -> None:
    found = estimated_dates(plot(first_rain=RAIN_ON), MAIZE)[Kind.GERMINATED]
    assert (found.earliest, found.latest) == (date(2026, 11, 17), date(2026, 11, 26))


def test_reported_fact_is_not_estimated() -> None:
    facts = plot(first_rain=RAIN_ON, germinated=date(2026, 12, 18))
    assert Kind.GERMINATED not in estimated_dates(facts, MAIZE)


def test_nothing_known_estimates_nothing() -> None:
    assert estimated_dates(plot(), MAIZE) == {}


def test_germination_says_more_of_planting_than_the_rain() -> None:
    found = estimated_dates(plot(first_rain=RAIN_ON, germinated=date(2026, 12, 18)), MAIZE)
    assert found[Kind.PLANTED].on == date(2026, 12, 11)
    assert found[Kind.PLANTED].question == ""


def test_rain_is_counted_back_from_germination() -> None:
    assert estimated_dates(plot(germinated=GERMINATED_ON), MAIZE)[Kind.FIRST_RAIN].on == RAIN_ON


@pytest.mark.parametrize("maturity", ["short", "medium", "long"])
def test_tasselling_and_harvest_follow_the_maturity_class(maturity: str) -> None:
    # S18's days to maturity, shared by S10, less the 7 days to come up.
    facts = plot(germinated=GERMINATED_ON, choices={"maturity": maturity})
    found = estimated_dates(facts, MAIZE)
    tasselled, harvested = found[Kind.TASSELLED].on, found[Kind.HARVESTED].on
    assert (tasselled - GERMINATED_ON).days == days_to_tasselling(maturity) - 7
    assert (harvested - tasselled).days == days_tassel_to_maturity(maturity)


def test_medium_maturity_is_the_default() -> None:
    medium = plot(germinated=GERMINATED_ON, choices={"maturity": "medium"})
    assert estimated_dates(plot(germinated=GERMINATED_ON), MAIZE) == estimated_dates(medium, MAIZE)


@pytest.mark.parametrize(
    ("fact", "asked"),
    [(Kind.PLANTED, True), (Kind.GERMINATED, True), (Kind.TASSELLED, True), (Kind.HARVESTED, True)],
)
def test_forward_estimates_are_asked_for(fact: Kind, asked: bool) -> None:
    assert bool(estimated_dates(plot(first_rain=RAIN_ON), MAIZE)[fact].question) is asked


def test_backward_estimate_is_not_asked_for() -> None:
    assert estimated_dates(plot(planted=RAIN_ON), MAIZE)[Kind.FIRST_RAIN].question == ""


def test_sentence_says_what_it_was_counted_from() -> None:
    found = estimated_dates(plot(first_rain=RAIN_ON), MAIZE)
    assert found[Kind.GERMINATED].because == (
        "Germination is taken to be Sat 21 Nov 2026, between Tue 17 Nov 2026 and Thu 26 Nov 2026: "
        "7 days after planting on Sat 14 Nov 2026 (estimated)."
    )
    assert found[Kind.PLANTED].because.endswith(
        "2 days after the first rain on Thu 12 Nov 2026 (reported)."
    )


def rule(fact: str, start: str, likely: int) -> str:
    days = f"{{ earliest = {likely}, likely = {likely}, latest = {likely} }}"
    return f'[[estimates]]\nfact = "{fact}"\nfrom = "{start}"\ndays = {days}\nsource = "setting"\n'


def test_first_rule_of_the_file_wins() -> None:
    rules = rule("germinated", "planted", 7) + rule("germinated", "first-rain", 9)
    facts = plot(first_rain=RAIN_ON, planted=RAIN_ON)
    found = estimated_dates(facts, load_rulebook(HEAD + rules + THIN))
    assert found[Kind.GERMINATED].on == date(2026, 11, 19)


def test_earlier_rule_that_becomes_usable_is_taken_before_later_ones() -> None:
    # Planting is estimated first; then the first rule applies, before the third is looked at.
    rules = (
        rule("germinated", "planted", 7)
        + rule("planted", "first-rain", 2)
        + rule("germinated", "first-rain", 30)
    )
    found = estimated_dates(plot(first_rain=RAIN_ON), load_rulebook(HEAD + rules + THIN))
    assert found[Kind.GERMINATED].on == GERMINATED_ON
