"""Joining by text: consent first, then one short question a text, on both engines."""

import pytest
from season_cast import AMINA, ZONE, Programme, a_programme, local

from reminder_service.kinds import PhoneNumber
from reminder_service.records import farmers, people
from reminder_service.records.engine import writing
from reminder_service.records.tables import Role
from reminder_service.texts.joining import consent
from reminder_service.texts.segments import segments
from reminder_service.texts.words import word_list
from reminder_service.work import newcomers

NEW = "+447700900050"
WARDS = ("Birikao", "Hakunde", "Olmara", "Setiwe")
STEPS = ("JOIN", "YES", "Amina Dule", "Olmara", "1", "5600", "1", "2", "1")
"""Texts of somebody who is understood each time, up to the summary."""


def with_wards(engine, **settings: object) -> Programme:
    programme = a_programme(engine, local("2026-11-25", "10:00"), **settings)
    with writing(engine) as c:
        for ward in WARDS:
            farmers.add_ward(c, ward, str(ZONE))
    return programme


@pytest.fixture
def programme(engine) -> Programme:
    return with_wards(engine)


def sent(programme: Programme, *bodies: str, sender: str = NEW) -> list[str | None]:
    """Replies to some texts in a row."""
    return [programme.text(body, sender=sender).reply for body in bodies]


def somebody(programme: Programme):
    with writing(programme.services.engine) as c:
        person_id = people.add_person(
            c,
            login="tembi",
            name="Tembi",
            password_hash="x",
            role=Role.PROGRAMME_LEAD,
            ward_ids=[],
        )
        return people.person_by_id(c, person_id)


def test_joining_takes_one_short_step_a_text(programme):
    replies = sent(programme, *STEPS)
    assert "Send YES or NO" in replies[0]
    assert "your name" in replies[1]
    assert replies[2].startswith("Amina Dule, in which ward")
    assert replies[-1] == (
        "Amina Dule, your plot is number 1 in Olmara: 5600 stations, medium variety, "
        "mineral fertiliser. Wrong? Send NO."
    )
    assert all(segments(reply).segments == 1 for reply in replies)


def test_joining_adds_a_farmer_a_plot_and_a_season(programme):
    sent(programme, *STEPS)
    (farmer,) = programme.rows("farmers")
    (plot,) = programme.rows("plots")
    (season,) = programme.rows("seasons")
    assert (farmer["name"], farmer["language"]) == ("Amina Dule", "en")
    assert (plot["number"], plot["stations"], plot["stations_per_ha"]) == ("1", 5600, 22_222)
    assert season["choices"] == {"maturity": "medium", "top-dressing": "mineral"}
    assert str(season["starts_on"]) == "2026-10-01" and season["label"] == "2026/27"


def test_consent_says_what_is_kept_that_stop_ends_it_and_that_one_may_say_no(programme):
    asked = sent(programme, "JOIN")[0]
    for word in ("name", "number", "ward", "plot", "texts", "STOP", "may say no"):
        assert word in asked


def test_consent_is_kept_word_for_word_with_its_text_and_time(programme):
    asked, _ = sent(programme, "JOIN", "YES")
    (kept,) = programme.rows("consents")
    answer = programme.rows("inbound", body=b"YES")[0]
    assert (kept["given"], kept["wording"], kept["language"]) == (True, asked, "en")
    assert (kept["inbound_id"], kept["at"]) == (answer["id"], answer["sent_at"])


def test_without_consent_nothing_but_the_answer_is_kept(programme):
    answered = sent(programme, "JOIN", "NO")[-1]
    assert "do not join" in answered
    assert programme.rows("farmers") == programme.rows("joinings") == []
    assert [row["given"] for row in programme.rows("consents")] == [False]


def test_an_answer_that_is_neither_yes_nor_no_asks_for_consent_again(programme):
    asked, again = sent(programme, "JOIN", "Amina Dule")
    assert again == asked and programme.rows("consents") == []


@pytest.mark.parametrize(
    "written, answered",
    [
        pytest.param("olmara", "How big", id="small letters"),
        pytest.param("Olmra", "Do you mean the ward Olmara?", id="a typing error is asked back"),
        pytest.param("Tandaluwe", "Which ward? 1 ", id="no ward at all offers them by number"),
        pytest.param("2", "not understood", id="a number that was not offered"),
    ],
)
def test_a_ward_is_told_by_its_name(programme, written, answered):
    assert answered in sent(programme, *STEPS[:3], written)[-1]


