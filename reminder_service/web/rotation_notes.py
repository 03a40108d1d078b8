"""What the page says of the next crop: what may follow, its seed, a legume's nitrogen. Pure."""

from collections.abc import Sequence

from reminder_service.agronomy.rotation import (
    CROPS,
    MEMORY,
    family_runs,
    next_crops,
    nitrogen_credit,
    season_needs,
)


def rotation_notes(grown: Sequence[str], area_ha: float) -> list[str]:
    """Sentences on the crop after those that stood on a plot.

    Parameters
    ----------
    grown : crops of the last seasons, oldest first; one that rotation does not know says nothing
    area_ha : of the plot, ha

    Returns
    -------
    the sentences; none if it is not known what grew
    """
    if not grown or any(crop not in CROPS for crop in grown):
        return []
    last = grown[-1]
    found = next_crops(grown)
    said = [f"After {last}: {_seed_list([c.name for c in found if c.advised], last, area_ha)}."]
    if family_runs(grown) > 1:
        said.append(
            f"{_begun(CROPS[last].family)} stood here {family_runs(grown)} seasons in a row: "
            "change the family now."
        )
    said += [warning for crop in found for warning in crop.warnings]
    said.append(_credit(grown))
    return said


def _seed_list(names: Sequence[str], last: str, area_ha: float) -> str:
    """Crops with the seed that they take on the plot; figures from memory are marked."""
    parts = []
    for name in names:
        seed_kg = season_needs(name, last, area_ha).seed_kg
        mark = "about " if CROPS[name].seed_source == MEMORY else ""
        parts.append(f"{name} ({mark}{seed_kg} kg of seed)" if seed_kg else name)
    return ", ".join(parts)


def _credit(grown: Sequence[str]) -> str:
    """What the next crop may be given less, now or after the legume."""
    least, most = nitrogen_credit(grown[-1])
    if most:
        return f"The next crop may get {least:.0f} to {most:.0f} kg less nitrogen a hectare."
    least, most = nitrogen_credit("cowpea")
    return (
        f"A legume next saves the crop after it {least:.0f} to {most:.0f} kg of fertiliser "
        "nitrogen a hectare; what it fixed itself is no credit, most leaves with the grain."
    )


def _begun(words: str) -> str:
    return words[:1].upper() + words[1:]
