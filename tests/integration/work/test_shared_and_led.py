"""Several farmers on one phone, lead farmers, and languages, on both engines."""

import pytest
from season_cast import AMINA, Programme, a_programme, local

from reminder_service.records import leads
from reminder_service.records.engine import reading, writing
from reminder_service.texts.segments import segments

LEAD = "+447700900060"


@pytest.fixture
def programme(engine) -> Programme:
    return a_programme(engine, local("2026-11-25", "10:00"))


@pytest.fixture
def shared(programme) -> Programme:
    """Amina has plots 1 and 4 and Pelo has plot 2, all on one phone."""
    for number, name in (("1", "Amina Dule"), ("2", "Pelo Dule")):
        programme.plot(number, name=name)
    return programme


@pytest.fixture
def ward(programme) -> Programme:
    """Twelve plots of as many phones; the farmer of plot 1 leads the ward."""
    programme.plot("1", phone=LEAD, name="Kasemi Bol")
    for number in range(2, 13):
        programme.plot(str(number), phone=f"+4477009001{number:02}", name=f"Farmer {number}")
    with writing(programme.services.engine) as c:
        row = programme.rows("farmers", name="Kasemi Bol")[0]
        leads.add_lead(c, row["id"], row["ward_id"])
    return programme


def noted_for(received) -> list[str]:
    return [str(each["plot"]) for each in received.understood]


@pytest.mark.parametrize(
    "body, plots",
    [
        pytest.param("GERM 21/11 AMINA", ["1"], id="a name at the end"),
        pytest.param("pelo germ 21/11", ["2"], id="a name at the beginning, small letters"),
        pytest.param("GERM 21/11 FOR PELO", ["2"], id="a name after for"),
        pytest.param("GERM 21/11 PLOT 2", ["2"], id="a number"),
        pytest.param("GERM 21/11 AMINA GERM 22/11 PELO", ["1", "2"], id="two reports"),
    ],
)
def test_farmers_on_one_phone_are_told_apart(shared, body, plots):
    received = shared.text(body)
    assert noted_for(received) == plots
    assert f"plot {plots[0]}" in received.reply


def test_a_name_stands_for_every_plot_of_the_farmer(programme):
    programme.plot("2", name="Pelo Dule")
    programme.plot("1", name="Amina Dule")
    farmer = programme.rows("farmers", name="Amina Dule")[0]
    second = programme.rows("seasons")[-1]["plot_id"]
    assert second
    programme.plot("4", name="Amina Zed", phone="+447700900071")
    with writing(programme.services.engine) as c:
        from sqlalchemy import update

        from reminder_service.records import tables as t

        c.execute(update(t.plots).where(t.plots.c.number == "4").values(farmer_id=farmer["id"]))
    assert sorted(noted_for(programme.text("GERM 21/11 AMINA"))) == ["1", "4"]


def test_a_name_that_two_farmers_have_is_asked_back(programme):
    programme.plot("1", name="Amina Dule")
    programme.plot("2", name="Amina Bol")
    before = programme.snapshot()
    assert programme.text("GERM 21/11 FOR AMINA").understood[0].get("plot") is None
    assert programme.snapshot() == before


def test_a_question_may_name_a_farmer(shared):
    shared.text("GERM 21/11 PELO")
    assert shared.text("NEXT PELO").reply.startswith("Next on plot 2.")


def test_a_lead_farmer_reports_for_the_plots_named(ward):
    received = ward.text("GERM 20/11 FOR 3 5 8", sender=LEAD)
    assert noted_for(received) == ["3", "5", "8"]
    assert received.reply == (
        "Thank you Kasemi Bol. Germination, Fri 20 Nov 2026, noted for 3 plots (3, 5, 8). "
        "Wrong? Send NO."
    )


def test_it_is_kept_who_reported_for_others_and_not_for_oneself(ward):
    ward.text("GERM 20/11 FOR 1 3", sender=LEAD)
    farmer = ward.rows("farmers", name="Kasemi Bol")[0]
    (of_others,) = ward.rows("lead_reports")
    with reading(ward.services.engine) as c:
        assert leads.reporter_of(c, of_others["report_id"]) == farmer["id"]
    assert len(ward.rows("reports")) == 2


def test_the_farmers_concerned_get_no_text_of_it(ward):
    ward.text("GERM 20/11 FOR 3 5 8", sender=LEAD)
    phones = {row["id"]: row["number"] for row in ward.rows("phones")}
    assert {phones[row["phone_id"]] for row in ward.rows(stage="reply")} == {LEAD}


def test_whoever_leads_no_ward_reports_for_nobody_else(ward):
    before = ward.snapshot()
    reply = ward.text("GERM 20/11 FOR 3 5", sender="+447700900105").reply
    assert "plot 3 is not yours" in reply
    reply = ward.text("GERM 20/11 FOR ALL", sender="+447700900105").reply
    assert "only the lead farmer" in reply
    assert ward.snapshot() == before


def test_a_report_for_the_whole_ward_is_asked_back_with_the_count(ward):
    before = ward.snapshot()
    reply = ward.text("GERM 20/11 FOR ALL", sender=LEAD).reply
    assert "for 12 plots of Olmara" in reply and "Send 1 for yes" in reply
    assert segments(reply).segments == 1
    assert ward.snapshot() == before


