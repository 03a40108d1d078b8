"""Counts by text, on both engines: early, in the window, late, another pest, a poor stand."""

import pytest
from season_cast import Programme, a_programme, local


@pytest.fixture
def programme(engine) -> Programme:
    made = a_programme(engine, local("2026-11-25", "10:00"))
    made.plot("1")
    made.text("RAIN 12/11")
    made.text("GERM 21/11")
    return made


def borer_done(programme: Programme):
    return programme.rows("tasks", name="borer")[0]["done_on"]


@pytest.mark.parametrize(
    ("day", "body", "says"),
    [
        pytest.param("2026-12-01", "BORER 12", "look again from Thu 10 Dec", id="too early"),
        pytest.param("2026-12-20", "BORER 12", "Ask your adviser before you use", id="above"),
        pytest.param("2026-12-20", "BORER 5", "Use nothing now", id="not above"),
        pytest.param("2027-02-10", "BORER 12", "Too late for granules", id="surely past tassels"),
    ],
)
def test_a_borer_count_is_answered_by_its_day(programme, day, body, says):
    programme.clock.now = local(day, "10:00")
    received = programme.text(body)
    assert says in received.reply
    assert ("registered" in received.reply) == (says.startswith("Ask"))


def test_a_count_too_early_leaves_the_task_open(programme):
    programme.clock.now = local("2026-12-01", "10:00")
    programme.text("BORER 12")
    assert borer_done(programme) is None
    programme.clock.now = local("2026-12-20", "10:00")
    programme.text("BORER 3")
    assert str(borer_done(programme)) == "2026-12-20"


def test_a_count_past_reported_tassels_is_too_late(programme):
    programme.clock.now = local("2027-01-16", "10:00")
    programme.text("TASSEL 15/1")
    assert "Too late for granules" in programme.text("BORER 12").reply


@pytest.mark.parametrize(
    ("body", "says"),
    [
        ("BORER 12 armyworm", "may be fall armyworm"),
        ("worms with an upside down Y", "may be fall armyworm"),
        ("dead hearts in the maize", "larvae are inside"),
    ],
)
def test_another_pest_is_no_report_and_waits_for_a_person(programme, body, says):
    programme.clock.now = local("2026-12-20", "10:00")
    before = programme.snapshot()
    received = programme.text(body)
    assert says in received.reply and "registered" not in received.reply
    assert programme.snapshot() == before
    waiting = [row["inbound_id"] for row in programme.rows("waiting_texts")]
    assert received.inbound_id in waiting


@pytest.mark.parametrize(
    ("language", "body", "says"),
    [
        ("sw", "FUNZA 12 viwavijeshi", "Huenda ni viwavijeshi"),
        ("sw", "mdudu ana Y kichwani", "Huenda ni viwavijeshi"),
        ("pt", "BROCA 12 lagarta do funil", "Pode ser lagarta do funil"),
        ("pt", "tem quatro pontos na cauda", "Pode ser lagarta do funil"),
        ("ny", "KAPUCHI 12 ntchembere zandonda", "Mwina ndi ntchembere zandonda"),
        ("ny", "mabowo mu phesi", "mankhwala safika"),
    ],
    ids=str,
)
def test_another_pest_is_known_in_the_farmers_own_language(programme, language, body, says):
    programme.clock.now = local("2026-12-20", "10:00")
    programme.text(f"LANGUAGE {language}")
    before = programme.snapshot()
    assert says in programme.text(body).reply
    assert programme.snapshot() == before


def test_a_count_that_is_read_says_nothing_of_a_product_beside_another_pest(programme):
    programme.clock.now = local("2026-12-20", "10:00")
    received = programme.text("BORER 12, Y on its head and holes in the field")
    assert "may be fall armyworm" in received.reply and "label" not in received.reply


def test_a_poor_stand_is_named_and_a_good_one_is_not(programme):
    programme.clock.now = local("2026-11-30", "10:00")
    assert "Poor stand, 45 of 100" in programme.text("COUNT 2 0 0 1 2 0 1 2 1 0").reply
    assert "Poor stand" not in programme.text("COUNT 2 1 3 2 2 2 3 2 1 2").reply
