"""What would become of each row, and that no order or repetition makes two of one farmer."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reminder_service.records.list_lookups import Known, KnownFarmer, KnownPlot, fold_name
from reminder_service.records.list_tables import Fate
from reminder_service.work.lists.cells import Said
from reminder_service.work.lists.judging import Earlier, judged

NALO, JUMA = "+447700900001", "+447700900002"
FARMER = KnownFarmer(7, "Nalo Teme", 1, "en", frozenset({NALO}))
PLOT = KnownPlot(70, 7, 1, "4", 5600, 22_222, 700, True, {"maturity": "medium"})
NOBODY = Known({}, {}, {}, {}, {}, frozenset())


def known(*plots: KnownPlot, farmer: KnownFarmer = FARMER, stopped=()) -> Known:
    name = fold_name(farmer.name)
    return Known(
        {farmer.id: farmer},
        {(name, phone): farmer for phone in farmer.phones},
        {} if farmer.phones else {(farmer.ward_id, name): [farmer]},
        {(plot.ward_id, plot.number): plot for plot in plots},
        {(farmer.id, 1): list(plots)},
        frozenset(stopped),
    )


def row(at: int = 2, **said) -> Said:
    plain = {"ward_id": 1, "name": "Nalo Teme", "phones": (NALO,), "stations": 5600}
    return Said(at, **(plain | said))


def fate(said: Said, records: Known = NOBODY, earlier: Earlier | None = None):
    return judged(said, records, earlier or Earlier(), "en")


def test_a_stranger_is_a_new_farmer():
    found = fate(row())
    assert (found.fate, found.stations_per_ha, found.language) == (Fate.NEW_FARMER, 22_222, "en")


def test_a_second_row_of_a_stranger_is_a_second_plot():
    earlier = Earlier()
    fate(row(2), earlier=earlier)
    found = fate(row(3, name="NALO  teme"), earlier=earlier)
    assert (found.fate, found.first_row, found.place) == (Fate.NEW_PLOT, 2, 2)


def test_two_farmers_may_share_a_phone():
    earlier = Earlier()
    fate(row(2), earlier=earlier)
    assert fate(row(3, name="Juma Keto"), earlier=earlier).fate is Fate.NEW_FARMER


def test_a_row_that_says_what_is_known_changes_nothing():
    assert fate(row(number="4"), known(PLOT)).fate is Fate.SAME
    assert fate(row(), known(PLOT)).fate is Fate.SAME


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"stations": 900}, "stations: 5600 \u2192 900"),
        ({"per_ha": 18_519}, "stations on a hectare: 22222 \u2192 18519"),
        ({"language": "sw"}, "language: en \u2192 sw"),
        ({"choices": {"maturity": "short"}}, "maturity: medium \u2192 short"),
        ({"phones": (NALO, JUMA)}, f"phones: {NALO} \u2192 {NALO}, {JUMA}"),
    ],
    ids=["stations", "spacing", "language", "choice", "phone"],
)
def test_a_row_that_differs_says_what_it_changes(said, words):
    found = fate(row(number="4", **said), known(PLOT))
    assert (found.fate, found.says) == (Fate.CHANGE, (words,))


def test_hectares_of_a_known_plot_are_counted_by_its_own_spacing():
    plot = replace(PLOT, stations_per_ha=20_000, stations=5000)
    assert fate(row(stations=None, hectares=0.25), known(plot)).fate is Fate.SAME


def test_an_empty_cell_changes_nothing():
    assert fate(row(number="4", stations=None, phones=()), known(PLOT)).fate is Fate.SAME


def test_a_known_farmer_gets_a_plot_under_a_new_number():
    found = fate(row(number="9"), known(PLOT))
    assert (found.fate, found.farmer_id, found.opens_season) == (Fate.NEW_PLOT, 7, True)


def test_a_known_plot_without_a_season_gets_one():
    found = fate(row(number="4"), known(replace(PLOT, season_id=None, season_open=False)))
    assert (found.fate, found.opens_season) == (Fate.CHANGE, True)


def test_a_closed_season_stays_as_it_is():
    closed = replace(PLOT, season_open=False)
    found = fate(row(number="4", choices={"maturity": "short"}), known(closed))
    assert (found.fate, found.season_id) == (Fate.SAME, None)


def test_somebody_elses_plot_is_a_fault():
    found = fate(row(number="4", name="Juma Keto"), known(PLOT))
    assert found.fate is Fate.FAULT and "that of Nalo Teme" in found.says[0]


def test_a_new_plot_needs_a_size():
    found = fate(row(stations=None))
    assert found.fate is Fate.FAULT and "in hectares" in found.says[0]


def test_a_farmer_without_a_phone_is_known_by_name_and_ward():
    farmer = replace(FARMER, phones=frozenset())
    assert fate(row(phones=()), known(PLOT, farmer=farmer)).fate is Fate.SAME


def test_two_farmers_of_one_name_without_a_phone_cannot_be_told_apart():
    farmer = replace(FARMER, phones=frozenset())
    records = replace(known(farmer=farmer), phoneless={(1, "nalo teme"): [farmer, farmer]})
    assert fate(row(phones=()), records).fate is Fate.FAULT


def test_a_phone_that_said_stop_is_told_of():
    assert "has said stop" in fate(row(), known(PLOT, stopped=[NALO])).says[0]


def test_the_same_plot_twice_in_a_list_counts_once():
    earlier = Earlier()
    fate(row(2, number="9"), earlier=earlier)
    found = fate(row(3, number="9"), earlier=earlier)
    assert (found.fate, found.says) == (Fate.SAME, ("the same as row 2",))


@pytest.mark.parametrize("said", [{"stations": 800}, {"name": "Juma Keto"}, {"language": "sw"}])
def test_one_plot_cannot_be_two_things(said):
    earlier = Earlier()
    fate(row(2, number="9"), earlier=earlier)
    assert fate(row(3, number="9", **said), earlier=earlier).fate is Fate.FAULT


def test_a_faulty_row_brings_no_farmer_for_the_rows_after_it():
    earlier = Earlier()
    fate(row(2, faults=("the ward is missing",)), earlier=earlier)
    assert fate(row(3), earlier=earlier).fate is Fate.NEW_FARMER


def test_one_farmer_cannot_have_two_languages():
    earlier = Earlier()
    fate(row(2, language="sw"), earlier=earlier)
    assert fate(row(3, language="pt"), earlier=earlier).fate is Fate.FAULT


rows = st.lists(
    st.tuples(
        st.sampled_from(["Nalo Teme", "nalo teme", "Juma Keto"]),
        st.sampled_from([(), (NALO,), (JUMA,), (NALO, JUMA)]),
        st.sampled_from([None, "4", "9"]),
        st.sampled_from([None, 100, 200]),
        st.integers(1, 2),
    ),
    max_size=12,
)


@given(rows)
def test_no_list_brings_a_farmer_or_a_plot_twice(said):
    earlier, found = Earlier(), []
    for at, (name, phones, number, stations, ward_id) in enumerate(said, start=2):
        each = Said(at, ward_id, name, phones, None, number, stations)
        found.append((each, judged(each, NOBODY, earlier, "en")))
    farmers = [
        (fold_name(each.name), key)
        for each, seen in found
        if seen.fate is Fate.NEW_FARMER
        for key in (each.phones or (("ward", each.ward_id),))
    ]
    assert len(farmers) == len(set(farmers))
    plots = [
        (seen.ward_id, seen.number)
        for _, seen in found
        if seen.number and seen.fate in (Fate.NEW_FARMER, Fate.NEW_PLOT)
    ]
    assert len(plots) == len(set(plots))


@given(rows)
def test_whoever_a_row_follows_was_brought_by_that_row(said):
    earlier, fates = Earlier(), {}
    for at, (name, phones, number, stations, ward_id) in enumerate(said, start=2):
        seen = judged(
            Said(at, ward_id, name, phones, None, number, stations), NOBODY, earlier, "en"
        )
        fates[at] = seen.fate
        assert seen.first_row is None or fates[seen.first_row] is Fate.NEW_FARMER
