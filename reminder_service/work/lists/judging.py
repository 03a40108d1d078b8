"""What would become of each row of a list, given what is known already. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from reminder_service.kinds import PhoneNumber
from reminder_service.records.list_lookups import Known, KnownFarmer, KnownPlot, fold_name
from reminder_service.records.list_rows import Judged
from reminder_service.records.list_tables import Fate
from reminder_service.records.list_writing import DIGITS_COUNTED
from reminder_service.work.lists.cells import Said, default_per_ha

ADD_NUMBER = "give the plot number, so that it is clear which plot is meant"


@dataclass(slots=True)
class Earlier:
    """What earlier rows of the same list have said.

    Attributes
    ----------
    farmers : rows that bring a new farmer, by name with a phone, or by name with the ward
    plots : rows by ward and plot number, with all they say of the plot
    places : how many rows without plot number each farmer has had in each ward
    languages : the language that a row gave a farmer, with the row
    highest : the highest plot number of digits alone in each ward
    """

    farmers: dict[tuple[str, object], int] = field(default_factory=dict)
    plots: dict[tuple[int, str], tuple[int, object]] = field(default_factory=dict)
    places: dict[tuple[object, int], int] = field(default_factory=dict)
    languages: dict[object, tuple[int, str]] = field(default_factory=dict)
    highest: dict[int, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Owner:
    """Whose plot a row speaks of.

    Attributes
    ----------
    known : a farmer in the records
    first_row : the earlier row that brings the farmer; both None: this row brings them
    fault : why it cannot be told
    """

    known: KnownFarmer | None = None
    first_row: int | None = None
    fault: str = ""


def judged(
    said: Said, known: Known, earlier: Earlier, language: str, place: int | None = None
) -> Judged:
    """What would become of one row; `earlier` learns of it.

    A farmer is known by the name with one of the phones, or by the plot's number with the name.
    A row without plot number means the farmer's plots one after the other, oldest first, so that
    the same list brought twice says the same twice.

    Parameters
    ----------
    said : what the row says
    known : what the records hold of it
    earlier : what earlier rows have said
    language : of new farmers whose row gives none
    place : which of the farmer's rows without number this is, if that was counted before

    Returns
    -------
    its fate, and what would be written
    """
    if said.faults or said.ward_id is None:
        return _faulty(said, said.faults)
    owner = _owner(said, known, earlier)
    if owner.fault:
        return _faulty(said, [owner.fault])
    who: object = owner.known.id if owner.known else ("row", owner.first_row or said.row)
    plot = _plot_meant(said, known, owner)
    if said.number is None:
        place = place or earlier.places.get((who, said.ward_id), 0) + 1
        plot = _plot_at(known, owner, said.ward_id, place)
    found = _weighed(said, known, owner, plot, place, language)
    if found.fate is Fate.FAULT:
        return _faulty(said, found.says)
    fault = _contradiction(said, found, who, earlier)
    if fault:
        return _faulty(said, [fault])
    row = earlier.plots.get((said.ward_id, found.number or ""), (0, None))[0]
    if row:
        return Judged(said.row, Fate.SAME, (f"the same as row {row}",), ward_id=said.ward_id)
    _learn(said, found, who, earlier)
    return found


def _faulty(said: Said, faults: Sequence[str]) -> Judged:
    return Judged(said.row, Fate.FAULT, tuple(faults), ward_id=said.ward_id)


def _owner(said: Said, known: Known, earlier: Earlier) -> Owner:
    name = fold_name(said.name)
    plot = known.plots.get((said.ward_id or 0, said.number or ""))
    if plot is not None:
        owner = known.farmers[plot.farmer_id]
        if fold_name(owner.name) == name:
            return Owner(owner)
        return Owner(
            fault=f"plot {plot.number} is known as that of {owner.name}: "
            "write the name the same, or give another plot number"
        )
    for number in said.phones:
        if (name, number) in known.by_phone:
            return Owner(known.by_phone[name, number])
    if not said.phones:
        same = known.phoneless.get((said.ward_id or 0, name), ())
        if len(same) > 1:
            return Owner(fault=f"{len(same)} farmers without a phone have this name: {ADD_NUMBER}")
        if same:
            return Owner(same[0])
    rows = [earlier.farmers.get(key) for key in _keys(said)]
    return Owner(first_row=next((row for row in rows if row is not None), None))


def _keys(said: Said) -> list[tuple[str, object]]:
    name = fold_name(said.name)
    return [(name, number) for number in said.phones] or [(name, said.ward_id)]


def _plot_meant(said: Said, known: Known, owner: Owner) -> KnownPlot | None:
    return known.plots.get((said.ward_id or 0, said.number or "")) if owner.known else None


def _plot_at(known: Known, owner: Owner, ward_id: int, place: int) -> KnownPlot | None:
    """The farmer's plot that stands at a place, from 1, in the order they came to us."""
    if owner.known is None:
        return None
    plots = known.plots_of.get((owner.known.id, ward_id), ())
    return plots[place - 1] if place <= len(plots) else None


