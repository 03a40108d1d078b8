"""The steps of joining by text: what each asks, and how its answer is understood."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from reminder_service.agronomy.spacing import CM_RANGE, IN_ROW_CM, ROW_CM, stations_per_ha
from reminder_service.kinds import Kind
from reminder_service.records import farmers
from reminder_service.records.views import Ward
from reminder_service.texts import joining as ask
from reminder_service.texts.joining_answers import (
    by_likeness,
    decimal_number,
    name_in,
    two_numbers,
    ward_named,
    whole_number,
)
from reminder_service.texts.reading_types import Reading, Said
from reminder_service.texts.wording import called
from reminder_service.work.talk import Talk

STATIONS = (10, 200_000)
"""Fewest and most planting stations that one plot may have (setting)."""

HECTARES = (0.005, 10.0)
"""Smallest and largest plot (setting)."""

M2_PER_HA = 10_000

SPACINGS = ((75.0, 60.0), (90.0, 60.0), (ROW_CM, IN_ROW_CM))
"""Spacings offered, rows by stations in the row, cm: common practice, no source."""

MATURITIES = ("short", "medium", "long", "medium")
"""Classes offered; who does not know gets the middle one (setting)."""

DRESSINGS = ("mineral", "manure-tea", "both")
"""What a plot may be top-dressed with, as rulebooks call it."""


class Step(StrEnum):
    """One question of joining."""

    CONSENT = "consent"
    NAME = "name"
    WARD = "ward"
    WARD_SURE = "ward-sure"
    WARD_CHOICE = "ward-choice"
    SIZE = "size"
    STATIONS = "stations"
    HECTARES = "hectares"
    SIDES = "sides"
    SPACING = "spacing"
    VARIETY = "variety"
    DRESSING = "dressing"
    SUMMARY = "summary"


SIZES = (Step.STATIONS, Step.HECTARES, Step.SIDES)
"""Ways to say how big a plot is, in the order offered."""


@dataclass(frozen=True, slots=True)
class Scene:
    """Where somebody who joins stands.

    Attributes
    ----------
    step : the question that was asked
    answers : what was answered so far
    language : ISO 639-1 code to ask in
    wards : all wards, by name
    """

    talk: Talk
    step: Step
    answers: Mapping[str, Any]
    language: str
    wards: tuple[Ward, ...]

    @property
    def offered(self) -> list[Ward]:
        """Wards that the last question offered, in its order."""
        ids = self.answers.get("wards", [])
        return sorted((w for w in self.wards if w.id in ids), key=lambda w: ids.index(w.id))


@dataclass(frozen=True, slots=True)
class Onward:
    """An answer that was understood: the next step, and what was learnt."""

    step: Step
    learnt: Mapping[str, Any]


Understood = Onward | str
"""An answer that was understood, or the text that asks for it again."""


def scene(talk: Talk, step: Step, answers: Mapping[str, Any]) -> Scene:
    """Where somebody stands, with the wards as they are now.

    Parameters
    ----------
    talk : the text being worked
    step : the question that stands
    answers : what was answered so far
    """
    wards = tuple(farmers.wards(talk.c))
    return Scene(talk, step, answers, str(answers["language"]), wards)


def question(here: Scene) -> str:
    """The question of a step; not of the summary, which asks nothing.

    Parameters
    ----------
    here : the step to ask
    """
    language = here.language
    plain: dict[Step, Callable[..., str]] = {
        Step.NAME: ask.name,
        Step.SIZE: ask.size,
        Step.STATIONS: ask.stations,
        Step.HECTARES: ask.hectares,
        Step.SIDES: ask.sides,
        Step.SPACING: ask.spacing,
        Step.VARIETY: ask.variety,
        Step.DRESSING: ask.dressing,
    }
    if here.step is Step.CONSENT:
        return ask.consent(here.talk.settings.programme, language=language)
    if here.step is Step.WARD:
        return ask.ward(called(here.answers["name"]), language=language)
    if here.step is Step.WARD_SURE:
        return ask.ward_sure(here.offered[0].name, language=language)
    if here.step is Step.WARD_CHOICE:
        return ask.ward_choice([ward.name for ward in here.offered], language=language)
    return plain[here.step](language=language)


def understood(here: Scene, body: str, reading: Reading) -> Understood:
    """What the answer to a step comes to; never for consent and summary.

    Parameters
    ----------
    here : the step that was asked
    body : the whole answer
    reading : the same as any text is read
    """
    if here.step is Step.NAME:
        name = None if reading.said or reading.ask else name_in(body)
        return _again(here) if name is None else Onward(Step.WARD, {"name": name})
    if here.step in (Step.WARD, Step.WARD_SURE, Step.WARD_CHOICE):
        return _ward(here, body, reading)
    if here.step is Step.SIZE:
        return _size(here, body, reading)
    if here.step in SIZES:
        return _measure(here, here.step, body)
    if here.step is Step.SPACING:
        return _spacing(here, body, reading)
    return _chosen(here, reading)


def choice(reading: Reading) -> int | None:
    """The number that a text consists of, from 1; None if it is more or less than that."""
    said = reading.said[0] if len(reading.said) == 1 else Said(Kind.NO)
    return said.number if said.kind is Kind.CHOICE else None


def after_size(here: Scene) -> Step:
    """The step after the spacing: what the rulebook lets a plot choose."""
    return Step.VARIETY if "maturity" in here.talk.rulebook.choices else after_variety(here)


def after_variety(here: Scene) -> Step:
    """The step after the variety."""
    return Step.DRESSING if "top-dressing" in here.talk.rulebook.choices else Step.SUMMARY


def _again(here: Scene) -> str:
    return ask.again(question(here), language=here.language)


def _ward(here: Scene, body: str, reading: Reading) -> Understood:
    """Ward from its number, its name, or a name nearly like it, which is asked back."""
    number = choice(reading)
    offered = here.offered if here.step is not Step.WARD else []
    if number is not None and 1 <= number <= len(offered):
        return Onward(Step.SIZE, {"ward_id": offered[number - 1].id})
    if here.step is Step.WARD_SURE and any(said.kind is Kind.YES for said in reading.said):
        return Onward(Step.SIZE, {"ward_id": offered[0].id})
    if number is not None:
        return _again(here)
    names = [ward.name for ward in here.wards]
    found = ward_named(body, names)
    if found.exact is not None:
        return Onward(Step.SIZE, {"ward_id": here.wards[found.exact].id})
    if len(found.near) == 1 and here.step is Step.WARD:
        return Onward(Step.WARD_SURE, {"wards": [here.wards[found.near[0]].id]})
    nearest = [here.wards[at] for at in by_likeness(body, names)]
    most = ask.wards_offered([ward.name for ward in nearest], language=here.language)
    return Onward(Step.WARD_CHOICE, {"wards": [ward.id for ward in nearest[:most]]})


def _size(here: Scene, body: str, reading: Reading) -> Understood:
    """The way to give the size; a size itself is taken where nothing else can be meant."""
    number = choice(reading)
    if number is not None:
        known = 1 <= number <= len(SIZES)
        return Onward(SIZES[number - 1], {}) if known else _again(here)
    if two_numbers(body) is not None:
        return _measure(here, Step.SIDES, body)
    stations = whole_number(body)
    if stations is not None and stations >= STATIONS[0]:
        return _measure(here, Step.STATIONS, body)
    return _again(here)


def _measure(here: Scene, way: Step, body: str) -> Understood:
    if way is Step.STATIONS:
        stations = whole_number(body)
        if stations is None:
            return _again(here)
        return _bounded(here, "stations", stations, STATIONS, "")
    if way is Step.HECTARES:
        hectares = decimal_number(body)
        return _again(here) if hectares is None else _bounded(here, "ha", hectares, HECTARES, " ha")
    sides = two_numbers(body)
    if sides is None:
        return _again(here)
    return _bounded(here, "ha", sides[0] * sides[1] / M2_PER_HA, HECTARES, " ha")


def _bounded(
    here: Scene, name: str, size: float, bounds: tuple[float, float], unit: str
) -> Understood:
    """A size inside its bounds; the other way to give it is forgotten."""
    low, high = bounds
    if not low <= size <= high:
        return ask.beyond(f"{low:g}{unit}", f"{high:.0f}{unit}", language=here.language)
    return Onward(Step.SPACING, {"stations": None, "ha": None, name: size})


def _spacing(here: Scene, body: str, reading: Reading) -> Understood:
    number = choice(reading)
    if number is not None:
        pair = SPACINGS[number - 1] if 1 <= number <= len(SPACINGS) else None
    else:
        pair = two_numbers(body)
    low, high = CM_RANGE
    if pair is None:
        return _again(here)
    if not all(low <= distance <= high for distance in pair):
        return ask.beyond(f"{low} cm", f"{high} cm", language=here.language)
    return Onward(after_size(here), {"per_ha": round(stations_per_ha(*pair))})


def _chosen(here: Scene, reading: Reading) -> Understood:
    is_variety = here.step is Step.VARIETY
    offered = MATURITIES if is_variety else DRESSINGS
    number = choice(reading)
    if number is None or not 1 <= number <= len(offered):
        return _again(here)
    name = "maturity" if is_variety else "top-dressing"
    following = after_variety(here) if is_variety else Step.SUMMARY
    return Onward(following, {name: offered[number - 1]})
