"""What goes in and comes out, as models; the document's schemas are made of them."""

import re
from datetime import date, datetime
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, Field, RootModel, WithJsonSchema

from reminder_service.agronomy.rain_book import Observer
from reminder_service.kinds import Basis, Kind, NoticeState, Stage
from reminder_service.web.interface.operations import PageQuery, RowId, Strict


def _day(value: object) -> object:
    """A day, and nothing that might be one."""
    if isinstance(value, str) and re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", value):
        return date.fromisoformat(value)
    if isinstance(value, str):
        raise ValueError("a day is written YYYY-MM-DD")
    return value


def _whole(value: object) -> object:
    """A whole number, which JSON may write as 2.0 too."""
    return int(value) if isinstance(value, float) and value.is_integer() else value


Day = Annotated[date, BeforeValidator(_day), WithJsonSchema({"type": "string", "format": "date"})]
"""A local day of a ward that came in."""


class Shape(BaseModel):
    """What goes out."""


class WardOut(Shape):
    """One ward."""

    id: int
    name: str
    zone: str = Field(description="IANA name of its time zone")


class PhoneOut(Shape):
    """One phone of a farmer."""

    number: str = Field(description="E.164; masked unless the key has the scope phones:read")
    stopped: bool = Field(description="Whether its user wants no texts")


class FarmerOut(Shape):
    """One farmer."""

    id: int
    ward_id: int
    name: str
    language: str
    created_at: datetime
    phones: list[PhoneOut]


class PlotOut(Shape):
    """One plot."""

    id: int
    ward_id: int
    farmer_id: int
    number: str = Field(description="What the farmer writes in a text")
    stations: int
    stations_per_ha: int


class SeasonOut(Shape):
    """One season of a plot."""

    id: int
    plot_id: int
    ward_id: int
    label: str
    starts_on: date
    rulebook: str
    choices: dict[str, str]
    planned_at: datetime | None
    closed_at: datetime | None


class TaskOut(Shape):
    """One dated task of a season; days are local to the ward."""

    season_id: int
    plot_id: int
    ward_id: int
    name: str
    number: int
    opens_on: date
    due_on: date
    closes_on: date
    done_on: date | None
    basis: Basis
    estimated: list[str]
    because: str
    importance: int


class ReportOut(Shape):
    """One report as it was made; a correction is a report of its own that replaces another."""

    id: int
    season_id: int
    plot_id: int
    ward_id: int
    kind: Kind
    on: date | None = Field(description="Local day; null where it takes another report back")
    task: str | None
    number: int | None
    detail: dict[str, Any] | None
    sent_at: datetime
    by_text: bool
    replaces_id: int | None
    replaced: bool


class NoticeOut(Shape):
    """One notice of the outbound queue."""

    id: int
    state: NoticeState
    reason: str | None
    ward_id: int | None
    season_id: int | None
    phone: str = Field(description="E.164; masked unless the key has the scope phones:read")
    task: str
    number: int
    stage: Stage
    body: str
    segments: int
    tries: int
    day: date
    send_at: datetime
    expires_at: datetime
    sent_at: datetime | None


class NoticeNow(Shape):
    """A notice and the state it is in now."""

    id: int
    state: NoticeState


class RainOut(Shape):
    """One observation of rain as it came."""

    id: int
    ward_id: int
    plot_id: int | None = Field(description="null for the ward's own gauge")
    day: date
    mm: float
    trace: bool
    observer: Observer
    kept_at: datetime
    left_out: bool


class WeekOut(Shape):
    """What a ward needs in one ISO week."""

    week: str = Field(description="ISO year and week, such as 2026-W50")
    monday: date
    first_needed_on: date | None
    fertiliser_kg: dict[str, float]
    bags_50kg: dict[str, int]
    manure_kg: int
    tea_litres: float
    labour_days: float


class InputsOut(Shape):
    """What a ward needs, week by week."""

    ward_id: int
    weeks: list[WeekOut]


class RouteFigures(Shape):
    """Tries of some time, and what became of them."""

    tried: int
    delivered: int
    undelivered: int
    refused: int
    in_doubt: int