def test_a_ward_spelled_nearly_so_is_taken_after_yes(programme):
    sent(programme, *STEPS[:3], "Olmra", "YES", *STEPS[4:])
    wards = {row["id"]: row["name"] for row in programme.rows("wards")}
    assert wards[programme.rows("plots")[0]["ward_id"]] == "Olmara"


def test_a_ward_spelled_nearly_so_is_asked_for_again_after_no(programme):
    assert "in which ward" in sent(programme, *STEPS[:3], "Olmra", "NO")[-1]


def test_a_ward_is_chosen_by_its_number(programme):
    offered = sent(programme, *STEPS[:3], "Tandaluwe")[-1]
    second = offered.split("2 ")[1].split(",")[0]
    sent(programme, "2", *STEPS[4:])
    wards = {row["id"]: row["name"] for row in programme.rows("wards")}
    assert wards[programme.rows("plots")[0]["ward_id"]] == second


@pytest.mark.parametrize(
    "texts, stations",
    [
        pytest.param(["1", "5,600", "1"], 5600, id="stations with a comma between thousands"),
        pytest.param(["5600", "1"], 5600, id="stations at once"),
        pytest.param(["2", "0,25", "1"], 5556, id="hectares with a decimal comma"),
        pytest.param(["2", "0.25 ha", "80x50"], 6250, id="hectares and a spacing of their own"),
        pytest.param(["3", "50 x 20", "1"], 2222, id="sides in metres"),
        pytest.param(["50x20", "3"], 2222, id="sides at once and no spacing known"),
    ],
)
def test_a_plot_is_as_big_as_was_said(programme, texts, stations):
    sent(programme, *STEPS[:4], *texts, *STEPS[7:])
    assert programme.rows("plots")[0]["stations"] == stations


@pytest.mark.parametrize(
    "texts, says",
    [
        pytest.param(["1", "3"], "from 10 to 200000", id="too few stations"),
        pytest.param(["1", "900000"], "from 10 to 200000", id="too many stations"),
        pytest.param(["1", "many"], "not understood", id="no number"),
        pytest.param(["2", "60"], "from 0.005 ha to 10 ha", id="too many hectares"),
        pytest.param(["3", "5x2"], "from 0.005 ha to 10 ha", id="sides too short"),
        pytest.param(["4"], "not understood", id="a choice that is not offered"),
        pytest.param(["5600", "9"], "not understood", id="a spacing that is not offered"),
        pytest.param(["5600", "7x6"], "from 10 cm to 500 cm", id="a spacing in other units"),
    ],
)
def test_a_size_that_cannot_be_is_asked_again(programme, texts, says):
    assert says in sent(programme, *STEPS[:4], *texts)[-1]
    assert programme.rows("plots") == []


@pytest.mark.parametrize(
    "number, maturity",
    [("1", "short"), ("2", "medium"), ("3", "long"), ("4", "medium")],
    ids=["short", "medium", "long", "not known is medium"],
)
def test_a_variety_class_is_chosen_by_number(programme, number, maturity):
    sent(programme, *STEPS[:7], number, "3")
    choices = {"maturity": maturity, "top-dressing": "both"}
    assert programme.rows("seasons")[0]["choices"] == choices


@pytest.mark.parametrize("body", ["12345", "A", "RAIN 12 NOV", "?!", "x" * 60])
def test_what_is_no_name_is_asked_again(programme, body):
    assert "not understood" in sent(programme, "JOIN", "YES", body)[-1]


def test_no_goes_one_step_back_at_any_step(programme):
    back = sent(programme, *STEPS[:4], "NO", "NO")
    assert "in which ward" in back[-2] and "your name" in back[-1]


def test_no_after_the_summary_puts_the_same_plot_right(programme):
    sent(programme, *STEPS)
    assert "top-dress" in sent(programme, "NO")[-1]
    again = sent(programme, "2")[-1]
    assert "manure tea" in again and "number 1 in" in again
    assert len(programme.rows("farmers")) == len(programme.rows("seasons")) == 1
    assert programme.rows("seasons")[0]["choices"]["top-dressing"] == "manure-tea"


def test_another_ward_after_the_summary_moves_the_farmer_and_closes_the_first_plot(programme):
    sent(programme, *STEPS)
    assert "in which ward" in sent(programme, *["NO"] * 6)[-1]
    programme.at("2026-11-26", "12:00")  # a phone gets so many replies in a day
    assert "number 1 in Setiwe" in sent(programme, "Setiwe", *STEPS[4:])[-1]
    first, second = programme.rows("seasons")
    assert (first["closed_at"] is None, second["closed_at"] is None) == (False, True)
    wards = {row["id"]: row["name"] for row in programme.rows("wards")}
    assert [wards[row["ward_id"]] for row in programme.rows("farmers")] == ["Setiwe"]


