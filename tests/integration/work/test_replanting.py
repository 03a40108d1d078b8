"""After a false start: the question goes out once, its answers, and the plan of the new stand."""

from datetime import date, timedelta

import pytest
from season_cast import Programme, a_programme, local

from reminder_service.agronomy.rain_book import Observer
from reminder_service.records import rain
from reminder_service.records.engine import reading, writing
from reminder_service.records.rain import NewObservation
from reminder_service.records.views import wards_seen
from reminder_service.work.false_starts import asked_plots, note_false_starts
from reminder_service.work.ticks import WORK, tick

BALA = "+447700900002"
SEASON = date(2026, 10, 1)
WET = {date(2026, 11, 10): 24.0, date(2026, 11, 11): 12.0, date(2026, 12, 1): 30.0}


def rained(programme: Programme, last: date, wet: dict[date, float] = WET) -> None:
    """A file of the ward's daily rain from the season's first day up to one day."""
    ward_id = programme.rows("wards")[0]["id"]
    days = [SEASON + timedelta(n) for n in range((last - SEASON).days + 1)]
    new = [
        NewObservation(ward_id, None, on, wet.get(on, 0.0), False, Observer.FILE, "rain.csv")
        for on in days
    ]
    with writing(programme.services.engine) as c:
        rain.keep_observations(c, new, programme.clock())


def questions(programme: Programme) -> list[dict]:
    return programme.rows("notices", task="false-start")


def plan_of(programme: Programme) -> list[tuple]:
    """Every task of the first plot as it is planned."""
    season_id = programme.rows("seasons")[0]["id"]
    rows = programme.rows("tasks", season_id=season_id)
    return sorted((*row.values(),)[1:8] for row in rows)


def planned(programme: Programme) -> dict[str, object]:
    """Unsent reminders and questions by key."""
    rows = programme.rows("notices", state="planned")
    return {row["key"]: (row["body"], row["day"]) for row in rows if row["stage"] != "reply"}


def because(programme: Programme) -> set[str]:
    return {row["because"] for row in programme.rows("tasks")}


@pytest.fixture
def programme(engine) -> Programme:
    """A plot that planted on the rain of 10 November and came up; then dry days, read by file."""
    made = a_programme(engine, local("2026-11-18", "10:00"))
    made.plot("1")
    for body in ("RAIN 10/11", "PLANTED 11/11", "GERM 17/11"):
        made.text(body)
    made.at("2026-11-24", "06:00")
    rained(made, date(2026, 11, 23))
    return made


@pytest.fixture
def asked(programme) -> Programme:
    """The question has gone out."""
    note_false_starts(programme.services)
    programme.at("2026-11-24", "19:00")
    assert [row["state"] for row in questions(programme)] == ["handed over"]
    return programme


def test_the_tick_asks_the_plot_that_planted_on_the_false_start(programme):
    tick(programme.services, "false-starts")
    (start,) = programme.rows("false_starts")
    assert (start["on"], start["dry_from"], start["dry_until"]) == (
        date(2026, 11, 10),
        date(2026, 11, 12),
        date(2026, 11, 23),
    )
    (question,) = questions(programme)
    assert question["segments"] == 1 and question["stage"] == "question"
    assert "Did your maize survive?" in question["body"] and "REPLANTED 2 DEC" in question["body"]
    assert local("2026-11-24", "07:00") <= question["send_at"] < local("2026-11-24", "19:00")
    assert (
        "false-starts" in WORK and programme.rows("ticks", name="false-starts")[0]["error"] is None
    )


def test_it_is_asked_once_whatever_the_rain_book_learns(asked):
    for day in range(25, 31):
        asked.at(date(2026, 11, day), "06:00")
        rained(asked, date(2026, 11, day - 1))
        note_false_starts(asked.services)
    asked.at("2026-11-30", "19:00")
    assert len(questions(asked)) == 1 == len(asked.rows("false_starts"))
    assert sum("survive" in message.body for _, message in asked.left) == 1


def test_a_false_start_that_the_rain_book_denies_is_no_longer_asked(programme):
    note_false_starts(programme.services)
    wet = {**WET, date(2026, 11, 17): 25.0}
    rained_again = [
        NewObservation(
            programme.rows("wards")[0]["id"], None, on, mm, False, Observer.KEEPER, "phone 9"
        )
        for on, mm in wet.items()
        if on <= date(2026, 11, 23)
    ]
    with writing(programme.services.engine) as c:
        rain.keep_observations(c, rained_again, programme.clock())
    note_false_starts(programme.services)
    assert [row["state"] for row in questions(programme)] == ["withdrawn"]
    assert programme.rows("false_starts")[0]["gone_at"] is not None


