"""Whether the soil of a plot is fit to be dressed today, from its rain book."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta

from sqlalchemy import Connection

from reminder_service.agronomy.crop_water import PRINTED_GROWTH
from reminder_service.agronomy.et0_days import et0_days
from reminder_service.agronomy.field_moisture import (
    Answer,
    HoldReason,
    hold_dressing,
    topsoil_moist_enough,
    weeds_will_germinate,
)
from reminder_service.agronomy.heat import Basis
from reminder_service.agronomy.rain_book import amounts, plot_rain
from reminder_service.agronomy.soils import SOILS, Soil
from reminder_service.agronomy.water import Plot as WaterPlot
from reminder_service.agronomy.water import WaterDay, water_balance
from reminder_service.kinds import Kind
from reminder_service.records import rain, rain_ahead, weather
from reminder_service.records.farmers import PlotOnPhone
from reminder_service.rules.facts import PlotFacts
from reminder_service.rules.needs import CupNeed
from reminder_service.rules.plan import Estimate, WantedNotice
from reminder_service.rules.reminders import IN_WINDOW
from reminder_service.rules.rulebook import Rulebook
from reminder_service.settings import Settings
from reminder_service.work.normals import ward_normals

CHOICE = "soil"
"""The plot's choice that names its soil; without it the programme's setting counts."""

FRESH = timedelta(days=1)
"""How old the word of a source on the days ahead may be (setting)."""


@dataclass(frozen=True, slots=True)
class FieldSoil:
    """The soil of one plot as the rain book tells it.

    Attributes
    ----------
    today : local day
    soil : its class
    days : soil water from planting to the evening before, or to today where its rain is known;
        empty if planting has no day yet
    known : local days of those whose rain is known
    forecast_mm : expected rain by local day; empty without a forecast
    et0_from : of how many of those days evapotranspiration rests on measured temperatures, and of
        how many on usual ones; the rest is the programme's usual one
    """

    today: date
    soil: Soil
    days: tuple[WaterDay, ...] = ()
    known: frozenset[date] = frozenset()
    forecast_mm: Mapping[date, float] = field(default_factory=dict)
    et0_from: Mapping[Basis, int] = field(default_factory=dict)

    @property
    def moist(self) -> Answer:
        """Whether the topsoil is moist enough to dress."""
        return topsoil_moist_enough(self.days[-1], self.soil) if self.days else Answer.UNKNOWN

    @property
    def weeds(self) -> Answer:
        """Whether weeds keep coming up."""
        return weeds_will_germinate(self.days, self.soil) if self.days else Answer.UNKNOWN

    @property
    def hold(self) -> HoldReason | None:
        """The weightiest reason not to dress today; None also where nothing is known."""
        return next(iter(hold_dressing(self.today, self.days, self.soil, self.forecast_mm)), None)

    @property
    def dry_since(self) -> date | None:
        """First of the dry days up to the last one; None if that is not known to be dry."""
        since = None
        for day in reversed(self.days):
            if topsoil_moist_enough(day, self.soil) is not Answer.NO:
                break
            since = day.on
        return since

    @property
    def left_mm(self) -> float:
        """Water that the top 10 cm could still lose at the end of the last day."""
        return self.soil.total_evaporable_mm - self.days[-1].topsoil_missing_mm


def field_soil(
    c: Connection, plot: PlotOnPhone, planted_on: date | None, today: date, settings: Settings
) -> FieldSoil:
    """Soil of a plot today, by the rain of the plot, else of its ward.

    Parameters
    ----------
    c : connection
    plot : where, with its choices
    planted_on : reported or estimated local day; None if there is no idea of it
    today : local day in the ward
    settings : the usual soil, temperatures and evapotranspiration

    Returns
    -------
    the soil; with no days where planting is unknown or today

    References
    ----------
    [setting] Evapotranspiration is by the day's temperatures, else by the month's usual ones, else
    the programme's usual one.
    """
    place = weather.ward_place(c, plot.ward_id)
    soil = SOILS.get(plot.choices.get(CHOICE, ""), SOILS[place.soil or settings.soil])
    ahead = rain_ahead.rain_ahead(c, plot.ward_id, today, today - FRESH)
    if planted_on is None or planted_on > today:
        return FieldSoil(today, soil, forecast_mm=ahead)
    mm = amounts(plot_rain(rain.observations(c, plot.ward_id, planted_on, today), plot.plot_id))
    last = today if today in mm else today - timedelta(days=1)
    if planted_on > last:
        return FieldSoil(today, soil, forecast_mm=ahead)
    air = weather.daily_temperatures(c, plot.ward_id, planted_on, last)
    normals = ward_normals(settings, plot.ward_name)
    et0 = et0_days(place.latitude_deg, planted_on, last, air, normals)
    et0_mm = {on: day.mm for on, day in et0.items()}
    growth = WaterPlot(soil, PRINTED_GROWTH)
    days = water_balance(growth, planted_on, last, mm, et0_mm, settings.usual_et0_mm)
    et0_from = Counter(day.basis for day in et0.values())
    return FieldSoil(today, soil, days, frozenset(mm), ahead, et0_from)


def planted_day(facts: PlotFacts, estimates: Mapping[Kind, Estimate]) -> date | None:
    """Local day of planting, as reported or else estimated; None if neither is known."""
    estimate = estimates.get(Kind.PLANTED)
    return facts.dates.get(Kind.PLANTED, estimate.on if estimate else None)


def dressing_tasks(rulebook: Rulebook) -> frozenset[str]:
    """Names of the tasks that lay fertiliser."""
    return frozenset(task.name for task in rulebook.tasks if isinstance(task.need, CupNeed))


def is_dressing_on(wish: WantedNotice, today: date) -> bool:
    """Whether a reminder tells a farmer today to dress."""
    return isinstance(wish.need, CupNeed) and wish.stage in IN_WINDOW and wish.on == today
