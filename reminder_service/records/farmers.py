"""Wards, farmers with their phones, plots, and the seasons that planning works on."""

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import ColumnElement, Connection, Select, and_, exists, insert, or_, select, update

from reminder_service.kinds import PhoneNumber, SeasonId
from reminder_service.records import tables as t
from reminder_service.records.errors import AlreadyThere, NotFound
from reminder_service.records.once import insert_once
from reminder_service.records.types import Decision
from reminder_service.records.views import Ward, wards_seen


@dataclass(frozen=True, slots=True)
class Phone:
    """One phone.

    Attributes
    ----------
    stopped_at : when its user said stop; None if it may be written to
    """

    id: int
    number: PhoneNumber
    stopped_at: datetime | None


@dataclass(frozen=True, slots=True)
class PlotOnPhone:
    """An open season of a plot, with its farmer and ward.

    Attributes
    ----------
    starts_on : first local day of the season
    zone : IANA name of the ward's time zone
    """

    season_id: SeasonId
    plot_id: int
    plot_number: str
    farmer_id: int
    farmer_name: str
    language: str
    ward_id: int
    ward_name: str
    zone: str
    starts_on: date
    label: str
    stations: int
    stations_per_ha: int
    choices: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class SeasonForPlanning(PlotOnPhone):
    """A season as planning needs it: with the phones of its farmer, the first one first.

    Attributes
    ----------
    let_in : False for a farmer who joined by text and whom no coordinator has approved
    """

    phones: tuple[Phone, ...]
    let_in: bool = True


def add_ward(c: Connection, name: str, zone: str) -> int:
    """Add a ward and answer its id. Index: uq_wards_name.

    Raises
    ------
    AlreadyThere
        A ward has that name.
    """
    return _added("ward", name, insert_once(c, t.wards, {"name": name, "zone": zone}))


def wards(c: Connection) -> list[Ward]:
    """Every ward, by name."""
    return wards_seen(c, None)


def add_farmer(
    c: Connection,
    *,
    ward_id: int,
    name: str,
    language: str,
    numbers: Sequence[PhoneNumber],
    at: datetime,
) -> int:
    """Add a farmer with the phones they use, which may serve others too.

    Parameters
    ----------
    c : connection of a write transaction
    ward_id : where the farmer lives
    name : as the farmer says it
    language : code of the language to write in
    numbers : of the farmer's phones, each found or made
    at : aware UTC instant

    Returns
    -------
    id of the farmer
    """
    values = {"ward_id": ward_id, "name": name, "language": language, "created_at": at}
    added = insert(t.farmers).values(values).returning(t.farmers.c.id)
    farmer_id: int = c.execute(added).scalar_one()
    for number in dict.fromkeys(numbers):
        phone = phone_for(c, number)
        c.execute(insert(t.farmer_phones).values(farmer_id=farmer_id, phone_id=phone.id))
    return farmer_id


def add_plot(
    c: Connection,
    *,
    farmer_id: int,
    ward_id: int,
    number: str,
    stations: int,
    stations_per_ha: int,
) -> int:
    """Add a plot and answer its id. Index: uq_plots_ward_id_number.

    Parameters
    ----------
    c : connection of a write transaction
    farmer_id, ward_id : whose, and where
    number : what the farmer writes in a text; kept in capitals
    stations : planting stations on the plot, above 0
    stations_per_ha : planting stations on one hectare, above 0

    Raises
    ------
    AlreadyThere
        A plot of the ward has that number.
    """
    values = {
        "farmer_id": farmer_id,
        "ward_id": ward_id,
        "number": number.upper(),
        "stations": stations,
        "stations_per_ha": stations_per_ha,
    }
    return _added("plot", number.upper(), insert_once(c, t.plots, values))