def test_nobody_is_asked_without_a_planting_or_after_an_answer(programme):
    programme.plot("2", phone=BALA, name="Bala")
    programme.text("RAIN 10/11", sender=BALA)
    programme.text("COUNT 2 1 2 2 24/11")
    note_false_starts(programme.services)
    assert questions(programme) == []


def test_nobody_is_asked_after_stop(programme):
    programme.text("STOP")
    note_false_starts(programme.services)
    assert questions(programme) == []


def test_yes_is_noted_and_keeps_the_plan(asked):
    before = plan_of(asked)
    received = asked.text("YES")
    assert "survived" in received.reply and received.understood[0]["kind"] == "survived"
    assert plan_of(asked) == before
    (report,) = asked.rows("reports", kind="survived")
    assert (report["on"], report["sent_at"]) == (date(2026, 11, 24), asked.clock())
    asked.text("YES")
    assert len(asked.rows("reports", kind="survived")) == 1, "answered already"


def test_no_to_the_question_notes_the_loss_and_takes_no_report_back(asked):
    standing = len(asked.rows("reports"))
    before = plan_of(asked)
    received = asked.text("NO")
    assert "lost" in received.reply and "REPLANTED 2 DEC" in received.reply
    assert [row["kind"] for row in asked.rows("reports")][standing:] == ["lost"]
    assert [row[:5] for row in plan_of(asked)] == [row[:5] for row in before], "no day moved"


def test_replanting_starts_the_clock_anew_and_no_restores_the_plan(asked):
    asked.at("2026-12-03", "10:00")
    before, to_go = plan_of(asked), planned(asked)
    received = asked.text("REPLANTED 2/12")
    assert "counted anew" in received.reply and received.segments == 1
    thin = asked.rows("tasks", name="thin")[0]
    assert thin["opens_on"] == date(2026, 12, 23), "14 days after germination, a week after 2 Dec"
    assert all("since replanting on Wed 2 Dec 2026" in each for each in because(asked))
    assert planned(asked).keys() and not planned(asked).keys() & to_go.keys()
    assert "Taken back" in asked.text("NO").reply
    assert (plan_of(asked), planned(asked)) == (before, to_go)


def test_done_work_of_the_first_stand_does_not_count_for_the_new_one(asked):
    asked.at("2026-12-03", "10:00")
    asked.text("DONE WEED 30/11")
    asked.text("REPLANTED 2/12")
    assert [row["done_on"] for row in asked.rows("tasks") if row["done_on"]] == []
    asked.text("NO")
    assert [row["done_on"] for row in asked.rows("tasks") if row["done_on"]] == [date(2026, 11, 30)]


def test_a_new_stand_is_told_of_its_tasks_again(asked):
    asked.at("2026-12-06", "10:00")
    told = [row for row in asked.rows("notices", task="thin") if row["sent_at"]]
    assert told, "thinning of the first stand was announced"
    asked.text("REPLANTED 2/12")
    asked.text("GERM 5/12")
    asked.at("2027-01-02", "10:00")
    again = [row for row in asked.rows("notices", task="thin") if row["sent_at"]]
    assert {row["stage"] for row in again if "/replanted-1/" in row["key"]} >= {"opens", "nudge"}


def test_germination_of_the_new_stand_corrects_nothing_of_the_first(asked):
    asked.at("2026-12-10", "10:00")
    asked.text("REPLANTED 2/12")
    assert "not" not in asked.text("GERM 9/12").reply.partition("Wrong")[0]
    kept = asked.rows("reports", kind="germinated")
    assert [row["replaces_id"] for row in kept] == [None, None]


def test_planted_in_answer_to_the_question_is_a_replanting(asked):
    asked.at("2026-12-03", "10:00")
    received = asked.text("PLANTED 2/12")
    assert received.understood[0]["kind"] == "replanted" and "Replanting" in received.reply
    assert [row["on"] for row in asked.rows("reports", kind="planted")] == [date(2026, 11, 11)]


def test_a_correction_of_the_first_planting_stays_one(asked):
    assert asked.text("PLANTED 12/11").understood[0]["kind"] == "planted"


@pytest.mark.parametrize(
    "body", ["REPLANTED 5/11", "REPLANTED 20/12"], ids=["before planting", "still to come"]
)
def test_a_day_that_cannot_be_is_refused(asked, body):
    before = asked.snapshot()
    assert "Not noted" in asked.text(body).reply
    assert asked.snapshot() == before


