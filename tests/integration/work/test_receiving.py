"""What a text does and what is answered, on both engines."""

import pytest
from season_cast import AMINA, Programme, a_programme, local

OTHER = "+447700900002"
STRANGER = "+447700900999"


@pytest.fixture
def programme(engine) -> Programme:
    made = a_programme(engine, local("2026-11-25", "10:00"))
    made.plot("1")
    return made


def test_a_report_is_kept_planned_and_answered_together(programme):
    received = programme.text("GERM 21/11")
    assert received.understood[0]["kind"] == "germinated"
    assert received.understood[0]["on"] == "2026-11-21"
    assert "Sat 21 Nov 2026" in received.reply
    assert programme.rows("reports")[0]["inbound_id"] == received.inbound_id
    thin = programme.rows("tasks", name="thin")[0]
    assert (str(thin["opens_on"]), str(thin["closes_on"])) == ("2026-12-05", "2026-12-12")
    assert programme.rows(stage="reply")[0]["body"] == received.reply
    assert programme.rows(task="thin", stage="opens")[0]["state"] == "planned"


@pytest.mark.parametrize(
    "body, says",
    [
        pytest.param("RAIN 12/12", "still to come", id="a day still to come"),
        pytest.param("RAIN 12/9", "season starts Thu 1 Oct 2026", id="a day before the season"),
        pytest.param(
            "GERM 5/11", "does not fit First rain, Thu 12 Nov", id="germinated before rain"
        ),
        pytest.param("RAIN 31/11", "31/11", id="a day that does not exist"),
        pytest.param("", "could not read", id="an empty text"),
        pytest.param(b"\xff\xfe\x00\x01", "could not read", id="bytes that are no text"),
        pytest.param(
            "what do you want from me", "could not read", id="a text about something else"
        ),
        pytest.param("GERM 21/11 PLOT 7", "plot 7 is not yours", id="a plot of somebody else"),
        pytest.param("DONE THIN 20/11", "starts", id="a task done long before it opens"),
        pytest.param("DONE", "Which task", id="done but no task"),
        pytest.param("RAIN 12/11 GERM 5/11", "does not fit", id="one of two reports is wrong"),
        pytest.param("RAIN 12", "Day or amount", id="a number that may be a day or millimetres"),
    ],
)
def test_what_cannot_be_true_is_answered_and_changes_nothing(programme, body, says):
    programme.text("RAIN 12/11")
    programme.text("GERM 21/11") if "THIN" in str(body) else None
    before = programme.snapshot()
    received = programme.text(body)
    assert says in received.reply
    assert received.changes == []
    assert programme.snapshot() == before


def test_an_unknown_phone_is_answered_and_changes_nothing(programme):
    before = programme.snapshot()
    received = programme.text("GERM 21/11", sender=STRANGER)
    assert "not on our list" in received.reply
    assert programme.snapshot() == before
    assert programme.rows("inbound")[-1]["body"] == b"GERM 21/11"


def test_two_plots_and_no_number_are_asked_back(programme):
    programme.plot("2")
    before = programme.snapshot()
    received = programme.text("GERM 21/11")
    assert "Which plot? You have 1, 2" in received.reply
    assert programme.snapshot() == before
    assert "plot 2" in programme.text("GERM 21/11 PLOT 2").reply


def test_a_shared_phone_speaks_for_the_farmer_of_the_plot_named(programme):
    programme.plot("2", name="Pelo")
    assert "Pelo" in programme.text("GERM 21/11 PLOT 2").reply
    assert "Amina" in programme.text("GERM 20/11 PLOT 1").reply


def test_the_same_message_id_is_handled_once(programme):
    first = programme.text("GERM 21/11", message_id="same")
    again = programme.text("GERM 21/11", message_id="same")
    assert (first.duplicate, again.duplicate) == (False, True)
    assert again.reply == first.reply
    assert len(programme.rows("inbound")) == len(programme.rows("reports")) == 1
    assert len(programme.rows(stage="reply")) == 1


def test_a_sender_that_is_no_phone_is_kept_and_not_answered(programme):
    received = programme.text("You have won", sender="LOTTERY")
    assert received.reply is None
    assert programme.rows("inbound")[0]["sender"] == "LOTTERY"
    assert programme.rows(stage="reply") == []


def test_a_correction_replaces_the_earlier_report_and_keeps_it(programme):
    programme.text("GERM 21/11")
    received = programme.text("GERM 23/11")
    assert "is now Mon 23 Nov 2026, not Sat 21 Nov 2026" in received.reply
    old, new = sorted(programme.rows("reports"), key=lambda row: row["id"])
    assert new["replaces_id"] == old["id"]
    assert str(programme.rows("tasks", name="thin")[0]["opens_on"]) == "2026-12-07"


def test_no_takes_the_last_report_back(programme):
    programme.text("RAIN 12/11")
    before = {key: value for key, value in programme.snapshot().items() if key == "tasks"}
    programme.text("GERM 19/11")
    assert "Taken back" in programme.text("NO").reply
    assert {"tasks": programme.snapshot()["tasks"]} == before
    assert len(programme.rows("reports")) == 3


def test_no_without_a_report_says_so(programme):
    assert "no report of yours" in programme.text("NO").reply


