"""What the page says of the soil beside an open dressing or weeding. Pure."""

from collections.abc import Iterator
from datetime import date, timedelta

from reminder_service.agronomy.field_moisture import (
    HEAVY_STORM_MM,
    WATERLOGGED_DAYS,
    Answer,
    DrySpell,
    HoldReason,
    dry_spell_hurts,
)
from reminder_service.agronomy.heat import Basis
from reminder_service.web.wording import counted, day_words
from reminder_service.work.moisture import FieldSoil

LOOKED_BACK_DAYS = 7
"""Days before today of which the page counts the unknown ones (setting)."""

ASKS = {
    HoldReason.WAIT_FOR_MOISTURE: "Reminders that go out today say to wait for rain.",
    HoldReason.HEAVY_STORM: "Reminders that go out today say to dress after it.",
    HoldReason.WATERLOGGED: "Reminders that go out today say to let it drain.",
}


ET0_WORDS = {
    Basis.MEASURED: "the day's temperatures",
    Basis.NORMAL: "the month's usual temperatures",
}

WEEDS = {
    Answer.YES: "Weeds will keep coming up: the topsoil has stayed moist.",
    Answer.NO: "Few weeds will come up now: the topsoil is dry.",
}

SPELLS = {
    DrySpell.BEGINS: "The dry spell begins to hold the crop back.",
    DrySpell.HURTS: "The dry spell hurts the crop: weeds that stand now take the last water.",
}


def weed_notes(soil: FieldSoil, tasselling_on: date | None) -> Iterator[str]:
    """Sentences on weeds and crop as the soil water has them; none where it is not known.

    Parameters
    ----------
    soil : of the plot today
    tasselling_on : reported or estimated local day; None if there is no idea of it

    Yields
    ------
    whether weeds keep coming up, and what a dry spell does to the crop
    """
    if not soil.days:
        return
    weeds = soil.weeds
    spell = dry_spell_hurts(soil.days[-1], tasselling_on)
    yield from [WEEDS[weeds]] if weeds in WEEDS else []
    yield from [SPELLS[spell]] if spell in SPELLS else []


def soil_notes(soil: FieldSoil) -> Iterator[str]:
    """Sentences on the soil of a plot and on what they do to today's reminders.

    Parameters
    ----------
    soil : of the plot today

    Yields
    ------
    the state of the topsoil, a storm that is expected, and what reminders say
    """
    hold = soil.hold
    yield _wet(soil) if hold is HoldReason.WATERLOGGED else _state(soil)
    storms = [
        f"{mm:.0f} mm of rain are expected on {day_words(on)}."
        for on, mm in sorted(soil.forecast_mm.items())
        if mm >= HEAVY_STORM_MM and on >= soil.today
    ]
    if hold is HoldReason.HEAVY_STORM:
        yield storms[0]
    if hold in ASKS:
        yield ASKS[hold]


def et0_note(soil: FieldSoil) -> str:
    """What the water that soil and crop lose is reckoned from.

    Parameters
    ----------
    soil : of the plot, with at least one day
    """
    parts = [
        f"{words} on {counted(soil.et0_from[basis], 'day', 'days')}"
        for basis, words in ET0_WORDS.items()
        if soil.et0_from.get(basis)
    ]
    rest = len(soil.days) - sum(soil.et0_from.values())
    if rest:
        parts.append(f"the usual amount on {counted(rest, 'day', 'days')}")
    return f"Water lost since planting is reckoned from {', '.join(parts)}."


def _state(soil: FieldSoil) -> str:
    if not soil.days:
        return "Soil: unknown, since planting has no day yet. Reminders stay as they are."
    if soil.moist is Answer.UNKNOWN:
        back = [soil.today - timedelta(days=n) for n in range(1, LOOKED_BACK_DAYS + 1)]
        unknown = counted(sum(on not in soil.known for on in back), "day", "days")
        return (
            f"Soil: dry or moist is not known, for the rain of {unknown} of the last "
            f"{LOOKED_BACK_DAYS} is missing. Reminders stay as they are."
        )
    left = (
        f"{soil.left_mm:.0f} of {soil.soil.total_evaporable_mm:.0f} mm are left in the top 10 cm "
        f"on {day_words(soil.days[-1].on)} ({soil.soil.name})"
    )
    if soil.dry_since is not None:
        return f"Soil: dry since {day_words(soil.dry_since)}; {left}."
    return f"Soil: moist; {left}."


def _wet(soil: FieldSoil) -> str:
    ran_mm = sum(day.overflow_mm for day in soil.days[-WATERLOGGED_DAYS:])
    return (
        f"Soil: too wet; {ran_mm:.0f} mm more than the roots' soil can hold came down in the last "
        f"{WATERLOGGED_DAYS} days up to {day_words(soil.days[-1].on)} ({soil.soil.name})."
    )
