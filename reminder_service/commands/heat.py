"""Door of warmth: degree days and maize stages from a file of daily temperatures."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Annotated

import click
from pydantic import BeforeValidator, Field

from reminder_service.agronomy.errors import OutOfRange
from reminder_service.agronomy.heat import Basis, HeatDay, Temperatures, Variant, heat_sum
from reminder_service.agronomy.maize_stages import NAMES, StageDay, stage_days
from reminder_service.commands.answers import BadInput, Door, Request, Value, json_option
from reminder_service.commands.daily_file import day_of, number_of, rows


def _iso_day(written: object) -> object:
    """A day as ``YYYY-MM-DD``; a bare number is no day."""
    return date.fromisoformat(written) if isinstance(written, str) else written


class HeatRequest(Request):
    """The file, the first day counted, and how to count."""

    file: Path
    start_on: Annotated[date, BeforeValidator(_iso_day)] = Field(alias="from")
    variant: str = Variant.LIMITED.value
    variety_class: str = Field(default="medium", alias="variety-class")
    normals: Path | None = None


@dataclass(frozen=True, slots=True)
class Warmth:
    """Degree days of a season so far, and the stages they bring."""

    variant: Variant
    variety_class: str
    days: tuple[HeatDay, ...]
    stages: tuple[StageDay, ...]


def _warmth(asked: HeatRequest) -> Warmth:
    if asked.variant not in set(Variant):
        raise BadInput("variant", asked.variant, f"one of {', '.join(Variant)}")
    variant = Variant(asked.variant)
    temperatures, last_on = _temperatures(asked.file)
    if asked.start_on > last_on:
        raise BadInput("from", f"{asked.start_on}", f"a day up to {last_on}, the file's last")
    normals = None if asked.normals is None else _normals(asked.normals)
    days = heat_sum(temperatures, asked.start_on, last_on, variant, normals)
    # The stage tables are printed for one variant, whichever one the sums are asked in.
    printed = heat_sum(temperatures, asked.start_on, last_on, Variant.LIMITED, normals)
    return Warmth(variant, asked.variety_class, days, stage_days(printed, asked.variety_class))


def _temperatures(file: Path) -> tuple[Mapping[date, Temperatures], date]:
    """Temperatures by day, unknown days left out, and the last day that has a row."""
    seen: dict[date, Temperatures | None] = {}
    for place, row in rows(file, ("date", "tmin", "tmax")):
        on = day_of(place, row["date"])
        if on in seen:
            raise BadInput(f"{place}, date", f"{on}", "each day once")
        seen[on] = _pair(place, row)
    if not seen:
        raise BadInput(file.name, "without a row", "a row a day below the heading date,tmin,tmax")
    return {on: found for on, found in seen.items() if found is not None}, max(seen)


def _normals(file: Path) -> Mapping[int, Temperatures]:
    """Mean temperatures by month, 1 to 12."""
    normals: dict[int, Temperatures] = {}
    for place, row in rows(file, ("month", "tmin", "tmax")):
        if row["month"] not in {str(month) for month in range(1, 13)}:
            raise BadInput(f"{place}, month", row["month"], "a month from 1 to 12")
        month, found = int(row["month"]), _pair(place, row)
        if found is None or month in normals:
            raise BadInput(place, row["month"], "each month once, with both temperatures")
        normals[month] = found
    return normals


def _pair(place: str, row: Mapping[str, str]) -> Temperatures | None:
    """Both temperatures of a row; None unless both are known."""
    tmin_c = number_of(place, "tmin", row["tmin"], "°C")
    tmax_c = number_of(place, "tmax", row["tmax"], "°C")
    if tmin_c is None or tmax_c is None:
        return None
    try:
        return Temperatures(tmin_c, tmax_c)
    except OutOfRange as fault:
        column = fault.field.removesuffix("_c")
        raise BadInput(f"{place}, {column}", fault.got, fault.expected) from fault


def _rounded(degree_days: float | None) -> float | None:
    return None if degree_days is None else round(degree_days, 3)


def _value(warmth: Warmth) -> Value:
    return {
        "variant": warmth.variant,
        "variety_class": warmth.variety_class,
        "degree_days": {f"{day.on}": _rounded(day.total) for day in warmth.days},
        "by_day": {f"{day.on}": _rounded(day.degree_days) for day in warmth.days},
        "unknown": [day.on for day in warmth.days if day.basis is Basis.UNKNOWN],
        "from_normals": [day.on for day in warmth.days if day.basis is Basis.NORMAL],
        "stages": [
            {
                "stage": reached.stage,
                "name": NAMES.get(reached.stage),
                "needs": round(reached.needs, 1),
                "on": reached.on,
                "on_normals": reached.on_normals,
            }
            for reached in warmth.stages
        ],
    }


def _text(warmth: Warmth) -> str:
    first, last = warmth.days[0], warmth.days[-1]
    known = [day for day in warmth.days if day.total is not None]
    counted = f"{known[-1].total:.1f}" if known else "0.0"
    until = f"{known[-1].on}" if known else "no day"
    limits = "base 10 °C" if warmth.variant is Variant.PLAIN else "base 10 °C, cap 30 °C"
    lines = [f"{counted} degree days ({warmth.variant}, {limits}), {first.on} to {until}."]
    if last.total is None:
        gap = next(day.on for day in warmth.days if day.basis is Basis.UNKNOWN)
        lines.append(f"No temperatures on {gap}: the sum is not known from that day on.")
    bridged = sum(day.basis is Basis.NORMAL for day in warmth.days)
    if bridged:
        lines.append(f"{bridged} days are bridged by usual temperatures of their month.")
    for reached in warmth.stages:
        name = f" {NAMES[reached.stage]}" if reached.stage in NAMES else ""
        when = f"{reached.on}" if reached.on else "not yet"
        lines.append(f"{reached.stage}{name}, {reached.needs:.0f} degree days: {when}")
    lines.append("Printed tables, not your variety: what is seen in the field goes before them.")
    return "\n".join(lines)


HEAT = Door(HeatRequest, _warmth, _value, _text)


@click.command("heat")
@click.argument("file", metavar="FILE.csv")
@click.option(
    "--from", "from", metavar="DATE", help="First day counted, planting or the day after."
)
@click.option("--variant", metavar="NAME", help=f"One of {', '.join(Variant)}; 86-50 if not given.")
@click.option("--variety-class", metavar="CLASS", help="short, medium (if not given) or long.")
@click.option(
    "--normals",
    metavar="FILE.csv",
    help="Usual temperatures, columns month, tmin, tmax; they bridge days without a record.",
)
@json_option
def heat(as_json: bool, **given: str | None) -> None:
    """Degree days and maize stages, from a file with the columns date, tmin and tmax in °C."""
    HEAT.run({name.replace("_", "-"): got for name, got in given.items()}, as_json)