def test_consent_taken_back_after_the_summary_closes_the_plot(programme):
    sent(programme, *STEPS)
    replies = sent(programme, *["NO"] * 9)
    assert "Send YES or NO" in replies[-2] and "do not join" in replies[-1]
    assert programme.rows("seasons")[0]["closed_at"] is not None
    assert programme.rows("newcomers")[0]["decision"] == "declined"


def test_a_help_in_between_is_answered_and_the_step_stays(programme):
    replies = sent(programme, "JOIN", "YES", "HELP", "Amina Dule")
    assert "texts you your field tasks" in replies[2]
    assert "in which ward" in replies[3]


def test_stop_in_between_ends_everything(programme):
    replies = sent(programme, *STEPS[:4], "STOP", "5600")
    assert "no more texts" in replies[-2]
    assert programme.rows("joinings") == [] and replies[-1] is None


def test_whoever_stopped_may_join_again_and_consent_starts_the_texts(programme):
    sent(programme, "STOP")
    replies = sent(programme, *STEPS)
    assert None not in replies
    assert programme.rows("phones")[0]["stopped_at"] is None


def test_a_stopped_phone_stays_stopped_without_consent(programme):
    sent(programme, "STOP", "JOIN", "NO")
    assert programme.rows("phones")[0]["stopped_at"] is not None


def test_joining_lasts_three_days(programme):
    sent(programme, "JOIN", "YES")
    programme.at("2026-11-28", "09:59")
    assert "in which ward" in sent(programme, "Amina Dule")[-1]
    programme.at("2026-12-01", "10:01")
    assert "not on our list" in sent(programme, "Olmara")[-1]


def test_joining_anew_forgets_what_was_answered_long_ago_by_others(programme):
    sent(programme, "JOIN", "YES")
    programme.at("2026-11-29", "12:00")
    sent(programme, "JOIN", sender="+447700900051")
    assert len(programme.rows("joinings")) == 1


def test_join_starts_anew(programme):
    replies = sent(programme, *STEPS[:5], "JOIN", "YES")
    assert "Send YES or NO" in replies[-2] and "your name" in replies[-1]


def test_a_plot_gets_the_number_after_the_highest_in_its_ward(programme):
    programme.plot("17")
    assert "your plot is number 18 in" in sent(programme, *STEPS)[-1]


def test_whoever_gives_the_name_of_a_farmer_on_the_phone_adds_a_plot_of_theirs(programme):
    programme.plot("1", phone=NEW, name="Amina Dule")
    assert "number 2 in" in sent(programme, *STEPS)[-1]
    assert len(programme.rows("farmers")) == 1
    assert programme.rows("newcomers") == []


def test_a_phone_with_many_plots_adds_no_more(programme):
    for number in range(12):
        programme.plot(str(number + 1))
    assert "many plots" in sent(programme, "JOIN", sender=AMINA)[-1]


def test_a_phone_with_plots_reports_while_it_joins(programme):
    programme.plot("1")
    replies = sent(programme, "JOIN", "YES", "GERM 21/11", "Pelo Dule", sender=AMINA)
    assert "Germination on plot 1" in replies[2]
    assert "in which ward" in replies[3]


def test_whoever_joined_gets_no_reminder_before_a_coordinator_approves(programme):
    sent(programme, *STEPS, "RAIN 12/11", "GERM 21/11")
    assert programme.rows("tasks", name="thin") != []
    assert [row for row in programme.rows() if row["stage"] != "reply"] == []


def test_approval_plans_the_reminders_and_welcomes(programme):
    sent(programme, *STEPS, "GERM 21/11")
    season_id = programme.rows("seasons")[0]["id"]
    person = somebody(programme)
    assert newcomers.approve(programme.services, season_id, person)
    assert programme.rows(task="thin", stage="opens")[0]["state"] == "planned"
    (welcome,) = programme.rows(task="joining")
    assert welcome["body"].startswith("Welcome Amina Dule.") and welcome["segments"] == 1
    (noted,) = programme.rows("audit", what="let in")
    assert noted["who"] == "tembi" and noted["after"] == {"decision": "approved"}


