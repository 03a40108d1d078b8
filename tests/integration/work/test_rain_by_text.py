"""Rain amounts by text: kept with the report, taken back with it; gauge keepers."""

from datetime import date

import pytest
from season_cast import AMINA, Programme, a_programme, local

from reminder_service.agronomy.rain_book import Observer, plot_rain, ward_rain
from reminder_service.records import gauges, leads, rain
from reminder_service.records.engine import reading, writing

OTHER = "+447700900002"
FIRST, LAST = date(2026, 10, 1), date(2027, 9, 30)


@pytest.fixture
def programme(engine) -> Programme:
    made = a_programme(engine, local("2026-11-25", "10:00"))
    made.plot("1", name="Amina Dule")
    return made


def book(programme: Programme):
    """What counts in the ward's rain book."""
    with reading(programme.services.engine) as c:
        ward_id = programme.rows("wards")[0]["id"]
        return rain.observations(c, ward_id, FIRST, LAST)


def keeper(programme: Programme, name: str = "Amina Dule") -> None:
    farmer = programme.rows("farmers", name=name)[0]
    with writing(programme.services.engine) as c:
        gauges.add_keeper(c, farmer["id"], farmer["ward_id"])


@pytest.mark.parametrize(
    "body, on, mm",
    [
        pytest.param("RAIN 23MM", "2026-11-25", 23.0, id="today"),
        pytest.param("RAIN 23MM 12/11", "2026-11-12", 23.0, id="with a day"),
        pytest.param("RAIN 0.05MM", "2026-11-25", 0.05, id="a trace, as it came"),
        pytest.param("FIRST RAIN 31MM 12/11", "2026-11-12", 31.0, id="the first rain"),
        pytest.param("RAIN 450MM", "2026-11-25", 450.0, id="too much, kept all the same"),
    ],
)
def test_an_amount_goes_into_the_rain_book_with_its_report(programme, body, on, mm):
    programme.text(body)
    (seen,) = book(programme)
    assert (seen.on.isoformat(), seen.mm, seen.observer) == (on, mm, Observer.FARMER)
    assert seen.plot == programme.rows("plots")[0]["id"]


def test_rain_without_an_amount_leaves_the_book_alone(programme):
    programme.text("RAIN 12/11")
    assert book(programme) == []


def test_a_bare_number_is_asked_back_and_its_amount_kept_once_picked(programme):
    assert "1" in programme.text("RAIN 23").reply
    assert book(programme) == []
    programme.text("2")
    assert [seen.mm for seen in book(programme)] == [23.0]


def test_no_takes_the_amount_back_too(programme):
    programme.text("RAIN 23MM")
    programme.text("NO")
    assert book(programme) == []
    assert len(programme.rows("rain_observations")) == 1, "nothing that came is deleted"


def test_a_refused_text_keeps_no_amount(programme):
    programme.text("RAIN 23MM 30/11")
    assert programme.rows("rain_observations") == []


def test_a_corrected_first_rain_takes_its_amount_along_and_no_brings_it_back(programme):
    programme.text("FIRST RAIN 31MM 12/11")
    programme.text("FIRST RAIN 28MM 14/11")
    assert [(seen.on.day, seen.mm) for seen in book(programme)] == [(14, 28.0)]
    programme.text("NO")
    assert [(seen.on.day, seen.mm) for seen in book(programme)] == [(12, 31.0)]


def test_an_amount_for_a_first_rain_known_already_is_kept(programme):
    programme.text("FIRST RAIN 12/11")
    programme.text("FIRST RAIN 31MM 12/11")
    assert [(seen.on.day, seen.mm) for seen in book(programme)] == [(12, 31.0)]


def test_a_second_text_for_a_day_replaces_the_first(programme):
    programme.text("RAIN 10MM 12/11")
    programme.text("RAIN 23MM 12/11")
    assert ward_rain(book(programme))[date(2026, 11, 12)].mm == 23.0


def test_a_keepers_bare_number_is_millimetres_of_the_whole_ward(programme):
    keeper(programme)
    assert "23 mm" in programme.text("RAIN 23").reply
    (seen,) = book(programme)
    assert (seen.mm, seen.plot, seen.observer) == (23.0, None, Observer.KEEPER)


def test_a_keeper_with_two_plots_is_not_asked_which(programme):
    programme.plot("2", name="Amina Dule")
    keeper(programme)
    programme.text("RAIN 23 24/11")
    (seen,) = book(programme)
    assert (seen.mm, seen.plot, seen.on.day) == (23.0, None, 24)


def test_a_keeper_who_names_a_plot_speaks_of_that_plot(programme):
    keeper(programme)
    programme.text("RAIN 8MM PLOT 1")
    (seen,) = book(programme)
    assert (seen.plot, seen.observer) == (programme.rows("plots")[0]["id"], Observer.FARMER)


def test_no_takes_a_keepers_amount_back(programme):
    keeper(programme)
    programme.text("RAIN 23")
    programme.text("NO")
    assert book(programme) == []


def test_keepers_end(programme):
    keeper(programme)
    farmer = programme.rows("farmers")[0]
    with writing(programme.services.engine) as c:
        assert gauges.end_keeper(c, farmer["id"], farmer["ward_id"])
    programme.text("RAIN 23")
    assert book(programme) == []


def test_a_plots_own_amount_goes_before_the_keepers(programme):
    programme.plot("2", phone=OTHER, name="Pelo Dule")
    keeper(programme)
    programme.text("RAIN 30")
    programme.text("RAIN 8MM", sender=OTHER)
    plots = {row["number"]: row["id"] for row in programme.rows("plots")}
    on, seen = date(2026, 11, 25), book(programme)
    assert ward_rain(seen)[on].mm == 30.0
    assert plot_rain(seen, plots["2"])[on].mm == 8.0


def test_a_lead_farmers_amount_for_all_counts_as_one_observer(programme):
    for number in ("2", "3", "4"):
        programme.plot(number, phone=f"+44770090001{number}", name=f"Farmer {number}")
    farmer = programme.rows("farmers", name="Amina Dule")[0]
    with writing(programme.services.engine) as c:
        leads.add_lead(c, farmer["id"], farmer["ward_id"])
    programme.text("RAIN 40MM FOR ALL", sender=AMINA)
    programme.text("YES", sender=AMINA)
    for number in ("2", "3"):
        programme.text("RAIN 10MM", sender=f"+44770090001{number}")
    assert len(book(programme)) == 6
    assert ward_rain(book(programme))[date(2026, 11, 25)].mm == 10.0


def test_the_same_message_twice_is_kept_once(programme):
    programme.text("RAIN 23MM", message_id="one")
    programme.text("RAIN 23MM", message_id="one")
    assert len(programme.rows("rain_observations")) == 1