def test_replanting_sent_again_with_another_day_corrects_and_a_later_one_is_one_more(asked):
    asked.at("2026-12-20", "10:00")
    asked.text("REPLANTED 2/12")
    assert "now" in asked.text("REPLANTED 4/12").reply
    assert "counted anew" in asked.text("REPLANTED 18/12").reply
    assert all("Fri 18 Dec 2026" in each for each in because(asked))
    asked.text("NO")
    assert all("Fri 4 Dec 2026" in each for each in because(asked))


def test_several_plots_are_asked_back_which(programme):
    programme.plot("2")
    programme.text("PLANTED PLOT 2 11/11")
    note_false_starts(programme.services)
    programme.at("2026-11-24", "19:00")
    assert "SURVIVED PLOT" in programme.text("YES").reply
    assert "survived" in programme.text("SURVIVED PLOT 2").reply
    (report,) = programme.rows("reports", kind="survived")
    assert report["season_id"] == programme.rows("seasons")[1]["id"]
    assert "survived" in programme.text("YES").reply


def test_the_ward_lists_who_was_asked_and_what_they_answered(programme):
    programme.plot("2", phone=BALA, name="Bala")
    programme.text("PLANTED 11/11", sender=BALA)
    note_false_starts(programme.services)
    programme.at("2026-11-24", "19:00")
    programme.text("YES", sender=BALA)
    with reading(programme.services.engine) as c:
        found = asked_plots(c, wards_seen(c, None)[0], SEASON)
    assert [(each.asked.plot_number, each.answer and each.answer.kind.value) for each in found] == [
        ("1", None),
        ("2", "survived"),
    ]


def test_the_order_of_texts_does_not_matter(engine):
    """Both plots say the same, one of them backwards; both have the same plan."""
    bodies = ["RAIN 10/11", "PLANTED 11/11", "GERM 17/11", "REPLANTED 2/12", "GERM 9/12"]
    made = a_programme(engine, local("2026-12-12", "10:00"))
    made.plot("1")
    made.plot("2", phone=BALA, name="Bala")
    for body in bodies:
        made.text(body)
    for body in reversed(bodies):
        made.text(body, sender=BALA)
    first, second = (row["id"] for row in made.rows("seasons"))
    tasks = [
        sorted(str([*row.values()][1:]) for row in made.rows("tasks", season_id=season_id))
        for season_id in (first, second)
    ]
    assert tasks[0] == tasks[1] != []


def waiting(programme: Programme) -> set[str]:
    return {row["name"] for row in programme.rows("tasks") if row["waits"]}


def to_go(programme: Programme) -> list[dict]:
    rows = programme.rows("notices", state="planned")
    return [row for row in rows if row["stage"] != "reply"]


def sent_reminders(programme: Programme) -> list[dict]:
    return [row for row in programme.rows("notices") if row["sent_at"] and row["stage"] != "reply"]


def test_no_reminder_of_a_lost_stand_goes_out_until_it_is_replanted(asked):
    ids = {row["id"] for row in to_go(asked)}
    assert ids, "reminders of the first stand were planned"
    asked.text("NO")
    assert to_go(asked) == []
    reasons = {row["reason"] for row in asked.rows("notices") if row["id"] in ids}
    assert reasons == {"the stand is lost: waits for replanting"}
    assert waiting(asked) == {row["name"] for row in asked.rows("tasks")} != set()
    assert "lost" in asked.text("NEXT").reply
    before = len(sent_reminders(asked))
    asked.at("2026-12-03", "10:00")
    assert len(sent_reminders(asked)) == before
    asked.text("REPLANTED 2/12")
    assert to_go(asked) and waiting(asked) == set()


def test_reminders_come_back_when_the_loss_is_taken_back(asked):
    tasks, texts = plan_of(asked), planned(asked)
    asked.text("NO")
    asked.text("NO")
    assert (plan_of(asked), planned(asked)) == (tasks, texts)
    assert {row["reason"] for row in asked.rows("notices", state="planned")} == {None}


def test_reminders_come_back_when_the_stand_survived_after_all(asked):
    tasks, texts = plan_of(asked), planned(asked)
    asked.text("NO")
    asked.text("SURVIVED")
    assert (plan_of(asked), planned(asked)) == (tasks, texts)


def test_a_planting_reported_after_the_loss_is_a_replanting(asked):
    asked.text("NO")
    asked.at("2026-12-03", "10:00")
    assert asked.text("PLANTED 2/12").understood[0]["kind"] == "replanted"
    assert waiting(asked) == set() and to_go(asked)


def test_a_loss_told_after_planting_again_leaves_the_new_stand_alone(asked):
    """The day of the loss is the day of the text; the replanting it tells of later was before."""
    asked.at("2026-12-03", "10:00")
    asked.text("NO")
    asked.text("REPLANTED 2/12")
    assert waiting(asked) == set() and to_go(asked)
