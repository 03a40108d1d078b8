"""Rotation: what may follow a crop, what a legume leaves behind, and what the next season takes."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import ceil
from types import MappingProxyType
from typing import Final

from reminder_service.agronomy.errors import OutOfRange, check_within


class Family(StrEnum):
    """Plant family, by the word that farmers and advisers use."""

    GRASSES = "grasses"
    LEGUMES = "legumes"
    DAISIES = "daisies"
    MALLOWS = "mallows"
    BINDWEEDS = "bindweeds"


@dataclass(frozen=True, slots=True)
class Crop:
    """A crop as rotation sees it.

    Attributes
    ----------
    family : its family
    seed_kg_per_ha : kg of seed (of sweet potato: none, it grows from vines) for one hectare
    seed_source : where that figure comes from
    hosts_borer : stalk borers of maize live on it too
    """

    family: Family
    seed_kg_per_ha: float | None
    seed_source: str
    hosts_borer: bool = False


MEMORY: Final = "value from memory: ask the seed seller"

CROPS: Final = MappingProxyType(
    {
        # Hosts of the borers: S47. Families: from memory.
        "maize": Crop(Family.GRASSES, 25, MEMORY, hosts_borer=True),
        "sorghum": Crop(Family.GRASSES, 8, MEMORY, hosts_borer=True),
        "millet": Crop(Family.GRASSES, 5, MEMORY, hosts_borer=True),
        "groundnut": Crop(Family.LEGUMES, 80, MEMORY),
        "cowpea": Crop(Family.LEGUMES, 60, "S83"),
        "common bean": Crop(Family.LEGUMES, 60, "S83"),
        "pigeon pea": Crop(Family.LEGUMES, 50, "S83"),
        "soybean": Crop(Family.LEGUMES, 90, "S84, middle of 80 to 100"),
        "sunflower": Crop(Family.DAISIES, 5, MEMORY),
        "cotton": Crop(Family.MALLOWS, 20, MEMORY),
        "sweet potato": Crop(Family.BINDWEEDS, None, "grows from vines"),
    }
)
"""Crops by name, those that suit a hand hoe first by family."""

LEGUME_CREDIT_KG: Final = (20, 40)  # S61: fertiliser equivalent; what was fixed is no credit
AREA_RANGE: Final = (0.001, 100_000)  # setting
GROWN_RANGE: Final = (1, 20)  # setting: seasons looked back on


@dataclass(frozen=True, slots=True)
class NextCrop:
    """A crop that may follow.

    Attributes
    ----------
    name, family : which
    advised : nothing speaks against it, and after a grass it is a legume
    warnings : what speaks against it, in whole sentences
    """

    name: str
    family: Family
    advised: bool
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SeasonNeeds:
    """What the next season takes on one plot.

    Attributes
    ----------
    seed_kg : whole kg of seed; None where none is sown
    n_credit_kg : least and most kg of fertiliser nitrogen that the crop before saves on the plot
    """

    seed_kg: int | None
    n_credit_kg: tuple[float, float]


def crop_named(name: str) -> Crop:
    """Crop of a name.

    Parameters
    ----------
    name : as in `CROPS`

    Returns
    -------
    the crop

    Raises
    ------
    OutOfRange
        There is no such crop.

    References
    ----------
    Families and the seed of most crops [memory]; seed of the others [S83], [S84].

    Examples
    --------
    >>> crop_named("cowpea").family.value
    'legumes'
    """
    if name not in CROPS:
        raise OutOfRange("crop", name, f"one of {', '.join(CROPS)}")
    return CROPS[name]


def next_crops(grown: Sequence[str]) -> list[NextCrop]:
    """Every crop as a follower of what grew before, advised ones first.

    Parameters
    ----------
    grown : crops of the plot's last seasons, oldest first, 1 to 20

    Returns
    -------
    the crops, in the order of `CROPS` among advised and others

    Raises
    ------
    OutOfRange
        A crop is not known, or there is none.

    References
    ----------
    No sorghum or millet after maize, for the borer [S47]; another family, a legume after a
    grass: Common practice, no source; cereals gain after grain legumes [S60].

    Examples
    --------
    >>> [crop.name for crop in next_crops(["maize"]) if crop.advised]
    ['groundnut', 'cowpea', 'common bean', 'pigeon pea', 'soybean']
    """
    check_within("grown", len(grown), *GROWN_RANGE, "seasons")
    before = [crop_named(name) for name in grown]
    after_grass = before[-1].family is Family.GRASSES
    found = []
    for name, crop in CROPS.items():
        warnings = _warnings(name, crop, grown[-1], before)
        wanted = crop.family is Family.LEGUMES or not after_grass
        found.append(NextCrop(name, crop.family, wanted and not warnings, warnings))
    return sorted(found, key=lambda crop: not crop.advised)


def _warnings(name: str, crop: Crop, last: str, before: Sequence[Crop]) -> tuple[str, ...]:
    """What speaks against a crop after those before."""
    said = []
    if crop.family is before[-1].family:
        same = "the same crop" if name == last else f"of the same family ({crop.family})"
        said.append(f"{_begun(name)} after {last} is {same} twice: pests and diseases carry over.")
    if crop.hosts_borer and before[-1].hosts_borer:
        said.append(f"{_begun(name)} keeps the stalk borers of {last} alive.")
    return tuple(said)


def _begun(name: str) -> str:
    return name[:1].upper() + name[1:]


def family_runs(grown: Sequence[str]) -> int:
    """Seasons in a row, up to the last, that one family has stood on a plot.

    Parameters
    ----------
    grown : crops of the plot's last seasons, oldest first, 1 to 20

    Returns
    -------
    seasons, 1 or more

    Raises
    ------
    OutOfRange
        A crop is not known, or there is none.

    References
    ----------
    Arithmetic.

    Examples
    --------
    >>> family_runs(["cowpea", "sorghum", "maize"])
    2
    """
    check_within("grown", len(grown), *GROWN_RANGE, "seasons")
    families = [crop_named(name).family for name in grown]
    run = 0
    for family in reversed(families):
        if family is not families[-1]:
            break
        run += 1
    return run


def nitrogen_credit(before: str) -> tuple[float, float]:
    """Fertiliser nitrogen that the next crop may be given less, after a crop.

    What a legume fixed is not the credit: most of it leaves the plot with the grain.

    Parameters
    ----------
    before : crop of the season before, as in `CROPS`

    Returns
    -------
    least and most, kg N/ha; both 0 after anything but a legume

    Raises
    ------
    OutOfRange
        There is no such crop.

    References
    ----------
    [S61]

    Examples
    --------
    >>> nitrogen_credit("soybean"), nitrogen_credit("maize")
    ((20.0, 40.0), (0.0, 0.0))
    """
    if crop_named(before).family is not Family.LEGUMES:
        return 0.0, 0.0
    least, most = LEGUME_CREDIT_KG
    return float(least), float(most)


def season_needs(crop: str, before: str, area_ha: float) -> SeasonNeeds:
    """Seed for a plot, and what the crop before saves in nitrogen.

    Parameters
    ----------
    crop : to be sown, as in `CROPS`
    before : crop of the season before
    area_ha : of the plot, ha, 0.001 to 100,000

    Returns
    -------
    what it takes

    Raises
    ------
    OutOfRange
        A crop is not known, or the area is outside its range.

    References
    ----------
    Seed as in ``crop_named``; credit as in ``nitrogen_credit``; Arithmetic.

    Examples
    --------
    >>> season_needs("maize", "cowpea", 0.25)
    SeasonNeeds(seed_kg=7, n_credit_kg=(5.0, 10.0))
    """
    check_within("area_ha", area_ha, *AREA_RANGE, "ha")
    seed = crop_named(crop).seed_kg_per_ha
    least, most = nitrogen_credit(before)
    return SeasonNeeds(
        seed_kg=None if seed is None else ceil(round(seed * area_ha, 6)),
        n_credit_kg=(least * area_ha, most * area_ha),
    )
