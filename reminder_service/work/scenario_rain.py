"""Rain of the invented scenario, made up day by day by a seeded generator."""

from datetime import date, timedelta
from random import Random

from reminder_service.agronomy.rain_book import Observer
from reminder_service.records import farmers, rain
from reminder_service.records.engine import writing
from reminder_service.records.rain import NewObservation
from reminder_service.work.scenario import Scenario, ScenarioWard
from reminder_service.work.services import Services

FILE = "invented rain"
"""Name under which it stands in the rain book, so that nobody takes it for measured."""

PLANTING_RAIN_MM = (22.0, 14.0)
FALSE_RAIN_MM = (17.0, 8.0)
SHOWER_SHARE, SHOWER_MM = 0.1, 4.0
WET_SHARE, WET_MM, LONGEST_DRY_DAYS = 0.45, 9.0, 5
"""What the generator goes by (settings, invented)."""


def let_it_rain(services: Services, scenario: Scenario, first_rain: date, until: date) -> int:
    """Write the scenario's rain into the rain book, each ward's from its season's first day on.

    Parameters
    ----------
    services : with the scenario loaded
    scenario : the scenario
    first_rain : local day that the scenario's day 0 falls on
    until : last local day of the record

    Returns
    -------
    how many days of rain were kept
    """
    with writing(services.engine) as c:
        ids = {ward.name: ward.id for ward in farmers.wards(c)}
        new = [
            NewObservation(ids[ward.name], None, on, mm, False, Observer.FILE, FILE)
            for ward in scenario.wards
            for on, mm in invented_rain(scenario, ward, first_rain).items()
            if on <= until
        ]
        return rain.keep_observations(c, new, services.clock())


def invented_rain(scenario: Scenario, ward: ScenarioWard, first_rain: date) -> dict[date, float]:
    """Rain of one ward, in mm by local day; the same seed always gives the same.

    Parameters
    ----------
    scenario : for the seed and the first and last day
    ward : whose
    first_rain : local day of the scenario's day 0
    """
    random = Random(f"{scenario.rain_seed} {ward.name}")  # noqa: S311 - rain, no secret
    found: dict[int, float] = {}
    for day in range(scenario.season_starts, scenario.rain_ends + 60):
        found[day] = round(_day_mm(scenario, ward, day, found, random), 1)
    return {first_rain + timedelta(days=day): mm for day, mm in found.items()}


def _day_mm(
    scenario: Scenario, ward: ScenarioWard, day: int, before: dict[int, float], random: Random
) -> float:
    for first, amounts in ((ward.false_start, FALSE_RAIN_MM), (ward.onset, PLANTING_RAIN_MM)):
        if first is not None and 0 <= day - first < len(amounts):
            return amounts[day - first]
    drawn, mm = random.random(), 1 + random.expovariate(1 / WET_MM)
    if day < ward.onset:
        after_false = ward.false_start is not None and day > ward.false_start
        return 0.0 if after_false or drawn > SHOWER_SHARE else random.uniform(0.2, SHOWER_MM)
    if day > scenario.rain_ends or any(first <= day <= last for first, last in ward.dry):
        return 0.0
    ends_spell = any(day in (first - 1, last + 1) for first, last in ward.dry)
    dry = all(not before.get(day - n) for n in range(1, LONGEST_DRY_DAYS + 1))
    return mm if ends_spell or dry or drawn < WET_SHARE else 0.0
