"""The plain types that reading a text answers with."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from pydantic import TypeAdapter

from reminder_service.kinds import Kind


@dataclass(frozen=True, slots=True)
class Said:
    """One thing that a text says or asks.

    Attributes
    ----------
    kind : what it is
    on : local day of the event; the day of sending where the text names none
    on_given : whether the text itself named the day
    mm : rain, in millimetres, 0 or more
    task, number : for ``done`` and ``why``: the task's name (as the caller's rulebook calls it)
        and its round, from 1
    plots : plot numbers or names as written, upper case; empty where the text names none
    counts : seedlings at each station, in the order counted
    damaged : plants with funnel damage out of the 100 looked at
    language : ISO 639-1 code, for ``language``
    whole_ward : it is said of every plot that the sender speaks for (``FOR ALL``)
    """

    kind: Kind
    on: date | None = None
    on_given: bool = False
    mm: float | None = None
    task: str | None = None
    number: int | None = None
    plots: tuple[str, ...] = ()
    counts: tuple[int, ...] = ()
    damaged: int | None = None
    language: str | None = None
    whole_ward: bool = False


@dataclass(frozen=True, slots=True)
class BadDate:
    """Something in the date's place that is no date.

    Attributes
    ----------
    written : what stands in the text
    """

    written: str


@dataclass(frozen=True, slots=True)
class Reading:
    """What a text was read as; exactly one of the four is given.

    Attributes
    ----------
    said : what it says, in the order written; empty if it was not read
    ask : the choices to offer where it is ambiguous; the first choice is number 1
    bad_date : the report was recognised but its date was not
    unread : nothing in it was recognised
    """

    said: tuple[Said, ...] = ()
    ask: tuple[Said, ...] = ()
    bad_date: BadDate | None = None
    unread: bool = False


def said_value(said: Said) -> dict[str, object]:
    """Plain values of one thing said; what the text does not say is left out.

    Parameters
    ----------
    said : one thing said

    Returns
    -------
    ``kind`` and ``on`` always; ``mm task number plots counts damaged language whole_ward``
    where said
    """
    value: dict[str, object] = {"kind": said.kind.value, "on": said.on}
    optional = {
        "mm": said.mm,
        "task": said.task,
        "number": said.number,
        "plots": list(said.plots) or None,
        "counts": list(said.counts) or None,
        "damaged": said.damaged,
        "language": said.language,
        "whole_ward": said.whole_ward or None,
    }
    return value | {name: got for name, got in optional.items() if got is not None}


_SAID = TypeAdapter(Said)


def said_from(value: Mapping[str, object]) -> Said:
    """The thing said that `said_value` made these plain values of, its day perhaps in ISO form.

    Parameters
    ----------
    value : as `said_value` answers

    Returns
    -------
    the thing said
    """
    return _SAID.validate_python(value)
