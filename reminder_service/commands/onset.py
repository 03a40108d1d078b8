"""Door of the rains: onset, false starts and cessation from a file of daily rain."""

import csv
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Annotated, Final

import click
from pydantic import BeforeValidator, Field

from reminder_service.agronomy.cessation import Cessation, cessation, cessation_search_from
from reminder_service.agronomy.onset import Onset
from reminder_service.agronomy.onset import onset as onset_of
from reminder_service.agronomy.onset_criteria import (
    Criterion,
    criteria,
    criterion,
    usual_search_from,
)
from reminder_service.agronomy.rain_days import DAY_MM_RANGE, Status
from reminder_service.commands.answers import BadInput, Door, Request, Value, json_option

OWN_NUMBERS: Final = (
    "wet_mm",
    "within_days",
    "reject_dry_days",
    "look_ahead_days",
    "wet_day_mm",
)


def _iso_day(written: object) -> object:
    """A day as ``YYYY-MM-DD``; a bare number is no day."""
    if not isinstance(written, str):
        return written
    try:
        return date.fromisoformat(written)
    except ValueError as fault:
        raise ValueError("a day as YYYY-MM-DD") from fault


Day = Annotated[date, BeforeValidator(_iso_day)]
Millimetres = Annotated[float, Field(gt=0, allow_inf_nan=False)]
Days = Annotated[int, Field(gt=0)]


class OnsetRequest(Request):
    """The file, the days of the search, and what counts as the onset."""

    file: Path
    search_from: Day | None = Field(default=None, alias="search-from")
    search_until: Day | None = Field(default=None, alias="search-until")
    known_until: Day | None = Field(default=None, alias="known-until")
    cessation_from: Day | None = Field(default=None, alias="cessation-from")
    criterion: str | None = None
    wet_mm: Millimetres | None = Field(default=None, alias="wet-mm")
    within_days: Days | None = Field(default=None, alias="within-days")
    reject_dry_days: Days | None = Field(default=None, alias="reject-dry-days")
    look_ahead_days: Days | None = Field(default=None, alias="look-ahead-days")
    wet_day_mm: Millimetres | None = Field(default=None, alias="wet-day-mm")


@dataclass(frozen=True, slots=True)
class Season:
    """Start and end of one season's rains."""

    onset: Onset
    cessation: Cessation


def _season(asked: OnsetRequest) -> Season:
    chosen = _criterion(asked)
    rain = _rain(asked.file)
    search_from = asked.search_from or _usual_start(chosen, min(rain))
    started = onset_of(
        rain,
        chosen,
        search_from,
        search_until=asked.search_until,
        known_until=asked.known_until,
    )
    if started.on is None:
        return Season(started, Cessation(None, Status.NONE))
    earliest = asked.cessation_from or cessation_search_from(search_from)
    ended = cessation(rain, max(earliest, started.on), known_until=asked.known_until)
    return Season(started, ended)


def _usual_start(chosen: Criterion, first_on: date) -> date:
    """First day from the file's first on that the criterion's search usually begins on.

    Raises
    ------
    BadInput
        The criterion leaves it to the place.
    """
    for year in (first_on.year, first_on.year + 1):
        usual = usual_search_from(chosen, year)
        if usual is not None and usual >= first_on:
            return usual
    raise BadInput("--search-from", "not given", "a day, as the criterion names no usual one")


def _criterion(asked: OnsetRequest) -> Criterion:
    """The criterion by name, or the programme's with the numbers given in place of its own."""
    own = {name: getattr(asked, name) for name in OWN_NUMBERS if getattr(asked, name) is not None}
    if asked.criterion is not None and own:
        given = ", ".join(f"--{name.replace('_', '-')}" for name in own)
        raise BadInput("criterion", asked.criterion, f"either a name or own numbers, not {given}")
    chosen = criterion(asked.criterion or "programme")
    if not own:
        return chosen
    numbers = {name: getattr(chosen, name) for name in OWN_NUMBERS} | own
    return Criterion(title="own numbers", **numbers)


def _rain(file: Path) -> Mapping[date, float | None]:
    """Rain by day of a file; an amount left empty is unknown.

    Raises
    ------
    BadInput
        The file cannot be read, has no such columns, or a row of it cannot be used.
    """
    rain: dict[date, float | None] = {}
    for line, on, mm in _rows(file):
        if on in rain:
            raise BadInput(f"{file.name}, line {line}, date", f"{on}", "each day once")
        rain[on] = mm
    if not rain:
        raise BadInput(f"{file.name}", "without a row", "one row a day below the heading date,mm")
    return rain