def test_a_number_picks_from_the_choices_that_were_offered(programme):
    programme.text("RAIN 12")
    assert "First rain on plot 1: Thu 12 Nov 2026" in programme.text("1").reply


def test_a_number_that_nobody_asked_for_is_not_understood_as_a_choice(programme):
    assert "no open question" in programme.text("1").reply


def test_a_choice_is_open_for_a_day_only(programme):
    programme.text("RAIN 12")
    programme.at("2026-11-26", "10:30")
    assert "no open question" in programme.text("1").reply


def test_stop_withdraws_everything_and_is_confirmed_once(programme):
    programme.text("GERM 21/11")
    received = programme.text("please STOP")
    received = received if "no more texts" in (received.reply or "") else programme.text("STOP")
    assert "no more texts" in received.reply
    assert programme.text("STOP").reply is None
    assert {row["state"] for row in programme.rows() if row["stage"] != "reply"} == {"withdrawn"}


def test_after_stop_nothing_leaves_but_the_confirmation(programme):
    programme.text("GERM 21/11")
    programme.dispatch()
    sent_before = len(programme.left)
    programme.text("STOP")
    programme.at("2027-09-01")
    assert [message.body for _, message in programme.left[sent_before:]] == [
        programme.rows(stage="reply")[-1]["body"]
    ]


def test_start_brings_the_plan_back(programme):
    programme.text("GERM 21/11")
    planned = {row["key"] for row in programme.rows(state="planned")}
    programme.text("STOP")
    assert "again" in programme.text("START").reply
    back = {row["key"] for row in programme.rows(state="planned") if row["stage"] != "reply"}
    assert back == {key for key in planned if not key.startswith("reply/")}


def test_a_stopped_phone_may_still_report_and_hears_nothing(programme):
    programme.text("STOP")
    assert programme.text("GERM 21/11").reply is None
    assert programme.rows("tasks", name="thin") != []


def test_done_closes_the_task(programme):
    programme.at("2026-12-06").text("GERM 21/11")
    received = programme.text("DONE THIN")
    assert "Done on plot 1" in received.reply
    assert programme.rows("tasks", name="thin")[0]["done_on"] is not None
    states = {row["state"] for row in programme.rows(task="thin")}
    assert not states & {"planned", "waiting", "held"}


def test_done_without_a_round_means_the_one_that_is_open(programme):
    programme.text("GERM 21/11")
    programme.at("2026-12-20").text("DONE WEED 1 5/12")
    programme.text("DONE WEED")
    done = {row["number"] for row in programme.rows("tasks", name="weed") if row["done_on"]}
    assert done == {1, 2}


def test_a_stand_count_is_answered_with_what_to_leave(programme):
    received = programme.text("COUNT 3 0 4")
    assert "Leave in the same order: 3 0 3" in received.reply


def test_a_borer_count_never_names_a_product_and_sends_to_the_adviser(programme):
    assert "Use nothing" in programme.text("BORER 1").reply
    many = programme.text("BORER 60").reply
    assert "adviser" in many and "label" in many


def test_next_names_the_coming_tasks(programme):
    programme.text("GERM 21/11")
    reply = programme.text("what is next").reply
    assert reply.startswith("Next on plot 1.")


def test_why_says_what_the_days_are_counted_from(programme):
    programme.text("GERM 21/11")
    reply = programme.text("WHY THIN").reply
    assert reply == (
        "Plot 1, Thinning: Sat 5 Dec to Sat 12 Dec: 14 days after Germination, Sat 21 Nov."
    )


def test_why_says_that_a_day_is_an_estimate(programme):
    programme.text("PLANTED 14/11")
    assert "after Germination, about Sat 21 Nov" in programme.text("WHY THIN").reply


def test_help_says_how_to_write_and_how_to_stop(programme):
    reply = programme.text("HELP").reply
    assert "RAIN 12 NOV" in reply and "STOP" in reply


def test_a_phone_gets_a_bounded_number_of_replies_a_day(engine):
    programme = a_programme(engine, local("2026-11-25", "10:00"), reply_cap_per_day=3)
    programme.plot("1")
    replies = [programme.text("hello machine").reply for _ in range(5)]
    assert [reply is not None for reply in replies] == [True, True, True, False, False]
    assert programme.text("STOP").reply is not None


def test_a_fault_half_way_leaves_the_text_kept_and_nothing_done(programme, monkeypatch):
    from reminder_service.work import receive, ticks

    def break_off(talk):
        programme_answer(talk)
        raise ConnectionError("the power went")

    programme_answer = receive.answer
    before = programme.snapshot()
    monkeypatch.setattr(receive, "answer", break_off)
    with pytest.raises(ConnectionError):
        programme.text("GERM 21/11")
    assert programme.snapshot() == before
    assert programme.rows("inbound")[0]["handled_at"] is None
    monkeypatch.setattr(receive, "answer", programme_answer)
    assert ticks.work_left_inbound(programme.services) == 1
    assert programme.rows("reports")[0]["sent_at"] == programme.rows("inbound")[0]["sent_at"]


def test_a_report_by_another_phone_of_the_plot_counts_too(programme):
    assert AMINA != OTHER
    programme.plot("2", phone=OTHER, name="Pelo")
    assert programme.text("GERM 21/11", sender=OTHER).understood[0]["plot"] == "2"
