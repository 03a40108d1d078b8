"""What the answer of a source of daily rain says: amounts and temperatures by day. Pure."""

import csv
import io
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date

from gateways.http.fields import NoJson, json_value, list_at, value_at, word
from reminder_service.agronomy.errors import OutOfRange
from reminder_service.agronomy.heat import Temperatures
from reminder_service.work.rain_profile import UNIT_MM, Answer
from reminder_service.work.rain_rows import Amount, BadRow, amount_written, day_written

MOST_FAULTS = 20
"""Faulty rows that are told one by one (setting)."""


class CutAnswer(Exception):
    """The answer is not whole, or nothing of the form that the profile says."""


@dataclass(frozen=True, slots=True)
class SourceDays:
    """What one answer says.

    Attributes
    ----------
    amounts : by local day; unknown days are left out
    faults : rows that cannot be read or do not belong there, each in a sentence
    air : temperatures by local day; empty where the source tells none
    """

    amounts: dict[date, Amount]
    faults: tuple[str, ...]
    air: Mapping[date, Temperatures] = field(default_factory=dict)


def days_of(answer: Answer, content: bytes, first: date, last: date) -> SourceDays:
    """What the body of an answer says of some days.

    Parameters
    ----------
    answer : where day and amount stand
    content : the body
    first, last : local days that were asked for, both included

    Returns
    -------
    amounts, temperatures and faulty rows

    Raises
    ------
    CutAnswer
        The body is not whole, or is nothing of this form.
    """
    amounts: dict[date, Amount] = {}
    faults: list[str] = []
    for number, (day, said) in enumerate(_rows(answer, content), start=1):
        try:
            on, amount = _read(answer, day, said)
            if not first <= on <= last:
                raise BadRow(f"{on} was not asked for")
            if amounts.get(on, amount) != amount:
                raise BadRow(f"{on} stands there twice with two amounts")
        except BadRow as fault:
            faults.append(f"row {number}: {fault}")
            continue
        if amount.mm is not None:
            amounts[on] = amount
    air = _air_of(answer, content, first, last, faults)
    more = len(faults) - MOST_FAULTS
    told = [*faults[:MOST_FAULTS], *([f"and {more} more faulty rows"] if more > 0 else [])]
    return SourceDays(amounts, tuple(told), air)


def _air_of(
    answer: Answer, content: bytes, first: date, last: date, faults: list[str]
) -> dict[date, Temperatures]:
    """Temperatures of the days asked for; a day that lacks one of the two is left out."""
    if answer.tmin is None or answer.tmax is None:
        return {}
    lowest, highest = (
        _rows(answer.model_copy(update={"amount": name}), content)
        for name in (answer.tmin, answer.tmax)
    )
    found: dict[date, Temperatures] = {}
    for number, ((day, low), (_, high)) in enumerate(zip(lowest, highest, strict=True), start=1):
        said = [each for each in (low, high) if each and each not in answer.unknown]
        if day is None or len(said) < 2:
            continue
        try:
            on = day_written(day, answer.day_form)
            if first <= on <= last:
                found[on] = Temperatures(*(_celsius(answer, each) for each in said))
        except (BadRow, OutOfRange) as fault:
            faults.append(f"temperatures of row {number}: {fault}")
    return found


def _celsius(answer: Answer, said: str) -> float:
    try:
        degrees = float(said)
    except ValueError:
        raise BadRow(f"{said[:20]} is no temperature") from None
    return round((degrees - 32) / 1.8, 3) if answer.temperature_unit == "fahrenheit" else degrees


def _rows(answer: Answer, content: bytes) -> Iterator[tuple[str | None, str | None]]:
    """Day and amount of each row, as they stand there."""
    if answer.format == "csv":
        yield from _csv_rows(answer, content)
        return
    try:
        whole = json_value(content)
    except NoJson as error:
        raise CutAnswer("the answer is no whole JSON") from error
    if answer.rows is not None:
        rows = list_at(whole, answer.rows)
        if rows is None:
            raise CutAnswer(f"the answer has no list {answer.rows}")
        yield from (
            (word(value_at(row, answer.day)), word(value_at(row, answer.amount))) for row in rows
        )
        return
    days, amounts = list_at(whole, answer.day), list_at(whole, answer.amount)
    if days is None or amounts is None or len(days) != len(amounts):
        raise CutAnswer(f"the answer has no lists {answer.day} and {answer.amount} of one length")
    yield from zip(map(word, days), map(word, amounts), strict=True)


def _csv_rows(answer: Answer, content: bytes) -> Iterator[tuple[str | None, str | None]]:
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise CutAnswer("the answer is no text in UTF-8") from error
    if not answer.last_line_open and not text.endswith("\n"):
        raise CutAnswer("the answer ends in the middle of a line")
    rows = csv.reader(io.StringIO(text))
    try:
        heading = [cell.strip() for cell in next(rows, [])]
        if answer.day not in heading or answer.amount not in heading:
            raise CutAnswer(f"the answer has no columns {answer.day} and {answer.amount}")
        day, amount = heading.index(answer.day), heading.index(answer.amount)
        for cells in rows:
            if cells:
                yield _cell(cells, day), _cell(cells, amount)
    except csv.Error as error:
        raise CutAnswer(f"the answer is no CSV ({error})") from error


def _cell(cells: list[str], at: int) -> str | None:
    return cells[at].strip() if at < len(cells) else None


def _read(answer: Answer, day: str | None, said: str | None) -> tuple[date, Amount]:
    if day is None:
        raise BadRow("it has no day")
    on = day_written(day, answer.day_form)
    if said is None or said in answer.unknown:
        return on, Amount(None)
    amount = amount_written(said)
    if amount.mm is None:
        return on, amount
    return on, Amount(round(amount.mm * UNIT_MM[answer.unit], 3), amount.trace)
