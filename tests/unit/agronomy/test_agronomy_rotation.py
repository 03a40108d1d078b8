"""Rotation: what may follow what, the legume's credit, and the seed of the next season."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reminder_service.agronomy.errors import OutOfRange
from reminder_service.agronomy.rotation import (
    CROPS,
    Family,
    family_runs,
    next_crops,
    nitrogen_credit,
    season_needs,
)
from reminder_service.agronomy.sources import sources

NAMES = st.sampled_from(sorted(CROPS))


def test_after_maize_a_legume_is_advised_and_nothing_else() -> None:
    advised = {crop.name for crop in next_crops(["maize"]) if crop.advised}
    assert advised == {name for name, crop in CROPS.items() if crop.family is Family.LEGUMES}


@pytest.mark.parametrize("name", ["sorghum", "millet"])
def test_sorghum_and_millet_after_maize_are_warned_of_for_the_borer(name: str) -> None:
    crop = next(crop for crop in next_crops(["maize"]) if crop.name == name)
    assert any("stalk borers of maize" in warning for warning in crop.warnings)
    assert not crop.advised


def test_the_same_crop_twice_is_warned_of() -> None:
    maize = next(crop for crop in next_crops(["cowpea", "maize"]) if crop.name == "maize")
    assert maize.warnings[0].startswith("Maize after maize is the same crop twice")


@given(NAMES)
def test_the_same_family_twice_is_never_advised(last: str) -> None:
    for crop in next_crops([last]):
        same = crop.family is CROPS[last].family
        assert bool(crop.warnings) == same
        assert not (same and crop.advised)


@given(NAMES)
def test_advised_crops_come_first_and_none_is_left_out(last: str) -> None:
    found = next_crops([last])
    assert sorted(crop.name for crop in found) == sorted(CROPS)
    assert [crop.advised for crop in found] == sorted((c.advised for c in found), reverse=True)
    assert found[0].advised


@pytest.mark.parametrize(
    ("grown", "run"),
    [
        (["maize"], 1),
        (["maize", "maize"], 2),
        (["maize", "cowpea", "maize"], 1),
        (["cowpea", "sorghum", "maize", "millet"], 3),
    ],
    ids=["one season", "twice", "broken by a legume", "three grasses"],
)
def test_seasons_of_one_family_in_a_row(grown: list[str], run: int) -> None:
    assert family_runs(grown) == run


@given(NAMES)
def test_only_a_legume_leaves_a_credit_and_it_is_the_published_one(name: str) -> None:
    legume = CROPS[name].family is Family.LEGUMES
    assert nitrogen_credit(name) == ((20, 40) if legume else (0, 0))


def test_the_credit_is_not_what_the_legume_fixed() -> None:
    # Malawi: soybean fixed 63 kg N/ha above ground (van Vugt and others).
    assert nitrogen_credit("soybean")[1] < 63


@pytest.mark.parametrize(
    ("crop", "area_ha", "seed_kg"),
    [
        pytest.param("soybean", 1, 90, id="the middle of 80 to 100"),
        pytest.param("cowpea", 0.25, 15, id="a quarter hectare"),
        pytest.param("maize", 0.25, 7, id="rounded up"),
        pytest.param("sweet potato", 1, None, id="grown from vines"),
    ],
)
def test_seed_of_the_next_season(crop: str, area_ha: float, seed_kg: int | None) -> None:
    assert season_needs(crop, "maize", area_ha).seed_kg == seed_kg


def test_maize_after_a_legume_is_credited_by_area() -> None:
    assert season_needs("maize", "groundnut", 0.5).n_credit_kg == (10, 20)


@pytest.mark.parametrize("name", sorted(CROPS))
def test_every_seed_figure_says_where_it_comes_from(name: str) -> None:
    said = CROPS[name].seed_source
    assert "memory" in said or "vines" in said or said.split(",")[0] in sources()


@pytest.mark.parametrize(
    ("call", "field"),
    [
        pytest.param(lambda: next_crops([]), "grown", id="nothing grown"),
        pytest.param(lambda: family_runs([]), "grown", id="no seasons"),
        pytest.param(lambda: next_crops(["tobacco"]), "crop", id="unknown crop"),
        pytest.param(lambda: season_needs("maize", "maize", 0), "area_ha", id="no area"),
    ],
)
def test_refuses(call, field: str) -> None:
    with pytest.raises(OutOfRange) as refusal:
        call()
    assert refusal.value.field == field