class RouteOut(Shape):
    """One route and how it fares."""

    name: str
    gateway: str
    failures_in_a_row: int
    rests_until: datetime | None
    last_24_hours: RouteFigures
    last_7_days: RouteFigures


class RoutesOut(Shape):
    """Every route."""

    items: list[RouteOut]


class WardPage(Shape):
    """A page of wards."""

    items: list[WardOut]
    next: str | None = Field(description="Give it as `after` for the next page; null at the end")


class FarmerPage(Shape):
    """A page of farmers."""

    items: list[FarmerOut]
    next: str | None


class PlotPage(Shape):
    """A page of plots."""

    items: list[PlotOut]
    next: str | None


class SeasonPage(Shape):
    """A page of seasons."""

    items: list[SeasonOut]
    next: str | None


class TaskPage(Shape):
    """A page of tasks."""

    items: list[TaskOut]
    next: str | None


class ReportPage(Shape):
    """A page of reports."""

    items: list[ReportOut]
    next: str | None


class NoticePage(Shape):
    """A page of notices."""

    items: list[NoticeOut]
    next: str | None


class RainPage(Shape):
    """A page of observations of rain."""

    items: list[RainOut]
    next: str | None


class OfWard(PageQuery):
    """A page, of one ward alone if it is named."""

    ward: RowId | None = Field(default=None, description="id of a ward")


class OfPlot(OfWard):
    """A page, of one plot alone if it is named."""

    plot: RowId | None = Field(default=None, description="id of a plot")


class OfSeason(OfWard):
    """A page, of one season alone if it is named."""

    season: RowId | None = Field(default=None, description="id of a season")


def _state(value: object) -> object:
    """A state by its word."""
    return NoticeState(value) if isinstance(value, str) and value in set(NoticeState) else value


class OfQueue(OfWard):
    """A page of the outbound queue by send time, through a sieve."""

    state: Annotated[NoticeState, BeforeValidator(_state)] | None = Field(default=None)
    day: Day | None = Field(default=None, description="Local day on which it goes out")


class OfRain(OfWard):
    """A page of observations in the order in which they came."""

    since: Day | None = Field(default=None, description="First local day")


class FactIn(Strict):
    """Something that happened on a plot."""

    kind: Literal[
        "first-rain",
        "planted",
        "germinated",
        "tasselled",
        "harvested",
        "replanted",
        "survived",
        "lost",
    ]
    on: Day = Field(description="Local day; a report on the same fact corrects the earlier one")


class DoneIn(Strict):
    """A task that was done on a plot."""

    kind: Literal["done"]
    on: Day = Field(description="Local day")
    task: str = Field(pattern=r"^[a-z0-9-]{1,40}$", description="Name of a task of the season")
    number: Annotated[int, Field(ge=1, le=999), BeforeValidator(_whole)] | None = Field(
        default=None, description="Round; left out: the one that is open"
    )


class ReportIn(RootModel[Annotated[FactIn | DoneIn, Field(discriminator="kind")]]):
    """A report of a plot."""


class ReportKept(Shape):
    """A report that was taken."""

    id: int = Field(description="id of the report; of the earlier one if it said the same")
    sentence: str
    changes: list[str] = Field(description="One sentence a change to the plan")


class NothingIn(Strict):
    """An empty object: the address says it all."""


class ReadingIn(Strict):
    """Rain of one day."""

    on: Day = Field(description="Local day, not one to come")
    mm: Annotated[float, Field(ge=0, le=2000)] = Field(description="mm")
    trace: bool = Field(default=False, description="Too little to measure was seen")
    plot: str | None = Field(
        default=None,
        pattern=r"^[A-Za-z0-9 /-]{1,12}$",
        description="Number of a plot of the ward; left out: the ward's own gauge",
    )


class RainIn(Strict):
    """Readings of rain; all of them are kept, or none."""

    readings: Annotated[list[ReadingIn], Field(min_length=1, max_length=500)]


class RainKept(Shape):
    """How many readings were kept."""

    kept: int
