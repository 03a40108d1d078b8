"""What stands beside a plot's tasks: amounts, tea and its end, stand, borer, rotation."""

from datetime import date

import pytest

from reminder_service.kinds import Kind
from reminder_service.rules.derive import derive
from reminder_service.rules.facts import PlotFacts
from reminder_service.rules.shipped import shipped_rulebook
from reminder_service.web.rotation_notes import rotation_notes
from reminder_service.web.task_notes import PlotNow, crops_grown, task_notes

BOOK = shipped_rulebook()
RAIN, UP = date(2026, 11, 12), date(2026, 11, 21)
THIS = "maize-hand-hoe 5"


def notes(*, counts=None, grown=(THIS,), dressing="both", **dates) -> dict:
    """Notes of a plot with 4400 stations."""
    known = {Kind.FIRST_RAIN: RAIN, Kind.GERMINATED: UP}
    known |= {Kind(name): on for name, on in dates.items()}
    facts = PlotFacts(dates=known, choices={"top-dressing": dressing, "maturity": "medium"})
    plot = PlotNow(facts, 4400, 22_222, counts or {}, grown)
    return task_notes(derive(facts, BOOK).tasks, BOOK, plot)


def test_a_dressing_says_what_it_takes() -> None:
    assert notes()["top-dress-first", 1] == (
        "Takes 19.8 kg, 4.5 g a station by the 5 ml cup: 34.5 kg of nitrogen a hectare.",
    )


def test_each_bag_says_when_it_goes_into_water_and_for_which_tea() -> None:
    found = notes()
    assert found["manure-brew", 1] == (
        "1 bag into water on Sat 21 Nov, for the tea of Sat 12 Dec: 1 drum of 200 litres, "
        "40 kg of fresh manure.",
    )
    assert "for the tea of Sat 26 Dec" in found["manure-brew", 2][0]


def test_tea_says_how_it_is_thinned() -> None:
    first = notes()["manure-tea", 1]
    assert first == ("200 litres of steeped tea in 2000 litres of water, 0.5 litres a station.",)


def last_tea(**dates: date) -> str:
    found = notes(**dates)
    number = max(number for name, number in found if name == "manure-tea")
    assert sum("series" in " ".join(said) for said in found.values()) == 1
    return found["manure-tea", number][-1]


def test_the_hygiene_stop_ends_the_series_and_says_why() -> None:
    said = last_tea()  # harvest is estimated for 3 April
    assert said.startswith(
        "The series ends on Sun 3 Jan 2027, 90 days before harvest (Sat 3 Apr 2027, estimated), "
        "because tea of raw manure counts as raw manure"
    )
    assert "S39" in said


def test_tasselling_ends_the_series_where_it_comes_first() -> None:
    said = last_tea(tasselled=date(2027, 1, 2), harvested=date(2027, 5, 1))
    assert said.startswith("The series ends at tasselling, Sat 2 Jan 2027; the hygiene stop, 90 ")


def test_a_plot_without_tea_says_nothing_of_it() -> None:
    assert not [key for key in notes(dressing="mineral") if key[0].startswith("manure")]


def test_a_stand_count_says_how_sure_it_is_and_what_it_is_worth() -> None:
    counts = {Kind.COUNT: {"counts": [2, 0, 0, 1, 2, 0, 3, 2, 1, 0], "on": UP}}
    first, second, third = notes(counts=counts)["stand-check", 1]
    assert first.startswith("6 of 10 stations have plants: 60%, for the plot 31% to 83%")
    assert "55% of a full stand, 24,444 plants a hectare. Too poor: ask the adviser" in second
    assert third == "To know it within 10% either way, count 95 stations here and there."


def test_a_large_count_asks_for_no_more() -> None:
    counts = {Kind.COUNT: {"counts": [2] * 120, "on": UP}}
    said = notes(counts=counts)["stand-check", 1]
    assert len(said) == 2 and said[1].endswith("Good enough.")


def test_the_borer_task_shows_the_days_of_the_literature_and_the_threshold() -> None:
    first, second = notes()["borer", 1]
    assert "lay Sat 12 Dec to Sat 26 Dec and larvae hatch Sat 19 Dec to Wed 6 Jan" in first
    assert second == "Looking decides, not the calendar: the threshold is 5 of 100 plants."


@pytest.mark.parametrize(
    ("damaged", "on", "dates", "says"),
    [
        pytest.param(9, date(2026, 12, 20), {}, "adviser and label say", id="above"),
        pytest.param(5, date(2026, 12, 20), {}, "nothing is used", id="not above"),
        pytest.param(9, date(2026, 12, 9), {}, "Too early", id="before it opens"),
        pytest.param(
            9, date(2027, 1, 20), {"tasselled": date(2027, 1, 15)}, "Too late", id="past tassels"
        ),
    ],
)
def test_a_borer_count_is_judged(damaged: int, on: date, dates: dict, says: str) -> None:
    counts = {Kind.BORER_COUNT: {"damaged": damaged, "on": on}}
    assert says in notes(counts=counts, **dates)["borer", 1][-1]


def test_rotation_names_legumes_with_their_seed_for_this_plot() -> None:
    said = notes()["rotate", 1]
    assert said[0] == (
        "After maize: groundnut (about 16 kg of seed), cowpea (12 kg of seed), common bean (12 kg "
        "of seed), pigeon pea (10 kg of seed), soybean (18 kg of seed)."
    )
    assert any("Sorghum keeps the stalk borers of maize alive." in each for each in said)
    assert "20 to 40 kg of fertiliser nitrogen" in said[-1]


def test_maize_after_maize_is_told() -> None:
    said = notes(grown=("maize-hand-hoe 2", THIS))["rotate", 1]
    assert "Grasses stood here 2 seasons in a row: change the family now." in said


def test_seasons_of_another_rulebook_break_the_row() -> None:
    assert crops_grown(["maize-hand-hoe 1", "cowpea-by-hand 1", THIS], BOOK) == ["maize"]
    assert crops_grown(["cowpea-by-hand 1"], BOOK) == []


def test_after_a_legume_the_next_crop_needs_less() -> None:
    assert rotation_notes(["maize", "cowpea"], 0.2)[-1] == (
        "The next crop may get 20 to 40 kg less nitrogen a hectare."
    )


@pytest.mark.parametrize("grown", [[], ["tobacco"]], ids=["nothing known", "an unknown crop"])
def test_rotation_says_nothing_of_what_it_does_not_know(grown: list[str]) -> None:
    assert rotation_notes(grown, 0.2) == []