@pytest.mark.parametrize("yes", ["1", "YES"])
def test_the_whole_ward_is_noted_after_one(ward, yes):
    ward.text("GERM 20/11 FOR ALL", sender=LEAD)
    received = ward.text(yes, sender=LEAD)
    assert "noted for 12 plots. Wrong?" in received.reply
    assert len(ward.rows("reports", kind="germinated")) == 12


def test_what_a_farmer_reported_stands_against_the_whole_ward(ward):
    ward.text("GERM 22/11", sender="+447700900105")
    assert "for 11 plots" in ward.text("GERM 20/11 FOR ALL", sender=LEAD).reply
    ward.text("1", sender=LEAD)
    days = sorted(str(row["on"]) for row in ward.rows("reports"))
    assert days == ["2026-11-20"] * 11 + ["2026-11-22"]


def test_a_plot_where_the_day_cannot_be_true_is_left_out(ward):
    ward.text("RAIN 23/11", sender="+447700900105")
    ward.text("GERM 20/11 FOR ALL", sender=LEAD)
    assert "noted for 11 plots" in ward.text("1", sender=LEAD).reply


def test_no_takes_back_the_whole_ward(ward):
    tasks = ward.snapshot()["tasks"]
    ward.text("GERM 20/11 FOR ALL", sender=LEAD)
    ward.text("1", sender=LEAD)
    reply = ward.text("NO", sender=LEAD).reply
    assert reply == "Taken back: Germination, Fri 20 Nov 2026, on 12 plots."
    assert ward.snapshot()["tasks"] == tasks


def test_a_number_out_of_range_is_answered_with_the_choices_again(ward):
    asked = ward.text("GERM 20/11 FOR ALL", sender=LEAD).reply
    assert ward.text("3", sender=LEAD).reply == asked
    assert "noted for 12" in ward.text("1", sender=LEAD).reply


def test_a_choice_out_of_range_keeps_the_question_open(programme):
    programme.plot("1")
    asked = programme.text("RAIN 12").reply
    assert programme.text("7").reply == asked
    assert "First rain on plot 1" in programme.text("1").reply


def test_a_whole_ward_that_has_the_day_already_is_not_asked(ward):
    ward.text("GERM 20/11 FOR ALL", sender=LEAD)
    ward.text("1", sender=LEAD)
    assert "known for every plot of Olmara" in ward.text("GERM 20/11 FOR ALL", sender=LEAD).reply


def test_a_lead_farmer_without_a_plot_is_known(programme):
    programme.plot("3")
    ward_id = programme.rows("wards")[0]["id"]
    from reminder_service.kinds import PhoneNumber
    from reminder_service.records import farmers

    with writing(programme.services.engine) as c:
        farmer_id = farmers.add_farmer(
            c,
            ward_id=ward_id,
            name="Kasemi Bol",
            language="en",
            numbers=[PhoneNumber(LEAD)],
            at=programme.clock(),
        )
        leads.add_lead(c, farmer_id, ward_id)
    assert "For which plots?" in programme.text("GERM 20/11", sender=LEAD).reply
    assert noted_for(programme.text("GERM 20/11 FOR 3", sender=LEAD)) == ["3"]


def test_whoever_leads_no_more_is_refused(ward):
    row = ward.rows("farmers", name="Kasemi Bol")[0]
    with writing(ward.services.engine) as c:
        leads.end_lead(c, row["id"], row["ward_id"])
        assert not leads.is_lead(c, row["id"], row["ward_id"])
    assert "not yours" in ward.text("GERM 20/11 FOR 3", sender=LEAD).reply


def test_a_language_is_changed_with_what_waits_to_go_out(programme):
    programme.plot("1")
    programme.text("GERM 21/11")
    before = {row["key"]: row["body"] for row in programme.rows(state="planned")}
    received = programme.text("LANGUAGE SW")
    assert programme.rows("farmers")[0]["language"] == "sw"
    after = {row["key"]: row["body"] for row in programme.rows(state="planned")}
    changed = [key for key in before if key.startswith("1/") and after[key] != before[key]]
    assert received.reply and changed
    (noted,) = programme.rows("audit", what="language")
    assert (noted["before"], noted["after"]) == ({"language": "en"}, {"language": "sw"})


@pytest.mark.parametrize("body", ["LANGUAGE XX", "LANGUAGE", "LANGUAGE KLINGON"])
def test_a_language_that_there_is_not_lists_those_there_are(programme, body):
    programme.plot("1")
    reply = programme.text(body).reply
    assert "English EN" in reply and "Swahili SW" in reply
    assert programme.rows("farmers")[0]["language"] == "en"


def test_one_farmer_of_a_shared_phone_changes_language_alone(shared):
    shared.text("LANGUAGE SW PELO")
    languages = {row["name"]: row["language"] for row in shared.rows("farmers")}
    assert languages == {"Amina Dule": "en", "Pelo Dule": "sw"}
    assert AMINA == shared.rows("phones")[0]["number"]