def open_season(
    c: Connection,
    *,
    plot_id: int,
    label: str,
    starts_on: date,
    rulebook: str,
    choices: Mapping[str, str],
) -> SeasonId:
    """Open a season on a plot and answer its id. Index: uq_seasons_plot_id_label.

    Parameters
    ----------
    c : connection of a write transaction
    plot_id : which plot
    label : name of the season, e.g. ``2026/27``
    starts_on : first local day on which something can be reported for it
    rulebook : name and version of the rulebook
    choices : the plot's choices

    Raises
    ------
    AlreadyThere
        The plot has a season of that name.
    """
    values = {
        "plot_id": plot_id,
        "label": label,
        "starts_on": starts_on,
        "rulebook": rulebook,
        "choices": dict(choices),
    }
    return SeasonId(_added("season", label, insert_once(c, t.seasons, values)))


def _added(what: str, key: str, id_: int | None) -> int:
    if id_ is None:
        raise AlreadyThere(what, key)
    return id_


def phone_for(c: Connection, number: PhoneNumber) -> Phone:
    """The phone with a number, found or made. Index: uq_phones_number."""
    insert_once(c, t.phones, {"number": number})
    found = c.execute(select(t.phones).where(t.phones.c.number == number)).one()
    return Phone(found.id, found.number, found.stopped_at)


def has_stopped(c: Connection, phone_id: int) -> bool:
    """Whether a phone's user said stop. Index: primary key."""
    stopped_at = select(t.phones.c.stopped_at).where(t.phones.c.id == phone_id)
    return c.execute(stopped_at).scalar_one() is not None


def stop_phone(c: Connection, phone_id: int, at: datetime) -> bool:
    """Note that a phone's user wants no more texts; False if that was known. Index: primary key."""
    known = and_(t.phones.c.id == phone_id, t.phones.c.stopped_at.is_(None))
    return c.execute(update(t.phones).where(known).values(stopped_at=at)).rowcount == 1


def start_phone(c: Connection, phone_id: int) -> bool:
    """Note that a phone may be written to again; False if it might already. Index: primary key."""
    known = and_(t.phones.c.id == phone_id, t.phones.c.stopped_at.is_not(None))
    return c.execute(update(t.phones).where(known).values(stopped_at=None)).rowcount == 1


def open_plots_of_phone(c: Connection, phone_id: int) -> list[PlotOnPhone]:
    """The plots that a phone serves, each with its open season, by plot number as people count.

    Index: ix_farmer_phones_phone_id, then ix_plots_farmer_id and uq_seasons_plot_id_label.
    """
    users = select(t.farmer_phones.c.farmer_id).where(t.farmer_phones.c.phone_id == phone_id)
    return _open_plots(c, t.plots.c.farmer_id.in_(users))


def open_plots_of_farmers(c: Connection, farmer_ids: Collection[int]) -> list[PlotOnPhone]:
    """The plots of some farmers, each with its open season, by plot number as people count.

    Index: ix_plots_farmer_id, then uq_seasons_plot_id_label.
    """
    return _open_plots(c, t.plots.c.farmer_id.in_(sorted(farmer_ids)))


def open_plots_of_wards(c: Connection, ward_ids: Collection[int]) -> list[PlotOnPhone]:
    """The plots of some wards, each with its open season, by plot number as people count.

    Index: uq_plots_ward_id_number, then uq_seasons_plot_id_label.
    """
    return _open_plots(c, t.plots.c.ward_id.in_(sorted(ward_ids)))


def _open_plots(c: Connection, which: ColumnElement[bool]) -> list[PlotOnPhone]:
    found = [
        PlotOnPhone(**row) for row in c.execute(_seasons().where(which, _is_open())).mappings()
    ]
    return sorted(found, key=lambda plot: (_natural(plot.plot_number), plot.season_id))


def set_language(c: Connection, farmer_id: int, language: str) -> None:
    """Write to a farmer in another language from now on. Index: primary key."""
    c.execute(update(t.farmers).where(t.farmers.c.id == farmer_id).values(language=language))


