"""What the records hold already of the farmers and plots that some rows of a list speak of."""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy import ColumnElement, Connection, and_, exists, or_, select

from reminder_service.records import tables as t
from reminder_service.records.views import Scope, in_scope


@dataclass(frozen=True, slots=True)
class KnownFarmer:
    """A farmer in the records."""

    id: int
    name: str
    ward_id: int
    language: str
    phones: frozenset[str]


@dataclass(frozen=True, slots=True)
class KnownPlot:
    """A plot in the records, with its season of this year.

    Attributes
    ----------
    season_id : None if it has no season of this year
    season_open : False if that was closed
    """

    id: int
    farmer_id: int
    ward_id: int
    number: str
    stations: int
    stations_per_ha: int
    season_id: int | None
    season_open: bool
    choices: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Asked:
    """What some rows speak of.

    Attributes
    ----------
    plots : plot numbers by ward id
    phones : numbers
    names : of rows without a phone
    labels : the label of this year's season, by ward id
    """

    plots: Mapping[int, Collection[str]]
    phones: Collection[str]
    names: Collection[str]
    labels: Mapping[int, str]


@dataclass(frozen=True, slots=True)
class Known:
    """What the records hold of it.

    Attributes
    ----------
    farmers : by id
    by_phone : by name, folded, and phone
    phoneless : farmers without a phone by ward and name, folded
    plots : by ward and number
    plots_of : by farmer and ward, oldest first
    stopped : the phones that said stop
    """

    farmers: Mapping[int, KnownFarmer]
    by_phone: Mapping[tuple[str, str], KnownFarmer]
    phoneless: Mapping[tuple[int, str], Sequence[KnownFarmer]]
    plots: Mapping[tuple[int, str], KnownPlot]
    plots_of: Mapping[tuple[int, int], Sequence[KnownPlot]]
    stopped: frozenset[str]


def fold_name(name: str) -> str:
    """A farmer's name as names are compared: without regard to capitals and spaces.

    Examples
    --------
    >>> fold_name(" NALO  Teme")
    'nalo teme'
    """
    return " ".join(name.casefold().split())


def known_of(c: Connection, asked: Asked, scope: Scope) -> Known:
    """All that is known of some rows, in six statements however many rows there are.

    Index: uq_plots_ward_id_number, uq_phones_number, ix_farmer_phones_phone_id,
    ix_plots_farmer_id, uq_seasons_plot_id_label; for rows without a phone ix_farmers_ward_id.

    Parameters
    ----------
    c : connection
    asked : what the rows speak of
    scope : wards of which something may be known
    """
    numbered = _plots(c, _numbered(asked), asked.labels)
    ids = {plot.farmer_id for plot in numbered}
    ids |= _farmers_of_phones(c, asked.phones, scope) | _phoneless(c, asked, scope)
    farmers = _farmers(c, ids)
    owned = _plots(c, t.plots.c.farmer_id.in_(sorted(ids)), asked.labels) if ids else []
    plots_of: defaultdict[tuple[int, int], list[KnownPlot]] = defaultdict(list)
    for plot in owned:
        plots_of[plot.farmer_id, plot.ward_id].append(plot)
    by_phone: dict[tuple[str, str], KnownFarmer] = {}
    phoneless: defaultdict[tuple[int, str], list[KnownFarmer]] = defaultdict(list)
    for farmer in farmers.values():
        name = fold_name(farmer.name)
        in_wards = scope is None or farmer.ward_id in scope
        for number in farmer.phones if in_wards else ():
            by_phone.setdefault((name, number), farmer)
        if not farmer.phones:
            phoneless[farmer.ward_id, name].append(farmer)
    return Known(
        farmers,
        by_phone,
        phoneless,
        {(plot.ward_id, plot.number): plot for plot in numbered},
        plots_of,
        _stopped(c, asked.phones),
    )


def _numbered(asked: Asked) -> ColumnElement[bool] | None:
    parts = [
        and_(t.plots.c.ward_id == ward_id, t.plots.c.number.in_(sorted(numbers)))
        for ward_id, numbers in asked.plots.items()
    ]
    return or_(*parts) if parts else None


def _plots(
    c: Connection, which: ColumnElement[bool] | None, labels: Mapping[int, str]
) -> list[KnownPlot]:
    if which is None:
        return []
    this_year = sorted(set(labels.values()))
    rows = c.execute(
        select(
            *(t.plots.c[name] for name in ("id", "farmer_id", "ward_id", "number")),
            t.plots.c.stations,
            t.plots.c.stations_per_ha,
            t.seasons.c.id.label("season_id"),
            t.seasons.c.label,
            t.seasons.c.closed_at,
            t.seasons.c.choices,
        )
        .select_from(
            t.plots.outerjoin(
                t.seasons,
                and_(t.seasons.c.plot_id == t.plots.c.id, t.seasons.c.label.in_(this_year)),
            )
        )
        .where(which)
        .order_by(t.plots.c.id)
    )
    found: dict[int, KnownPlot] = {}
    for row in rows:
        its_year = row.season_id is not None and row.label == labels.get(row.ward_id)
        if row.id in found and not its_year:
            continue
        found[row.id] = KnownPlot(
            *row[:6],
            row.season_id if its_year else None,
            its_year and row.closed_at is None,
            dict(row.choices) if its_year else {},
        )
    return list(found.values())


def _farmers_of_phones(c: Connection, numbers: Collection[str], scope: Scope) -> set[int]:
    if not numbers:
        return set()
    rows = c.execute(
        select(t.farmer_phones.c.farmer_id)
        .select_from(t.phones.join(t.farmer_phones).join(t.farmers))
        .where(t.phones.c.number.in_(sorted(numbers)), *in_scope(t.farmers.c.ward_id, scope))
    )
    return set(rows.scalars())


def _phoneless(c: Connection, asked: Asked, scope: Scope) -> set[int]:
    """Farmers without a phone; the name must be written the same, for an index to be of use."""
    if not asked.names:
        return set()
    has_phone = exists().where(t.farmer_phones.c.farmer_id == t.farmers.c.id)
    rows = c.execute(
        select(t.farmers.c.id).where(
            t.farmers.c.name.in_(sorted(asked.names)),
            ~has_phone,
            *in_scope(t.farmers.c.ward_id, scope),
        )
    )
    return set(rows.scalars())


def _farmers(c: Connection, ids: Collection[int]) -> dict[int, KnownFarmer]:
    if not ids:
        return {}
    rows = c.execute(
        select(
            *(t.farmers.c[name] for name in ("id", "name", "ward_id", "language")),
            t.phones.c.number,
        )
        .select_from(t.farmers.outerjoin(t.farmer_phones).outerjoin(t.phones))
        .where(t.farmers.c.id.in_(sorted(ids)))
        .order_by(t.farmers.c.id)
    )
    found: dict[int, KnownFarmer] = {}
    for row in rows:
        phones = found[row.id].phones if row.id in found else frozenset[str]()
        added = phones if row.number is None else phones | {row.number}
        found[row.id] = KnownFarmer(row.id, row.name, row.ward_id, row.language, added)
    return found


def _stopped(c: Connection, numbers: Collection[str]) -> frozenset[str]:
    if not numbers:
        return frozenset()
    rows = c.execute(
        select(t.phones.c.number).where(
            t.phones.c.number.in_(sorted(numbers)), t.phones.c.stopped_at.is_not(None)
        )
    )
    return frozenset(rows.scalars())