def _rows(file: Path) -> Iterator[tuple[int, date, float | None]]:
    """Line, day and amount of each row of a file."""
    try:
        # A spreadsheet may put a byte order mark before the heading.
        with file.open(encoding="utf-8-sig", newline="") as text:
            table = csv.DictReader(text, skipinitialspace=True)
            names = [name.strip().lower() for name in table.fieldnames or ()]
            if not {"date", "mm"} <= set(names):
                raise BadInput(f"heading of {file.name}", ",".join(names), "columns date and mm")
            table.fieldnames = names
            for row in table:
                place = f"{file.name}, line {table.line_num}"
                if None in row:  # a decimal comma would lose its tenths
                    raise BadInput(place, row[None], "no more columns than the heading names")
                yield table.line_num, _date(place, row["date"]), _mm(place, row["mm"])
    except OSError as fault:
        raise BadInput("file", str(file), f"a file that can be read ({fault.strerror})") from fault
    except (UnicodeDecodeError, csv.Error) as fault:
        raise BadInput("file", str(file), f"comma-separated text in UTF-8 ({fault})") from fault


def _date(place: str, written: str | None) -> date:
    try:
        return date.fromisoformat((written or "").strip())
    except ValueError as fault:
        raise BadInput(f"{place}, date", written, "a day as YYYY-MM-DD") from fault


def _mm(place: str, written: str | None) -> float | None:
    if written is None or not written.strip():
        return None
    expected = f"{DAY_MM_RANGE[0]} to {DAY_MM_RANGE[1]:,} mm, or empty where unknown"
    try:
        mm = float(written)
    except ValueError as fault:
        raise BadInput(f"{place}, mm", written, expected) from fault
    if not DAY_MM_RANGE[0] <= mm <= DAY_MM_RANGE[1]:
        raise BadInput(f"{place}, mm", written, expected)
    return mm


def _value(season: Season) -> Value:
    started, ended = season.onset, season.cessation
    return {
        "onset": started.on,
        "status": started.status,
        "false_starts": [start.on for start in started.false_starts],
        "cessation": ended.on,
        "cessation_status": ended.status,
        "dry_runs": [
            {"from": start.dry_from, "days": start.dry_days} for start in started.false_starts
        ],
        "undecided": list(started.undecided),
        "look_ahead_until": started.look_ahead_until,
    }


def _text(season: Season) -> str:
    started, ended = season.onset, season.cessation
    lines = []
    if started.on is None:
        lines.append("No onset yet.")
    elif started.status is Status.CONFIRMED:
        lines.append(f"Onset {started.on}, confirmed.")
    else:
        over = f"the look-ahead runs until {started.look_ahead_until}"
        lines.append(f"Onset {started.on}, provisional: {over}.")
    lines += [
        f"False start {start.on}: {start.dry_days} dry days from {start.dry_from}."
        for start in started.false_starts
    ]
    if started.undecided:
        days = "day" if len(started.undecided) == 1 else "days"
        lines.append(
            f"{len(started.undecided)} {days} from {started.undecided[0]} on may have been the "
            "onset: amounts are missing."
        )
    if ended.on is not None:
        lines.append(f"Cessation {ended.on}, {ended.status}.")
    return "\n".join(lines)


ONSET = Door(OnsetRequest, _season, _value, _text)


@click.command("onset")
@click.argument("file", metavar="FILE.csv")
@click.option(
    "--search-from",
    metavar="DATE",
    help="First day that may be the onset; the criterion's usual one if not given.",
)
@click.option("--search-until", metavar="DATE", help="Last such day; one year if not given.")
@click.option(
    "--known-until", metavar="DATE", help="Last day that is over; the file's if not given."
)
@click.option(
    "--cessation-from",
    metavar="DATE",
    help="First day that the rains may end; 1 March or 1 September if not given.",
)
@click.option("--criterion", metavar="NAME", help=f"One of {', '.join(criteria())}.")
@click.option("--wet-mm", help="Own numbers: rain of the wet test, in mm.")
@click.option("--within-days", help="Days that it is summed over.")
@click.option("--reject-dry-days", help="Dry days in a row that reject a start.")
@click.option("--look-ahead-days", help="Days after a start that they must lie in.")
@click.option("--wet-day-mm", help="A day below this is dry, in mm.")
@json_option
def onset(as_json: bool, **given: str | None) -> None:
    """Onset of the rains, false starts and cessation, from a file with the columns date and mm."""
    ONSET.run({name.replace("_", "-"): got for name, got in given.items()}, as_json)
