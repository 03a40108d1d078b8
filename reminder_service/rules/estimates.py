"""Dates that nobody reported, counted from those that are known."""

from collections.abc import Mapping
from datetime import date, timedelta

from reminder_service.kinds import Kind
from reminder_service.rules.because import estimate_because, heat_because
from reminder_service.rules.facts import PlotFacts
from reminder_service.rules.plan import Estimate
from reminder_service.rules.rulebook import EstimateRule, Rulebook
from reminder_service.rules.warmth import warmth_days


def estimated_dates(facts: PlotFacts, rulebook: Rulebook) -> dict[Kind, Estimate]:
    """Estimates of all facts that are not reported but can be counted from others.

    The first rule of the file that applies is used, then all rules are looked at again from the
    top, so the order of the file is their priority. A reported date is never estimated. Spreads
    add up: an estimate counted from an estimate lies between the earliest and latest of both.
    Where a rule knows a class of maize and the facts know usual temperatures, degree days decide
    instead of the rule's days.

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
        found[fact] = _estimate(rule, fact, start, known[start], facts)
        known[fact] = (found[fact].earliest, found[fact].on, found[fact].latest)


def _holds(rule: EstimateRule, choices: Mapping[str, str]) -> bool:
    return all(choices[name] == value for name, value in rule.when.items())


def _estimate(
    rule: EstimateRule,
    fact: Kind,
    start: Kind,
    since: tuple[date, date, date],
    facts: PlotFacts,
) -> Estimate:
    reported, likely = start in facts.dates, rule.days.likely
    warmth = (
        warmth_days(fact, start, since, rule.degree_days, facts.normals)
        if rule.degree_days is not None
        else None
    )
    if warmth is not None:
        days = warmth.days
        because = heat_because(fact, days, start, since[1], warmth.degree_days, reported)
    else:
        steps = (rule.days.earliest, likely, rule.days.latest)
        first, on, last = (day + timedelta(step) for day, step in zip(since, steps, strict=True))
        days = (first, on, last)
        because = estimate_because(fact, days, start, since[1], likely, reported)
    return Estimate(fact, *days, because, rule.question or "", rule.importance)
