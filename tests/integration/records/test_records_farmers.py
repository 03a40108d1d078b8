"""Wards, farmers, phones, plots and their seasons."""

from concurrent.futures import ThreadPoolExecutor
from datetime import date

import pytest
from records_cast import NOW, a_season, another_season, phone_number
from sqlalchemy import select, update
from sqlalchemy.exc import IntegrityError

from reminder_service.records import farmers
from reminder_service.records import tables as t
from reminder_service.records.engine import writing
from reminder_service.records.errors import AlreadyThere, NotFound


def plot_numbers(c, phone: int) -> list[str]:
    phone_id = farmers.phone_for(c, phone_number(phone)).id
    return [plot.plot_number for plot in farmers.open_plots_of_phone(c, phone_id)]


def test_wards_come_by_name(c):
    for name in ("Setiwe", "Olmara"):
        farmers.add_ward(c, name, "Africa/Lusaka")
    assert [(ward.name, ward.zone) for ward in farmers.wards(c)] == [
        ("Olmara", "Africa/Lusaka"),
        ("Setiwe", "Africa/Lusaka"),
    ]


def test_a_ward_has_its_name_alone(c):
    farmers.add_ward(c, "Olmara", "Africa/Lusaka")
    with pytest.raises(AlreadyThere, match='there is a ward "Olmara" already'):
        farmers.add_ward(c, "Olmara", "Africa/Nairobi")


def test_a_season_says_whose_it_is_and_where(c, season):
    assert season.farmer_name == "Farmer 1" and season.plot_number == "P1"
    assert (season.ward_name, season.zone) == ("Olmara", "Africa/Lusaka")
    assert season.choices == {"top-dressing": "mineral"}
    assert [phone.number for phone in season.phones] == [phone_number(1)]


def test_a_season_nobody_opened_is_not_found(c):
    with pytest.raises(NotFound, match='there is no season "77"'):
        farmers.season(c, 77)


def test_a_locked_season_reads_like_an_unlocked_one(c, season):
    assert farmers.lock_season(c, season.season_id) == season


def test_a_plot_number_is_kept_in_capitals_and_unique_in_its_ward(c, season):
    plot = {"farmer_id": season.farmer_id, "stations": 10, "stations_per_ha": 20_000}
    farmers.add_plot(c, ward_id=season.ward_id, number="k7", **plot)
    with pytest.raises(AlreadyThere, match='"K7"'):
        farmers.add_plot(c, ward_id=season.ward_id, number="K7", **plot)
    elsewhere = farmers.add_ward(c, "Setiwe", "Africa/Lusaka")
    assert farmers.add_plot(c, ward_id=elsewhere, number="K7", **plot)


def test_a_plot_has_one_season_of_a_name(c, season):
    with pytest.raises(AlreadyThere, match="2026/27"):
        another_season(c, season.plot_id)


def test_a_plot_without_stations_is_refused(engine):
    with pytest.raises(IntegrityError), writing(engine) as c:
        season = farmers.season(c, a_season(c))
        farmers.add_plot(
            c,
            farmer_id=season.farmer_id,
            ward_id=season.ward_id,
            number="P2",
            stations=0,
            stations_per_ha=1,
        )


def test_one_phone_may_serve_several_farmers(c):
    a_season(c, 1, phones=(5,))
    a_season(c, 2, phones=(5, 6))
    assert plot_numbers(c, 5) == ["P1", "P2"] and plot_numbers(c, 6) == ["P2"]


def test_a_number_named_twice_is_one_phone(c):
    season = farmers.season(c, a_season(c, 1, phones=(5, 5)))
    assert [phone.number for phone in season.phones] == [phone_number(5)]


def test_plots_come_in_the_order_people_count(c):
    for number in (10, 2, 1):
        a_season(c, number, phones=(5,))
    assert plot_numbers(c, 5) == ["P1", "P2", "P10"]


def test_only_the_latest_season_of_a_plot_is_open(c, season):
    later = another_season(c, season.plot_id, "2027/28", date(2027, 10, 1))
    open_plots = farmers.open_plots_of_phone(c, season.phones[0].id)
    assert [plot.season_id for plot in open_plots] == [later]


def test_a_closed_season_is_not_open(c, season):
    c.execute(update(t.seasons).values(closed_at=NOW))
    assert farmers.open_plots_of_phone(c, season.phones[0].id) == []


def test_a_phone_is_found_or_made(c):
    made = farmers.phone_for(c, phone_number(9))
    assert farmers.phone_for(c, phone_number(9)) == made
    assert made.number == phone_number(9) and made.stopped_at is None


def test_threads_that_make_one_phone_get_the_same(engine):
    def make(_):
        with writing(engine) as c:
            return farmers.phone_for(c, phone_number(9)).id

    with ThreadPoolExecutor(8) as pool:
        assert len(set(pool.map(make, range(24)))) == 1


def test_a_phone_stops_once_and_starts_once(c):
    phone = farmers.phone_for(c, phone_number(9))
    done = [farmers.stop_phone(c, phone.id, NOW), farmers.stop_phone(c, phone.id, NOW)]
    assert done == [True, False]
    assert farmers.phone_for(c, phone.number).stopped_at == NOW
    assert [farmers.start_phone(c, phone.id), farmers.start_phone(c, phone.id)] == [True, False]
    assert farmers.phone_for(c, phone.number).stopped_at is None


def test_planning_is_noted(c, season):
    farmers.mark_planned(c, season.season_id, "maize-hand-hoe 2", NOW)
    row = c.execute(select(t.seasons.c.rulebook, t.seasons.c.planned_at)).one()
    assert row == ("maize-hand-hoe 2", NOW)


def test_a_locked_season_keeps_other_planners_out(engine):
    """Four planners add a word to the season's name: none may overwrite another's."""
    with writing(engine) as c:
        season_id = a_season(c)

    def plan(word):
        with writing(engine) as c:
            farmers.lock_season(c, season_id)
            said = c.execute(select(t.seasons.c.rulebook)).scalar_one()
            farmers.mark_planned(c, season_id, f"{said} {word}", NOW)

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(plan, "abcd"))
    with writing(engine) as c:
        said = c.execute(select(t.seasons.c.rulebook)).scalar_one()
    assert sorted(said.removeprefix("maize-hand-hoe 1 ").split()) == list("abcd")
