"""Labour: the days that the rulebook's hours come to, against published totals of a season."""

import pytest

from reminder_service.rules.labour import HOURS_A_DAY, Labour, labour_days
from reminder_service.rules.shipped import shipped_rulebook

HECTARE = 22_222  # stations at 75 x 60 cm


@pytest.mark.parametrize(
    ("labour", "stations", "plots", "days"),
    [
        pytest.param({"hours_per_1000_stations": 3}, 4000, 1, 2.0, id="by the station"),
        pytest.param({"hours_per_1000_stations": 3}, 4000, 5, 10.0, id="five such plots"),
        pytest.param({"hours_per_plot": 1.5}, 9000, 2, 0.5, id="by the plot"),
        pytest.param(
            {"hours_per_1000_stations": 2, "hours_per_plot": 1}, 1000, 2, 1.0, id="both together"
        ),
        pytest.param({}, 4000, 3, 0.0, id="none"),
    ],
)
def test_days(labour: dict, stations: int, plots: int, days: float) -> None:
    assert labour_days(Labour(source="setting", **labour), stations, plots) == pytest.approx(days)


def season_days(*names: str) -> float:
    """Days a hectare of some tasks, all rounds that have a count."""
    book = shipped_rulebook()
    rules = [book.by_name[name] for name in names]
    rounds = {rule.name: (rule.repeat.count if rule.repeat else 1) or 1 for rule in rules}
    return sum(labour_days(rule.labour, HECTARE) * rounds[rule.name] for rule in rules)


def test_a_season_stays_below_what_basins_took_altogether() -> None:
    # 148 person-days a hectare with planting basins, Zambia: FAO 2011, digging and planting too.
    days = season_days(
        "stand-check", "thin", "top-dress-first", "top-dress-tassel", "borer", "weed",
        "stalks-down", "keep-clean",
    )  # fmt: skip
    assert 148 / 2 < days < 148


def test_weeding_takes_the_largest_share() -> None:
    others = ("thin", "top-dress-first", "top-dress-tassel", "stalks-down")
    assert season_days("weed") > season_days(*others)


def test_every_task_of_the_shipped_rulebook_that_is_field_work_has_labour() -> None:
    without = [task.name for task in shipped_rulebook().tasks if task.labour is None]
    assert without == ["rotate"]


def test_a_labour_day_is_six_hours() -> None:
    assert HOURS_A_DAY == 6
