"""What stands beside a plot's tasks on its page: stand, amounts, tea, borer and rotation. Pure."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from reminder_service.agronomy.borer import BorerAnswer, borer_answer, borer_days
from reminder_service.agronomy.field_moisture import Answer
from reminder_service.agronomy.manure import DRUM_L, tea_batch
from reminder_service.agronomy.nitrogen import dressing
from reminder_service.agronomy.stand_sample import (
    MARGIN,
    StandState,
    stand_estimate,
    stations_to_count,
)
from reminder_service.kinds import Kind
from reminder_service.rules.estimates import estimated_dates
from reminder_service.rules.facts import PlotFacts
from reminder_service.rules.needs import CupNeed, TeaNeed
from reminder_service.rules.plan import Task
from reminder_service.rules.rulebook import Rulebook, TaskRule
from reminder_service.web.rotation_notes import rotation_notes
from reminder_service.web.soil_notes import et0_note, soil_notes, weed_notes
from reminder_service.web.wording import counted, day_words, day_words_year
from reminder_service.work.moisture import FieldSoil

HYGIENE_STOP = "hygiene_stop_days"
"""The rulebook's setting for raw manure before harvest."""

ROTATE = "rotate"
"""The task that rotation is told beside."""

AGAINST_WEEDS = frozenset({"weed", "keep-clean"})
"""The tasks that what the soil does to weeds and crop is told beside."""

DRY_NOTE = "Its reminders wait for rain."
"""Beside a task whose reminders go only while weeds come up."""

STAND_WORDS = {
    StandState.GOOD: "Good enough.",
    StandState.GAPS: "It has gaps: fill none, plant none over; thin as the reply said.",
    StandState.POOR: (
        "Too poor: ask the adviser whether the rain that is left pays for planting the whole "
        "plot again. Fill no gaps."
    ),
}

BORER_WORDS = {
    BorerAnswer.NOT_YET: "Too early to be stalk borer: nothing is used, look again when it opens.",
    BorerAnswer.FEW: "Not above the threshold: nothing is used, look again in a week.",
    BorerAnswer.ASK_ADVISER: "Above the threshold: adviser and label say what is done.",
    BorerAnswer.TOO_LATE: "Too late: larvae are in the stems, granules no longer reach them.",
    BorerAnswer.OTHER_PEST: "Another pest: the adviser must see it.",
}


@dataclass(frozen=True, slots=True)
class PlotNow:
    """What the notes of one plot are made of.

    Attributes
    ----------
    facts : what is known of the season
    stations : planting stations of the plot
    stations_per_ha : how close they stand
    counts : the last counts by kind, as the records have them
    grown : rulebook of each season of the plot, oldest first, this one last
    soil : its soil today; None while no dressing and no weeding is open
    """

    facts: PlotFacts
    stations: int
    stations_per_ha: int
    counts: Mapping[Kind, Mapping[str, object]] = field(default_factory=dict)
    grown: Sequence[str] = ()
    soil: FieldSoil | None = None


@dataclass(frozen=True, slots=True)
class _Known:
    """A day, and whether it is an estimate."""

    on: date
    estimated: bool

    @property
    def words(self) -> str:
        """The day as the page says it."""
        return f"{day_words_year(self.on)}{', estimated' if self.estimated else ''}"


def task_notes(
    tasks: Sequence[Task], rulebook: Rulebook, plot: PlotNow
) -> dict[tuple[str, int], tuple[str, ...]]:
    """Sentences that stand beside the tasks of one plot.

    Parameters
    ----------
    tasks : as they are planned
    rulebook : the programme's
    plot : what is known

    Returns
    -------
    by task and round; tasks with nothing to say are left out
    """
    days = _known_days(plot.facts, rulebook)
    last_round: dict[str, int] = {}
    for task in tasks:
        last_round[task.name] = max(task.number, last_round.get(task.name, 0))
    notes = {}
    for task in tasks:
        rule = rulebook.by_name.get(task.name)
        if rule is None:  # planned by a rulebook that had this task
            continue
        said = [*_need_notes(task, rule, plot, tasks), *_count_notes(task, rule, plot, days)]
        if _is_tea(rule) and task.number == last_round[task.name]:
            said += _series_end(rulebook, days)
        if task.name in AGAINST_WEEDS and plot.soil is not None and is_open(task, plot.soil.today):
            tassels = days.get(Kind.TASSELLED)
            said += weed_notes(plot.soil, tassels.on if tassels else None)
            said += [DRY_NOTE] if rule.while_wet and plot.soil.weeds is Answer.NO else []
        if task.name == ROTATE:
            area_ha = plot.stations / plot.stations_per_ha
            said += rotation_notes(crops_grown(plot.grown, rulebook), area_ha)
        if said:
            notes[task.name, task.number] = tuple(said)
    return notes


def is_open(task: Task, today: date) -> bool:
    """Whether a task can be done today and is not."""
    return task.done_on is None and not task.waits and task.opens <= today <= task.closes


def crops_grown(rulebooks: Iterable[str], rulebook: Rulebook) -> list[str]:
    """Crops of the last seasons in a row that this rulebook was for, oldest first.

    Parameters
    ----------
    rulebooks : name and version of each season's, oldest first
    rulebook : the programme's
    """
    crops: list[str] = []
    for label in rulebooks:
        known = label.rpartition(" ")[0] == rulebook.head.name
        crops = [*crops, rulebook.head.crop] if known else []
    return crops


