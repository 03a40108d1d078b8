"""Writing the judged rows of a list into the register, a whole stretch of rows a statement.

However long the stretch, the number of statements stays the same, so that a list of 100,000 rows
that must go in as a whole keeps the write lock of SQLite for seconds and not for minutes.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import (
    BigInteger,
    ColumnElement,
    Connection,
    Date,
    Select,
    String,
    Table,
    and_,
    case,
    cast,
    func,
    insert,
    literal,
    or_,
    select,
    update,
)
from sqlalchemy.dialects import postgresql, sqlite

from reminder_service.records import tables as t
from reminder_service.records.list_tables import (
    WRITTEN,
    Fate,
    import_phones,
    import_rows,
    vouched_consents,
)
from reminder_service.records.types import Instant

DIGITS_COUNTED = 9
"""Digits of the longest plot number from which others are counted on (setting)."""

_ROW = import_rows.c
_NEW = (Fate.NEW_FARMER.value, Fate.NEW_PLOT.value)


@dataclass(frozen=True, slots=True)
class Stretch:
    """Rows of a list that are written together, and what they have in common.

    Attributes
    ----------
    first, last : numbers of the rows
    at : aware UTC instant
    who : for the audit log
    rulebook : name and version
    seasons : label and first local day of this year's season, by ward id
    highest : the highest plot number of digits alone that the list gives, by ward id
    """

    import_id: int
    first: int
    last: int
    at: datetime
    who: str
    rulebook: str
    seasons: Mapping[int, tuple[str, date]]
    highest: Mapping[int, int]


def write_rows(c: Connection, rows: Stretch) -> None:
    """Write farmers, phones, plots, seasons and changes of some judged rows.

    Index: primary key of import_rows throughout.

    Parameters
    ----------
    c : connection of a write transaction; on PostgreSQL a key that somebody else has taken
        meanwhile is an ``IntegrityError``, and nothing of the stretch is written
    rows : which
    """
    _farmers(c, rows)
    _phones(c, rows)
    _plots(c, rows)
    for ward_id, (label, starts_on) in rows.seasons.items():
        _seasons(c, rows, ward_id, label, starts_on)
    _changes(c, rows)


def _in(rows: Stretch, *more: ColumnElement[bool]) -> ColumnElement[bool]:
    within = _ROW.row.between(rows.first, rows.last)
    return and_(_ROW.import_id == rows.import_id, within, *more)


def _new_id(c: Connection, table: Table) -> ColumnElement[int]:
    """An id for each row of the list.

    It is the sequence's next; on SQLite, where nobody else writes meanwhile, the highest id with
    the row's number added.
    """
    if c.dialect.name == "postgresql":
        return func.nextval(func.pg_get_serial_sequence(table.name, "id"))
    highest: int = c.execute(select(func.coalesce(func.max(table.c.id), 0))).scalar_one()
    return literal(highest) + _ROW.row


def _put(c: Connection, table: Table, names: list[str], rows: Select[Any]) -> None:
    c.execute(insert(table).from_select(names, rows))


def _put_once(c: Connection, table: Table, names: list[str], rows: Select[Any]) -> None:
    kind = postgresql.insert if c.dialect.name == "postgresql" else sqlite.insert
    c.execute(kind(table).from_select(names, rows).on_conflict_do_nothing())


def _farmers(c: Connection, rows: Stretch) -> None:
    brings = _in(rows, _ROW.fate.in_(_NEW), _ROW.farmer_id.is_(None), _ROW.first_row.is_(None))
    c.execute(update(import_rows).where(brings).values(farmer_id=_new_id(c, t.farmers)))
    fresh = _in(rows, _ROW.fate == Fate.NEW_FARMER.value, _ROW.first_row.is_(None))
    _put(
        c,
        t.farmers,
        ["id", "ward_id", "name", "language", "created_at"],
        select(_ROW.farmer_id, _ROW.ward_id, _ROW.name, _ROW.language, literal(rows.at, Instant))
        .where(fresh)
        .order_by(_ROW.row),
    )
    _put(
        c,
        vouched_consents,
        ["farmer_id", "import_id"],
        select(_ROW.farmer_id, _ROW.import_id).where(fresh),
    )
    first = import_rows.alias("first")
    follows = and_(first.c.import_id == _ROW.import_id, first.c.row == _ROW.first_row)
    c.execute(
        update(import_rows)
        .where(_in(rows, _ROW.farmer_id.is_(None), _ROW.first_row.is_not(None)), follows)
        .values(farmer_id=first.c.farmer_id)
    )


def _phones(c: Connection, rows: Stretch) -> None:
    given = import_phones.c
    of_rows = and_(given.import_id == rows.import_id, given.row.between(rows.first, rows.last))
    # In the order of the list: a farmer's first phone is the one that is written to.
    numbers = (
        select(given.number)
        .where(of_rows)
        .group_by(given.number)
        .order_by(func.min(given.row), func.min(given.place))
    )
    _put_once(c, t.phones, ["number"], numbers)
    joined = import_phones.join(
        import_rows, and_(_ROW.import_id == given.import_id, _ROW.row == given.row)
    ).join(t.phones, t.phones.c.number == given.number)
    links = select(_ROW.farmer_id, t.phones.c.id).distinct().select_from(joined).where(of_rows)
    _put_once(c, t.farmer_phones, ["farmer_id", "phone_id"], links)


def _plots(c: Connection, rows: Stretch) -> None:
    new = _in(rows, _ROW.fate.in_(_NEW), _ROW.plot_id.is_(None))
    wards = c.execute(
        select(_ROW.ward_id, func.count(_ROW.number) == func.count())
        .where(new)
        .group_by(_ROW.ward_id)
    ).all()
    if not wards:
        return
    for ward_id, all_numbered in wards:
        if not all_numbered:
            _number(c, rows, ward_id)
    c.execute(update(import_rows).where(new).values(plot_id=_new_id(c, t.plots)))
    _put(
        c,
        t.plots,
        ["id", "farmer_id", "ward_id", "number", "stations", "stations_per_ha"],
        select(
            _ROW.plot_id,
            _ROW.farmer_id,
            _ROW.ward_id,
            _ROW.number,
            _ROW.stations,
            _ROW.stations_per_ha,
        )
        .where(_in(rows, _ROW.fate.in_(_NEW)))
        .order_by(_ROW.row),
    )


def _number(c: Connection, rows: Stretch, ward_id: int) -> None:
    """Number the plots that have none, from the highest in the ward and in the list."""
    highest = max(_highest(c, ward_id), rows.highest.get(ward_id, 0))
    counted = (
        select(_ROW.row.label("row"), func.row_number().over(order_by=_ROW.row).label("place"))
        .where(_in(rows, _ROW.fate.in_(_NEW), _ROW.number.is_(None), _ROW.ward_id == ward_id))
        .subquery()
    )
    c.execute(
        update(import_rows)
        .where(_ROW.import_id == rows.import_id, _ROW.row == counted.c.row)
        .values(number=cast(literal(highest) + counted.c.place, String(12)))
    )


def _highest(c: Connection, ward_id: int) -> int:
    """The highest plot number in a ward that counts. Index: uq_plots_ward_id_number."""
    number = t.plots.c.number
    counts = func.length(number) <= DIGITS_COUNTED
    if c.dialect.name == "postgresql":
        counts = number.regexp_match(f"^[0-9]{{1,{DIGITS_COUNTED}}}$")
    # SQLite takes the digits at the beginning, or 0: at worst a number is left out.
    highest = func.max(cast(case((counts, number)), BigInteger))
    found: int | None = c.execute(select(highest).where(t.plots.c.ward_id == ward_id)).scalar_one()
    return found or 0


def _seasons(c: Connection, rows: Stretch, ward_id: int, label: str, starts_on: date) -> None:
    opens = _in(
        rows,
        _ROW.fate.in_([fate.value for fate in WRITTEN]),
        _ROW.opens_season,
        _ROW.ward_id == ward_id,
    )
    _put(
        c,
        t.seasons,
        ["plot_id", "label", "starts_on", "rulebook", "choices"],
        select(
            _ROW.plot_id,
            literal(label, String),
            literal(starts_on, Date),
            literal(rows.rulebook, String),
            _ROW.choices,
        )
        .where(opens)
        .order_by(_ROW.row),
    )
    c.execute(
        update(import_rows)
        .where(opens, t.seasons.c.plot_id == _ROW.plot_id, t.seasons.c.label == label)
        .values(season_id=t.seasons.c.id)
    )


def _changes(c: Connection, rows: Stretch) -> None:
    """Write what changes of known farmers and plots, and note it on the audit log."""
    changed = _in(rows, _ROW.after.is_not(None))
    of_plot = and_(changed, _ROW.fate == Fate.CHANGE.value)
    c.execute(
        update(t.farmers)
        .where(t.farmers.c.id == _ROW.farmer_id, changed)
        .values(language=_ROW.language)
    )
    c.execute(
        update(t.plots)
        .where(t.plots.c.id == _ROW.plot_id, of_plot)
        .values(stations=_ROW.stations, stations_per_ha=_ROW.stations_per_ha)
    )
    c.execute(
        update(t.seasons)
        .where(t.seasons.c.id == _ROW.season_id, of_plot)
        .values(choices=_ROW.choices)
    )
    subject = func.coalesce(
        literal("plot ") + cast(_ROW.plot_id, String),
        literal("farmer ") + cast(_ROW.farmer_id, String),
    )
    _put(
        c,
        t.audit,
        ["at", "who", "what", "subject", "before", "after"],
        select(
            literal(rows.at, Instant),
            literal(rows.who, String),
            literal("list", String),
            subject,
            _ROW.before,
            _ROW.after,
        )
        .where(changed)
        .order_by(_ROW.row),
    )


def touched_since(c: Connection, import_id: int, since: datetime) -> bool:
    """Whether somebody else has brought farmers or plots that a judged list speaks of too.

    Index: uq_phones_number, ix_farmer_phones_phone_id, uq_plots_ward_id_number.

    Parameters
    ----------
    c : connection of a write transaction
    import_id : which list
    since : aware UTC instant at which judging began
    """
    seen = select(_ROW.farmer_id).where(_ROW.import_id == import_id, _ROW.farmer_id.is_not(None))
    newer = (
        select(t.farmers.c.id)
        .where(t.farmers.c.created_at >= since, t.farmers.c.id.not_in(seen))
        .subquery()
    )
    by_phone = (
        select(literal(1))
        .select_from(
            newer.join(t.farmer_phones, t.farmer_phones.c.farmer_id == newer.c.id)
            .join(t.phones)
            .join(import_phones, import_phones.c.number == t.phones.c.number)
        )
        .where(import_phones.c.import_id == import_id)
    )
    by_plot = (
        select(literal(1))
        .select_from(
            newer.join(t.plots, t.plots.c.farmer_id == newer.c.id).join(
                import_rows,
                and_(_ROW.ward_id == t.plots.c.ward_id, _ROW.number == t.plots.c.number),
            )
        )
        .where(_ROW.import_id == import_id)
    )
    return bool(c.execute(select(or_(by_phone.exists(), by_plot.exists()))).scalar_one())
