"""What a ward needs week by week, from its planned tasks: fertiliser, manure, tea and labour.

Goods count in the week in which a task opens, since they must be there before; labour counts in
the week in which it is due. What is open already counts in the present week.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from math import ceil

from reminder_service.agronomy.manure import tea_batch
from reminder_service.agronomy.nitrogen import BAG_KG, dressing
from reminder_service.rules.labour import labour_days
from reminder_service.rules.needs import CupNeed, Need
from reminder_service.rules.rulebook import Rulebook

WEEK = timedelta(days=7)


@dataclass(frozen=True, slots=True)
class PlannedWork:
    """One task on several plots of one size with the same days; not done yet.

    Attributes
    ----------
    task : the rulebook's name
    opens, due : local days
    stations : planting stations of each plot
    plots : how many
    """

    task: str
    opens: date
    due: date
    stations: int
    plots: int


@dataclass(frozen=True, slots=True)
class WeekInputs:
    """What a ward needs in one ISO week.

    Attributes
    ----------
    monday : local day the week begins on
    fertiliser_kg : kg by product
    manure_kg : kg of fresh manure to hang in water
    tea_l : litres of dilute tea to pour
    labour_days : days of one person's work
    first_on : first local day on which goods are needed; None if none are
    """

    monday: date
    fertiliser_kg: Mapping[str, float] = field(default_factory=dict)
    manure_kg: int = 0
    tea_l: float = 0.0
    labour_days: float = 0.0
    first_on: date | None = None

    @property
    def bags(self) -> Mapping[str, int]:
        """Whole bags of 50 kg by product, for the ward together."""
        return {name: ceil(round(kg / BAG_KG, 6)) for name, kg in self.fertiliser_kg.items()}

    @property
    def needs_anything(self) -> bool:
        """Whether goods or labour are needed at all."""
        return self.first_on is not None or self.labour_days > 0

    @property
    def label(self) -> str:
        """ISO year and week, e.g. ``2026-W50``."""
        year, week, _ = self.monday.isocalendar()
        return f"{year}-W{week:02}"


@dataclass(slots=True)
class _Sum:
    """One week while it is added up."""

    fertiliser_kg: dict[str, float] = field(default_factory=dict)
    manure_kg: int = 0
    tea_l: float = 0.0
    labour_days: float = 0.0
    first_on: date | None = None


def inputs_by_week(
    work: Iterable[PlannedWork], rulebook: Rulebook, today: date
) -> list[WeekInputs]:
    """What a ward needs from this week on, week by week.

    Parameters
    ----------
    work : tasks not done whose window has not closed
    rulebook : what a station takes at each task, and how long it takes
    today : local day in the ward

    Returns
    -------
    each ISO week from the first to the last with a need, empty ones between them too

    Raises
    ------
    OutOfRange
        A measure of the rulebook or of a plot is outside its range.

    References
    ----------
    Arithmetic. What a station takes and how long it takes: the rulebook names each source.
    """
    sums: dict[date, _Sum] = {}
    for each in work:
        rule = rulebook.by_name.get(each.task)
        if rule is None:  # planned by a rulebook that had this task
            continue
        opens, due = max(each.opens, today), max(each.due, today)
        if rule.need is not None:
            _add_goods(sums.setdefault(_monday(opens), _Sum()), rule.need, each, opens)
        if rule.labour is not None:
            days = labour_days(rule.labour, each.stations, each.plots)
            sums.setdefault(_monday(due), _Sum()).labour_days += days
    return [_week(monday, sums.get(monday, _Sum())) for monday in _mondays(sums)]


def _add_goods(total: _Sum, need: Need, work: PlannedWork, opens: date) -> None:
    total.first_on = min(opens, total.first_on or opens)
    if isinstance(need, CupNeed):
        kg = dressing(work.stations, need.cup_ml, need.product).kg * work.plots
        total.fertiliser_kg[need.product] = total.fertiliser_kg.get(need.product, 0.0) + kg
        return
    batch = tea_batch(work.stations, need.litres_per_station)
    if need.of == "manure":
        total.manure_kg += batch.manure_kg * work.plots
    else:
        total.tea_l += batch.dilute_l * work.plots


def _week(monday: date, total: _Sum) -> WeekInputs:
    return WeekInputs(
        monday,
        dict(sorted(total.fertiliser_kg.items())),
        total.manure_kg,
        total.tea_l,
        total.labour_days,
        total.first_on,
    )


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())


def _mondays(sums: Iterable[date]) -> list[date]:
    """Every Monday from the first to the last."""
    known = sorted(sums)
    if not known:
        return []
    weeks = (known[-1] - known[0]) // WEEK
    return [known[0] + WEEK * number for number in range(weeks + 1)]