def test_only_the_first_decision_counts(programme):
    sent(programme, *STEPS)
    season_id = programme.rows("seasons")[0]["id"]
    person = somebody(programme)
    assert newcomers.decline(programme.services, season_id, person)
    assert not newcomers.approve(programme.services, season_id, person)
    assert programme.rows("newcomers")[0]["decision"] == "declined"


def test_whoever_is_declined_is_told_and_is_unknown_again(programme):
    sent(programme, *STEPS)
    season_id = programme.rows("seasons")[0]["id"]
    newcomers.decline(programme.services, season_id, somebody(programme))
    assert "has not added you" in programme.rows(task="joining")[0]["body"]
    assert "not on our list" in sent(programme, "GERM 21/11")[-1]


def test_whoever_stopped_meanwhile_is_not_told_of_the_decision(programme):
    sent(programme, *STEPS, "STOP")
    season_id = programme.rows("seasons")[0]["id"]
    newcomers.approve(programme.services, season_id, somebody(programme))
    assert programme.rows(task="joining") == []


def test_a_welcome_that_waits_for_the_morning_is_withdrawn_by_stop(programme):
    sent(programme, *STEPS)
    programme.at("2026-11-25", "20:00")
    season_id = programme.rows("seasons")[0]["id"]
    newcomers.approve(programme.services, season_id, somebody(programme))
    sent(programme, "STOP")
    assert programme.rows(task="joining")[0]["state"] == "withdrawn"


def test_an_open_programme_lets_everybody_in_at_once(engine):
    programme = with_wards(engine, joining="open")
    replies = sent(programme, *STEPS, "YES", "GERM 21/11")
    assert replies[-2].startswith("Welcome Amina Dule.")
    assert programme.rows(task="thin", stage="opens")[0]["state"] == "planned"


def test_yes_after_the_summary_says_that_a_coordinator_looks_first(programme):
    assert "coordinator looks at it first" in sent(programme, *STEPS, "YES")[-1]


def test_a_closed_programme_answers_as_ever(engine):
    programme = with_wards(engine, joining="closed")
    assert "Ask your lead farmer" in sent(programme, "JOIN")[-1]
    assert programme.rows("joinings") == []


def test_a_programme_without_wards_takes_nobody(engine):
    programme = a_programme(engine, local("2026-11-25", "10:00"))
    assert "not on our list" in sent(programme, "JOIN")[-1]


def test_an_unknown_phone_is_told_how_to_join(programme):
    assert "To join send JOIN" in sent(programme, "GERM 21/11")[-1]


def test_what_is_kept_of_a_step_names_the_step_and_not_the_answer(programme):
    sent(programme, *STEPS[:3])
    read_as = programme.rows("inbound", body=b"Amina Dule")[0]["read_as"]
    assert read_as["understood"] == [{"kind": "join", "on": None, "step": "ward"}]


def test_the_farmer_is_on_the_phone_that_joined(programme):
    sent(programme, *STEPS)
    with writing(programme.services.engine) as c:
        phone = farmers.phone_for(c, PhoneNumber(NEW))
        assert [p.plot_number for p in farmers.open_plots_of_phone(c, phone.id)] == ["1"]


def test_whoever_asks_in_swahili_joins_in_swahili(programme):
    word = " ".join(
        next(
            phrase
            for phrase, meaning in word_list("sw").phrases.items()
            if meaning.name == "join" and phrase not in word_list("en").phrases
        )
    )
    assert sent(programme, word)[0] == consent("Maize programme", language="sw")
    sent(programme, *STEPS[1:])
    assert programme.rows("farmers")[0]["language"] == "sw"
    assert programme.rows("consents")[0]["language"] == "sw"


def test_the_language_is_changed_while_joining(programme):
    replies = sent(programme, "JOIN", "LANGUAGE SW", "LANGUAGE XX")
    assert replies[1] == consent("Maize programme", language="sw")
    assert "SW" in replies[2]
    assert programme.rows("joinings")[0]["answers"]["wording"] == replies[1]


def test_the_language_is_changed_after_the_summary(programme):
    sent(programme, *STEPS, "LANGUAGE SW")
    assert programme.rows("farmers")[0]["language"] == "sw"


def test_a_number_answers_a_question_about_a_report_first(programme):
    programme.plot("1")
    sent(programme, "JOIN", "YES", "Pelo Dule", "Olmara", sender=AMINA)
    replies = sent(programme, "RAIN 12", "1", "1", sender=AMINA)
    assert "Day or amount" in replies[0] and "First rain on plot 1" in replies[1]
    assert "How many planting stations" in replies[2]