def _known_days(facts: PlotFacts, rulebook: Rulebook) -> dict[Kind, _Known]:
    found = {fact: _Known(each.on, True) for fact, each in estimated_dates(facts, rulebook).items()}
    return found | {fact: _Known(on, False) for fact, on in facts.dates.items()}


def _is_tea(rule: TaskRule) -> bool:
    return isinstance(rule.need, TeaNeed) and rule.need.of == "tea"


def _need_notes(task: Task, rule: TaskRule, plot: PlotNow, tasks: Sequence[Task]) -> Iterable[str]:
    """What the task takes on this plot."""
    if isinstance(rule.need, CupNeed):
        need = rule.need
        rate = dressing(
            plot.stations, need.cup_ml, need.product, stations_per_ha=plot.stations_per_ha
        )
        yield (
            f"Takes {rate.kg:.1f} kg, {rate.grams_per_station:.1f} g a station by the "
            f"{need.cup_ml:g} ml cup: {rate.n_kg_per_ha:.1f} kg of nitrogen a hectare."
        )
        if plot.soil is not None and is_open(task, plot.soil.today):
            yield from soil_notes(plot.soil)
            if plot.soil.days:
                yield et0_note(plot.soil)
    elif isinstance(rule.need, TeaNeed):
        batch = tea_batch(plot.stations, rule.need.litres_per_station)
        drums = counted(batch.drums, "drum", "drums")
        if rule.need.of == "tea":
            yield (
                f"{batch.steeped_l:.0f} litres of steeped tea in {batch.water_l:.0f} litres of "
                f"water, {rule.need.litres_per_station:g} litres a station."
            )
            return
        bags = counted(batch.bags, "bag", "bags")
        teas = [each for each in tasks if each.name == rule.for_each]
        tea = next((each for each in teas if each.number == task.number), None)
        use = f", for the tea of {day_words(tea.due)}" if tea else ""
        yield (
            f"{bags} into water on {day_words(task.due)}{use}: {drums} of {DRUM_L} litres, "
            f"{batch.manure_kg} kg of fresh manure."
        )


def _series_end(rulebook: Rulebook, days: Mapping[Kind, _Known]) -> list[str]:
    """When the series of teas ends, and why."""
    setting = rulebook.settings.get(HYGIENE_STOP)
    harvest, tassels = days.get(Kind.HARVESTED), days.get(Kind.TASSELLED)
    if setting is None or harvest is None:
        return []
    stop = harvest.on - timedelta(days=setting.days)
    before = f"{setting.days} days before harvest ({harvest.words})"
    if tassels is not None and tassels.on < stop:
        return [
            f"The series ends at tasselling, {tassels.words}; "
            f"the hygiene stop, {before}, would come later."
        ]
    return [
        f"The series ends on {day_words_year(stop)}, {before}, because tea of raw manure counts "
        f"as raw manure, which must not come nearer to harvest. Source: {setting.source}."
    ]


def _count_notes(
    task: Task, rule: TaskRule, plot: PlotNow, days: Mapping[Kind, _Known]
) -> Iterable[str]:
    """What the last count says, beside the task that it settles."""
    if rule.answered_by is None:
        return
    if Kind(rule.answered_by) is Kind.COUNT:
        counts = plot.counts.get(Kind.COUNT, {}).get("counts")
        if isinstance(counts, list):
            yield from _stand_notes(counts, plot)
    else:
        yield from _borer_notes(task, rule, plot, days)


def _stand_notes(counts: Sequence[int], plot: PlotNow) -> Iterable[str]:
    found = stand_estimate(counts, plot.stations_per_ha)
    yield (
        f"{found.with_plants} of {counted(found.counted, 'station', 'stations')} have plants: "
        f"{found.share:.0%}, for the plot {found.low:.0%} to {found.high:.0%} (95 times in 100, "
        f"if the stations were picked at random; one row says less)."
    )
    yield (
        f"Once thinned, {found.full_share:.0%} of a full stand, {found.plants_per_ha:,.0f} plants "
        f"a hectare. {STAND_WORDS[found.state]}"
    )
    wanted = stations_to_count(MARGIN, plot.stations)
    if wanted > found.counted:
        yield f"To know it within {MARGIN:.0%} either way, count {wanted} stations here and there."


def _borer_notes(
    task: Task, rule: TaskRule, plot: PlotNow, days: Mapping[Kind, _Known]
) -> Iterable[str]:
    germinated = days.get(Kind.GERMINATED)
    if germinated is not None:
        found = borer_days(germinated.on)
        yield (
            f"By the literature moths lay {_span(found.laying)} and larvae hatch "
            f"{_span(found.hatch)}, counted from germination ({germinated.words})."
        )
    counted_last = plot.counts.get(Kind.BORER_COUNT, {})
    damaged, on = counted_last.get("damaged"), counted_last.get("on")
    if rule.act_above is None:
        return
    yield f"Looking decides, not the calendar: the threshold is {rule.act_above} of 100 plants."
    if isinstance(damaged, int) and isinstance(on, date):
        tassels = plot.facts.dates.get(Kind.TASSELLED)
        answer = borer_answer(damaged, rule.act_above, on, opens=task.opens, tasselled=tassels)
        yield f"{damaged} of 100 damaged on {day_words(on)}. {BORER_WORDS[answer]}"


def _span(days: tuple[date, date]) -> str:
    return f"{day_words(days[0])} to {day_words(days[1])}"
