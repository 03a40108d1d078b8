"""What a list is read by: its person's wards, the languages, the rulebook, the season."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache, lru_cache, partial
from zoneinfo import ZoneInfo

from sqlalchemy import Connection

from reminder_service.kinds import PhoneNumber
from reminder_service.records.list_lookups import Asked, fold_name
from reminder_service.records.lists import ListJob
from reminder_service.records.people import person_by_id
from reminder_service.records.types import Role
from reminder_service.records.views import Scope, wards_seen
from reminder_service.texts.words import Role as WordRole
from reminder_service.texts.words import shipped_languages, word_list
from reminder_service.work.choices_by_hand import choices_offered
from reminder_service.work.languages import is_written
from reminder_service.work.lists.cells import Reader, Said
from reminder_service.work.lists.columns import Field, folded
from reminder_service.work.receive import e164
from reminder_service.work.services import Services

LONG_NUMBER = 10
"""Fewest digits of a number that may have lost the plus sign before it (setting)."""


@dataclass(frozen=True, slots=True)
class Setting:
    """What one list is read and written by.

    Attributes
    ----------
    reader : for its cells
    scope : wards that its person may see; None for all
    who : its person's login, for the audit log
    seasons : label and first local day of this year's season, by ward id
    """

    reader: Reader
    scope: Scope
    who: str
    seasons: Mapping[int, tuple[str, date]]


def setting_of(c: Connection, services: Services, job: ListJob) -> Setting:
    """What a list is read by now; a person who has lost a ward brings nothing into it.

    Parameters
    ----------
    c : connection
    services : settings, rulebook and clock
    job : the list
    """
    person = None if job.person_id is None else person_by_id(c, job.person_id)
    scope: Scope = None
    if person is not None and (person.role is not Role.PROGRAMME_LEAD or not person.active):
        scope = person.ward_ids if person.role is Role.COORDINATOR and person.active else ()
    wards = wards_seen(c, scope)
    now = services.clock()
    seasons = {ward.id: this_season(services, now, ward.zone) for ward in wards}
    ward_id = job.ward_id if job.ward_id in seasons else None
    reader = Reader(
        columns=tuple(None if held is None else Field(held) for held in job.columns),
        wards={ward.name: ward.id for ward in wards},
        ward_id=ward_id,
        languages=language_names(),
        choices=choices_offered(services.rulebook),
        phone=phone_reader(services.settings.default_region),
    )
    return Setting(reader, scope, "command" if person is None else person.login, seasons)


def this_season(services: Services, now: datetime, zone: str) -> tuple[str, date]:
    """Label and first local day of the season that it is now in a zone."""
    starts_on = services.settings.season_start(now.astimezone(ZoneInfo(zone)).date())
    return f"{starts_on.year}/{(starts_on.year + 1) % 100:02d}", starts_on


@cache
def language_names() -> Mapping[str, str]:
    """Codes of the languages that texts are written in, by every name of them, folded."""
    found = {code: code for code in shipped_languages() if is_written(code)}
    for language in list(found):
        for phrase, meaning in word_list(language).phrases.items():
            if meaning.role is WordRole.LANGUAGE and meaning.name in found.values():
                found[folded(" ".join(phrase))] = meaning.name
    return found


def phone_number(written: str, region: str) -> PhoneNumber | None:
    """E.164 number of a cell; spreadsheets drop the plus sign of a number, so it is put back.

    Parameters
    ----------
    written : the cell, or a part of it
    region : ISO 3166 region of numbers without a country code; ZZ for none

    Examples
    --------
    >>> phone_number("447700900001", "ZZ"), phone_number("07700 900001", "GB")
    ('+447700900001', '+447700900001')
    """
    found = e164(written, None if region == "ZZ" else region)
    digits = "".join(filter(str.isdigit, written))
    if found is None and len(digits) >= LONG_NUMBER and not written.startswith(("+", "0")):
        found = e164(f"+{digits}", None)
    return found


@lru_cache(maxsize=8)
def phone_reader(region: str) -> partial[PhoneNumber | None]:
    """Reader of the phone numbers of one region."""
    return partial(phone_number, region=region)


def asked_of(said: Sequence[Said], seasons: Mapping[int, tuple[str, date]]) -> Asked:
    """What must be looked up before some rows can be judged.

    Parameters
    ----------
    said : what the rows say
    seasons : this year's, by ward id
    """
    good = [row for row in said if not row.faults and row.ward_id is not None]
    plots: dict[int, set[str]] = {}
    for row in good:
        if row.number is not None and row.ward_id is not None:
            plots.setdefault(row.ward_id, set()).add(row.number)
    phones: Collection[str] = {number for row in good for number in row.phones}
    names = {row.name for row in good if not row.phones}
    return Asked(plots, phones, names, {ward: label for ward, (label, _) in seasons.items()})


__all__ = [
    "Setting",
    "asked_of",
    "fold_name",
    "language_names",
    "phone_number",
    "setting_of",
    "this_season",
]