def _weighed(
    said: Said,
    known: Known,
    owner: Owner,
    plot: KnownPlot | None,
    place: int | None,
    language: str,
) -> Judged:
    """What the row would write, before it is held against the other rows."""
    farmer = owner.known
    found = Judged(
        said.row,
        Fate.SAME,
        said.notes + tuple(_stopped(said, known)),
        ward_id=said.ward_id,
        farmer_id=None if farmer is None else farmer.id,
        first_row=owner.first_row,
        name=said.name if farmer is None else farmer.name,
        language=said.language or (language if farmer is None else farmer.language),
        number=said.number,
        place=place,
        phones=said.phones if farmer is None else tuple(_new_phones(said, farmer)),
    )
    if plot is not None and farmer is not None:
        return _known_plot(said, found, farmer, plot)
    per_ha = said.per_ha or default_per_ha()
    stations = _stations(said, per_ha)
    if stations is None:
        missing = "the plot is new: give its stations, or its size in hectares"
        return replace(found, fate=Fate.FAULT, says=(missing,))
    is_new = farmer is None and owner.first_row is None
    before, after = ({}, {}) if farmer is None else _farmer_change(found, farmer)
    another = [f"plot {place} of this farmer in the ward"] if (place or 1) > 1 else []
    return replace(
        found,
        fate=Fate.NEW_FARMER if is_new else Fate.NEW_PLOT,
        says=(*found.says, *another, *_in_words(before, after)),
        stations=stations,
        stations_per_ha=per_ha,
        choices=dict(said.choices),
        opens_season=True,
        before=before,
        after=after,
    )


def _stopped(said: Said, known: Known) -> list[str]:
    stopped = [number for number in said.phones if number in known.stopped]
    return [f"the phone {number} has said stop: it gets no texts" for number in stopped]


def _new_phones(said: Said, farmer: KnownFarmer) -> list[PhoneNumber]:
    return [number for number in said.phones if number not in farmer.phones]


def _stations(said: Said, per_ha: int) -> int | None:
    if said.stations is not None:
        return said.stations
    return None if said.hectares is None else max(1, round(said.hectares * per_ha))


def _farmer_change(
    found: Judged, farmer: KnownFarmer
) -> tuple[dict[str, object], dict[str, object]]:
    before: dict[str, object] = {}
    after: dict[str, object] = {}
    if found.language != farmer.language:
        before["language"], after["language"] = farmer.language, found.language
    if found.phones:
        before["phones"] = sorted(farmer.phones)
        after["phones"] = sorted({*farmer.phones, *found.phones})
    return before, after


def _known_plot(said: Said, found: Judged, farmer: KnownFarmer, plot: KnownPlot) -> Judged:
    before, after = _farmer_change(found, farmer)
    per_ha = said.per_ha or plot.stations_per_ha
    stations = _stations(said, per_ha) or plot.stations
    choices = {**plot.choices, **said.choices}
    new: dict[str, object] = {"stations": stations, "stations_per_ha": per_ha}
    old: dict[str, object] = {
        "stations": plot.stations,
        "stations_per_ha": plot.stations_per_ha,
    }
    if plot.season_id is None:
        old["season"], new["season"] = "none this year", "opened"
    elif not plot.season_open:
        choices = dict(plot.choices)  # what was closed stays as it was
    for name, value in choices.items():
        old[name], new[name] = plot.choices.get(name, "as the rulebook says"), value
    changed = [name for name in new if old[name] != new[name]]
    before |= {name: old[name] for name in changed}
    after |= {name: new[name] for name in changed}
    return replace(
        found,
        fate=Fate.CHANGE if after else Fate.SAME,
        says=found.says + tuple(_in_words(before, after)),
        number=plot.number,
        plot_id=plot.id,
        season_id=plot.season_id if plot.season_open else None,
        stations=stations,
        stations_per_ha=per_ha,
        choices=choices,
        opens_season=plot.season_id is None,
        before=before,
        after=after,
    )


_CALLED = {"stations_per_ha": "stations on a hectare"}


def _in_words(before: Mapping[str, object], after: Mapping[str, object]) -> list[str]:
    return [
        f"{_CALLED.get(name, name)}: {_listed(before[name])} \N{RIGHTWARDS ARROW} {_listed(value)}"
        for name, value in after.items()
    ]


def _listed(value: object) -> str:
    return ", ".join(value) or "none" if isinstance(value, list) else str(value)


def _contradiction(said: Said, found: Judged, who: object, earlier: Earlier) -> str | None:
    """Why the row cannot stand beside an earlier one."""
    if found.number is not None and said.ward_id is not None:
        row, told = earlier.plots.get((said.ward_id, found.number), (0, None))
        if row and told != _told(said, found, who):
            return f"row {row} says something else of plot {found.number}: {ADD_NUMBER}"
    row, language = earlier.languages.get(who, (0, ""))
    if row and said.language and language != said.language:
        return f"row {row} gives the same farmer another language"
    return None


def _told(said: Said, found: Judged, who: object) -> tuple[object, ...]:
    choices = tuple(sorted((found.choices or {}).items()))
    size = (found.stations, found.stations_per_ha)
    return (who, said.phones, said.language, *size, choices)


def _learn(said: Said, found: Judged, who: object, earlier: Earlier) -> None:
    ward_id = said.ward_id or 0
    if found.farmer_id is None:
        first = found.first_row or found.row
        earlier.farmers.update({key: first for key in _keys(said) if key not in earlier.farmers})
    if found.number is not None:
        earlier.plots.setdefault((ward_id, found.number), (said.row, _told(said, found, who)))
        counts = found.number.isascii() and found.number.isdecimal()
        if counts and len(found.number) <= DIGITS_COUNTED:
            highest = earlier.highest.get(ward_id, 0)
            earlier.highest[ward_id] = max(highest, int(found.number))
    if found.place is not None and said.number is None:
        key = (who, ward_id)
        earlier.places[key] = max(earlier.places.get(key, 0), found.place)
    if said.language:
        earlier.languages.setdefault(who, (said.row, said.language))
