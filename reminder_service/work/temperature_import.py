"""A file of daily temperatures of one ward: taken whole, or not at all."""

import csv
from collections.abc import Iterator
from datetime import date

from reminder_service.agronomy.errors import OutOfRange
from reminder_service.agronomy.heat import Temperatures
from reminder_service.records import audit, weather
from reminder_service.records.engine import writing
from reminder_service.records.people import Person
from reminder_service.records.views import Ward
from reminder_service.records.weather import WardPlace
from reminder_service.work.rain_rows import MOST_ROWS, BadRow, day_written
from reminder_service.work.services import Services
from reminder_service.work.ward_rain import ward_today

COLUMNS = ("date", "tmin", "tmax")
"""Columns that the first line must name, in any order; others are left out."""

FAULTS_TOLD = 10
"""Faulty rows that are told one by one (setting)."""

Row = tuple[str, dict[str, str]]


def import_temperatures(
    services: Services, ward: Ward, text: str, name: str, person: Person
) -> tuple[int, list[str]]:
    """Keep the temperatures of a file, unless a row of it is faulty.

    Parameters
    ----------
    services : the services
    ward : whose
    text : the file: columns date, tmin and tmax in °C; an empty cell leaves the day out
    name : of the file
    person : who imports it

    Returns
    -------
    how many days were new or had changed, and what is wrong; with any fault nothing was kept

    Raises
    ------
    BadRow
        The file as a whole cannot be read.
    """
    today = ward_today(services, ward)
    found: dict[date, Temperatures] = {}
    faults: list[str] = []
    for line, cells in _rows(text):
        low, high = cells["tmin"], cells["tmax"]
        try:
            on = day_written(cells["date"])
            if on > today:
                raise BadRow(f"{on} is still to come")
            if not (low and high):
                continue
            air = Temperatures(float(low.replace(",", ".")), float(high.replace(",", ".")))
            if found.setdefault(on, air) != air:
                raise BadRow(f"{on} stands there twice")
        except (BadRow, OutOfRange) as fault:
            faults.append(f"{line}: {fault}")
        except ValueError:
            faults.append(f"{line}: {low}, {high} are no temperatures: write 14.5")
    if faults:
        return 0, [*faults[:FAULTS_TOLD], *(["and more"] if len(faults) > FAULTS_TOLD else [])]
    now = services.clock()
    with writing(services.engine) as c:
        kept = weather.keep_temperatures(c, ward.id, found, name, now)
        audit.note(
            c,
            at=now,
            who=person.login,
            what="temperature file",
            subject=f"ward {ward.id}",
            after={"file": name, "kept": kept},
        )
    return kept, []


def place_ward(services: Services, ward: Ward, place: WardPlace, person: Person) -> None:
    """Say where a ward lies and which soil its plots have.

    Parameters
    ----------
    services : the services
    ward : which
    place : checked before
    person : who says so
    """
    with writing(services.engine) as c:
        weather.set_ward_place(c, ward.id, place)
        audit.note(
            c,
            at=services.clock(),
            who=person.login,
            what="ward place",
            subject=f"ward {ward.id}",
            after={"latitude": place.latitude_deg, "soil": place.soil},
        )


def _rows(text: str) -> Iterator[Row]:
    lines = text.removeprefix("\ufeff").splitlines()
    if len(lines) > MOST_ROWS:
        raise BadRow(f"the file has {len(lines)} lines, expected up to {MOST_ROWS:,}: cut it up")
    mark = max(",;\t", key=lines[0].count) if lines else ","
    reader = csv.reader(lines, delimiter=mark)
    try:
        heading = [cell.strip().lower() for cell in next(reader, [])]
        if any(heading.count(column) != 1 for column in COLUMNS):
            raise BadRow(f"the first line must name the columns {', '.join(COLUMNS)} once each")
        at = {column: heading.index(column) for column in COLUMNS}
        for cells in reader:
            if not any(cell.strip() for cell in cells):
                continue
            if len(cells) != len(heading):
                raise BadRow(f"line {reader.line_num} has {len(cells)} cells, not {len(heading)}")
            yield f"line {reader.line_num}", {name: cells[n].strip() for name, n in at.items()}
    except csv.Error as error:
        raise BadRow(f"line {reader.line_num} is no row of a CSV file ({error})") from error
