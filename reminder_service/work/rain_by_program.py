"""Rain that another program measured or knows, put into the rain book."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from reminder_service.agronomy.rain_book import Observer
from reminder_service.records import audit, rain
from reminder_service.records.engine import writing
from reminder_service.records.rain import NewObservation
from reminder_service.work.program_keys import Asking
from reminder_service.work.services import Services


@dataclass(frozen=True, slots=True)
class Reading:
    """Rain of one day.

    Attributes
    ----------
    on : local day
    mm : in mm
    trace : too little to measure was seen
    plot_id : None for the ward's own gauge
    """

    on: date
    mm: float
    trace: bool
    plot_id: int | None


def keep_readings(
    services: Services, ward_id: int, asking: Asking, readings: Sequence[Reading]
) -> int:
    """Keep what a program says it rained; the last it says of a place and day counts.

    Parameters
    ----------
    services : the services
    ward_id : one that the program sees
    asking : the program
    readings : none of a day to come

    Returns
    -------
    how many were kept
    """
    now = services.clock()
    new = [
        NewObservation(
            ward_id,
            each.plot_id,
            each.on,
            each.mm,
            each.trace,
            Observer.SOURCE,
            f"key {asking.key.id}",
            person_id=asking.person.id,
        )
        for each in readings
    ]
    with writing(services.engine) as c:
        kept = rain.keep_observations(c, new, now)
        days = Counter(each.on for each in readings)
        audit.note(
            c,
            at=now,
            who=asking.person.login,
            what="rain by program",
            subject=f"ward {ward_id}",
            after={"readings": kept, "first": str(min(days)), "last": str(max(days))},
        )
    return kept
