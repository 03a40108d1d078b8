"""Doors of plain arithmetic: segments, stand, dressing."""

from dataclasses import dataclass
from typing import Annotated, Self

import click
from pydantic import BeforeValidator, Field, model_validator

from reminder_service.agronomy.nitrogen import PRODUCTS, Dressing, cup_ml_for
from reminder_service.agronomy.nitrogen import dressing as dressing_of
from reminder_service.agronomy.spacing import stations_per_ha
from reminder_service.agronomy.stand import Thinning, plants_to_leave
from reminder_service.commands.answers import Door, Request, Value, json_option, lines_option
from reminder_service.texts.segments import SegmentCount
from reminder_service.texts.segments import segments as segment_count_of


class SegmentsRequest(Request):
    """The text to count."""

    body: str


class StandRequest(Request):
    """Seedlings at consecutive stations; words from a command line are read as numbers."""

    counts: Annotated[tuple[int, ...], BeforeValidator(lambda given: tuple(given))]


class DressingRequest(Request):
    """Stations of the plot, the cup, the product, and how close the stations stand."""

    stations: int = Field(gt=0)
    cup_ml: float | None = Field(default=None, alias="cup-ml", gt=0)
    target_n_kg_per_ha: float | None = Field(default=None, alias="target-n-kg-per-ha", gt=0)
    product: str
    doses: int = Field(default=1, gt=0)
    row_cm: float = Field(default=75, alias="row-cm", gt=0)
    in_row_cm: float = Field(default=60, alias="in-row-cm", gt=0)

    @model_validator(mode="after")
    def _one_of_both(self) -> Self:
        """A cup gives a rate, or a rate a cup; both at once could contradict each other."""
        if (self.cup_ml is None) == (self.target_n_kg_per_ha is None):
            raise ValueError("either cup-ml or target-n-kg-per-ha, one of them")
        return self


@dataclass(frozen=True, slots=True)
class Rate:
    """What a dressing comes to; ``cup_ml`` is the cup worked out for a rate that was asked for."""

    dressing: Dressing
    cup_ml: float | None


def _rate(asked: DressingRequest) -> Rate:
    cup_ml = asked.cup_ml or _cup_for(asked)
    dressing = dressing_of(
        asked.stations,
        cup_ml,
        asked.product,
        asked.doses,
        row_cm=asked.row_cm,
        in_row_cm=asked.in_row_cm,
    )
    return Rate(dressing, cup_ml if asked.cup_ml is None else None)


def _cup_for(asked: DressingRequest) -> float:
    density = stations_per_ha(asked.row_cm, asked.in_row_cm)
    return cup_ml_for(asked.target_n_kg_per_ha or 0, asked.product, density, asked.doses)


def _segments_value(count: SegmentCount) -> Value:
    return {"encoding": count.encoding, "units": count.units, "segments": count.segments}


def _segments_text(count: SegmentCount) -> str:
    segments_word = "segment" if count.segments == 1 else "segments"
    units_word = "unit" if count.units == 1 else "units"
    return f"{count.segments} {segments_word}: {count.units} {units_word} in {count.encoding}"


def _stand_value(stand: Thinning) -> Value:
    return {"leave": list(stand.leave), "mean": round(stand.mean, 3), "short": stand.short}


def _stand_text(stand: Thinning) -> str:
    leave = " ".join(str(plants) for plants in stand.leave)
    text = f"Leave {leave}: {stand.mean:.2f} plants a station."
    if stand.short:
        text += f" {stand.short} short of two a station; do not fill gaps or transplant."
    return text


def _dressing_value(found: Rate) -> Value:
    rate = found.dressing
    value: dict[str, object] = {
        "grams_per_station": round(rate.grams_per_station, 3),
        "kg": round(rate.kg, 3),
        "bags_50kg": rate.bags_50kg,
        "n_kg_per_ha": round(rate.n_kg_per_ha, 3),
    }
    return value if found.cup_ml is None else value | {"cup_ml": round(found.cup_ml, 3)}


def _dressing_text(found: Rate) -> str:
    rate = found.dressing
    cup = "" if found.cup_ml is None else f"A level cup of {found.cup_ml:.1f} ml: "
    return (
        f"{cup}{rate.grams_per_station:.1f} g a station and dose, {rate.kg:.1f} kg for the plot "
        f"({rate.bags_50kg} bags of 50 kg), {rate.n_kg_per_ha:.1f} kg N/ha.\n"
        "Weigh a level cup of your own product before you trust this. Keep it off stem and leaves, "
        "cover it, wash hands, keep it from children, stock, fire and fuel. "
        "The label, local rules and your adviser come first."
    )


SEGMENTS = Door(
    SegmentsRequest, lambda asked: segment_count_of(asked.body), _segments_value, _segments_text
)
STAND = Door(StandRequest, lambda asked: plants_to_leave(asked.counts), _stand_value, _stand_text)
DRESSING = Door(DressingRequest, _rate, _dressing_value, _dressing_text)


@click.command("segments")
@click.argument("body", required=False)
@lines_option
@json_option
def segments(body: str | None, lines: bool, as_json: bool) -> None:
    """Encoding, units and segments of one text."""
    SEGMENTS.run_lines() if lines else SEGMENTS.run({"body": body}, as_json)


@click.command("stand")
@click.argument("counts", nargs=-1)
@lines_option
@json_option
def stand(counts: tuple[str, ...], lines: bool, as_json: bool) -> None:
    """Plants to leave at each station, from the seedlings counted there."""
    STAND.run_lines() if lines else STAND.run({"counts": counts}, as_json)


@click.command("dressing")
@click.option("--stations", help="Planting stations of the plot.")
@click.option("--cup-ml", help="Level cup, in mL.")
@click.option("--target-n-kg-per-ha", help="Nitrogen wanted, instead of a cup: answers the cup.")
@click.option("--product", help=f"One of {', '.join(sorted(PRODUCTS))}.")
@click.option("--doses", help="Doses a season, 1 if not given.")
@click.option("--row-cm", help="Between rows, 75 if not given.")
@click.option("--in-row-cm", help="Between stations in the row, 60 if not given.")
@json_option
def dressing(as_json: bool, **given: str | None) -> None:
    """Nitrogen by the cup: grams a station, kilograms and bags, kg N/ha."""
    DRESSING.run({name.replace("_", "-"): got for name, got in given.items()}, as_json)
