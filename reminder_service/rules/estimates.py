"""Dates that nobody reported, counted from those that are known."""

from collections.abc import Mapping
from datetime import date, timedelta

from reminder_service.kinds import Kind
from reminder_service.rules.because import estimate_because
from reminder_service.rules.facts import PlotFacts
from reminder_service.rules.neighbours import Lag
from reminder_service.rules.plan import Estimate
from reminder_service.rules.rulebook import EstimateRule, Rulebook

NEIGHBOURLY = (Kind.GERMINATED, Kind.PLANTED)
"""What the plots around tell, and what it is counted from."""


def estimated_dates(facts: PlotFacts, rulebook: Rulebook) -> dict[Kind, Estimate]:
    """Estimates of all facts that are not reported but can be counted from others.

    The first rule of the file that applies is used, then all rules are looked at again from the
    top, so the order of the file is their priority. A reported date is never estimated. Spreads
    add up: an estimate counted from an estimate lies between the earliest and latest of both.
    Where most plots around that were planted with this one have come up, its germination is
    counted from its reported planting as theirs was.

    Parameters
    ----------
    facts : of one plot
    rulebook : its estimate rules

    Returns
    -------
    estimates by fact

    Raises
    ------
    UnknownChoice
        A choice of the plot has a value that the rulebook does not know.

    References
    ----------
    The rulebook names the source of every number.
    """
    choices = rulebook.chosen(facts.choices)
    rules = [
        (fact, start, rule)
        for fact, start, rule in rulebook.rules_by_estimate
        if _holds(rule, choices)
    ]
    known: dict[Kind, tuple[date, date, date]] = {
        fact: (on, on, on) for fact, on in facts.dates.items()
    }
    found: dict[Kind, Estimate] = {}
    while True:
        usable = ((f, s, r) for f, s, r in rules if f not in known and s in known)
        fact, start, rule = next(usable, (None, None, None))
        if fact is None or start is None or rule is None:
            return found
        since, reported = known[start], start in facts.dates
        if facts.lag is not None and reported and (fact, start) == NEIGHBOURLY:
            found[fact] = _as_around(rule, facts.lag, since[1])
        else:
            found[fact] = _estimate(rule, fact, start, since, reported)
        known[fact] = (found[fact].earliest, found[fact].on, found[fact].latest)


def _holds(rule: EstimateRule, choices: Mapping[str, str]) -> bool:
    return all(choices[name] == value for name, value in rule.when.items())


def _estimate(
    rule: EstimateRule,
    fact: Kind,
    start: Kind,
    since: tuple[date, date, date],
    reported: bool,
) -> Estimate:
    steps = (rule.days.earliest, rule.days.likely, rule.days.latest)
    days = [on + timedelta(step) for on, step in zip(since, steps, strict=True)]
    because = estimate_because(fact, days, start, since[1], rule.days.likely, reported)
    return Estimate(fact, days[0], days[1], days[2], because, rule.question or "", rule.importance)


def _as_around(rule: EstimateRule, lag: Lag, planted: date) -> Estimate:
    """Germination as on the plots around."""
    steps = (lag.earliest, lag.likely, lag.latest)
    days = [planted + timedelta(step) for step in steps]
    fact, start = NEIGHBOURLY
    counted = estimate_because(fact, days, start, planted, lag.likely, reported=True)
    around = f"as on {lag.reported} of {lag.planted} plots around that were planted in those days"
    because = f"{counted.removesuffix('.')}, {around}."
    question, importance = rule.question or "", rule.importance
    return Estimate(fact, days[0], days[1], days[2], because, question, importance)