def season(c: Connection, season_id: SeasonId) -> SeasonForPlanning:
    """One season as it is now. Index: primary key.

    Raises
    ------
    NotFound
        There is no such season.
    """
    return _season(c, season_id, _seasons())


def lock_season(c: Connection, season_id: SeasonId) -> SeasonForPlanning:
    """One season, kept from every other planner until this transaction ends. Index: primary key.

    On SQLite the whole database is ours already; on PostgreSQL the season's row is locked.

    Raises
    ------
    NotFound
        There is no such season.
    """
    return _season(c, season_id, _seasons().with_for_update(of=t.seasons))


def mark_planned(c: Connection, season_id: SeasonId, rulebook: str, at: datetime) -> None:
    """Note which rulebook made a season's plan, and when. Index: primary key."""
    c.execute(
        update(t.seasons)
        .where(t.seasons.c.id == season_id)
        .values(rulebook=rulebook, planned_at=at)
    )


def _is_open() -> ColumnElement[bool]:
    """Whether a season is its plot's latest and not closed. Index: uq_seasons_plot_id_label."""
    later = t.seasons.alias("later")
    overtaken = exists().where(
        later.c.plot_id == t.seasons.c.plot_id,
        or_(
            later.c.starts_on > t.seasons.c.starts_on,
            and_(later.c.starts_on == t.seasons.c.starts_on, later.c.id > t.seasons.c.id),
        ),
    )
    return and_(t.seasons.c.closed_at.is_(None), ~overtaken)


def _seasons() -> Select[tuple[object, ...]]:
    """Columns under the names of `PlotOnPhone`."""
    return select(
        t.seasons.c.id.label("season_id"),
        t.plots.c.id.label("plot_id"),
        t.plots.c.number.label("plot_number"),
        t.farmers.c.id.label("farmer_id"),
        t.farmers.c.name.label("farmer_name"),
        t.farmers.c.language,
        t.wards.c.id.label("ward_id"),
        t.wards.c.name.label("ward_name"),
        t.wards.c.zone,
        t.seasons.c.starts_on,
        t.seasons.c.label,
        t.plots.c.stations,
        t.plots.c.stations_per_ha,
        t.seasons.c.choices,
    ).select_from(
        t.seasons.join(t.plots)
        .join(t.farmers, t.plots.c.farmer_id == t.farmers.c.id)
        .join(t.wards, t.plots.c.ward_id == t.wards.c.id)
    )


def _season(
    c: Connection, season_id: SeasonId, wanted: Select[tuple[object, ...]]
) -> SeasonForPlanning:
    row = c.execute(wanted.where(t.seasons.c.id == season_id)).mappings().one_or_none()
    if row is None:
        raise NotFound("season", season_id)
    farmer_id = row["farmer_id"]
    return SeasonForPlanning(**row, phones=_phones(c, farmer_id), let_in=_let_in(c, farmer_id))


def _let_in(c: Connection, farmer_id: int) -> bool:
    """Whether nobody has to approve a farmer any more. Index: primary key of newcomers."""
    held_back = exists().where(
        t.newcomers.c.farmer_id == farmer_id,
        t.newcomers.c.decision != Decision.APPROVED.value,
    )
    return not c.execute(select(held_back)).scalar_one()


def _phones(c: Connection, farmer_id: int) -> tuple[Phone, ...]:
    """Phones of a farmer in the order they came to us. Index: primary key of farmer_phones."""
    rows = c.execute(
        select(t.phones)
        .select_from(t.phones.join(t.farmer_phones))
        .where(t.farmer_phones.c.farmer_id == farmer_id)
        .order_by(t.phones.c.id)
    )
    return tuple(Phone(row.id, row.number, row.stopped_at) for row in rows)


def _natural(number: str) -> list[tuple[int, str]]:
    """Order in which people count: P2 before P10."""
    parts = re.findall(r"\d+|\D+", number)
    return [(int(part), "") if part.isdecimal() else (-1, part) for part in parts]
