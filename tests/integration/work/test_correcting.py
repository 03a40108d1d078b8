"""A person says what a text means; the plan moves, the farmer is told, and it can be undone."""

from datetime import date

import pytest
from season_cast import AMINA, Programme, a_programme, local
from sqlalchemy import update

from reminder_service.kinds import Kind
from reminder_service.records import people, unread
from reminder_service.records import tables as t
from reminder_service.records.engine import reading, writing
from reminder_service.records.types import Role
from reminder_service.texts.reading_types import Said
from reminder_service.work.correcting import TextReport, correct, put_back, set_aside
from reminder_service.work.offering import offers, strange_words

ON = date(2026, 11, 21)


@pytest.fixture
def programme(engine) -> Programme:
    made = a_programme(engine, local("2026-11-25", "10:00"))
    made.plot("1")
    return made


@pytest.fixture
def tembi(programme):
    with writing(programme.services.engine) as c:
        people.add_person(
            c,
            login="tembi",
            name="Tembi",
            password_hash="none",
            role=Role.PROGRAMME_LEAD,
            ward_ids=[],
        )
        return people.person_by_login(c, "tembi")


def waiting(programme: Programme):
    """Texts that wait, each with what is offered."""
    with reading(programme.services.engine) as c:
        texts = unread.waiting_page(c, None, None, 50)
        return offers(c, programme.services, texts, None)


def unread_text(programme: Programme, body: str | bytes = "gemnitaed 21 nov", **sent) -> int:
    return programme.text(body, **sent).inbound_id


def germinated(season_id: int = 1, on: date = ON) -> list[TextReport]:
    return [TextReport(season_id, Said(Kind.GERMINATED, on))]


def told(programme: Programme) -> list[dict]:
    """What was queued after the reply that the text could not be read."""
    return programme.rows(stage="reply")[1:]


def touched(programme: Programme, tembi, body: str = "gemnitaed 21 nov") -> int:
    """An unread text corrected by its first button."""
    text_id = unread_text(programme, body)
    outcome = correct(programme.services, text_id, tembi, waiting(programme)[0].meant[0])
    assert outcome.done, outcome.sentence
    return text_id


def test_one_touch_makes_the_text_a_report_and_moves_the_plan(programme, tembi):
    text_id = touched(programme, tembi)
    report = programme.rows("reports")[0]
    assert (report["kind"], report["on"]) == ("germinated", ON)
    assert (report["inbound_id"], report["person_id"]) == (text_id, tembi.id)
    assert programme.rows("tasks", name="thin")[0]["opens_on"] == date(2026, 12, 5)
    assert waiting(programme) == []


def test_the_farmer_is_told_what_was_understood_and_can_say_no(programme, tembi):
    text_id = touched(programme, tembi)
    notice = told(programme)[0]
    assert "Germination on plot 1: Sat 21 Nov 2026" in notice["body"]
    assert notice["inbound_id"] == text_id and notice["state"] == "planned"
    assert "Taken back" in programme.text("NO").reply
    assert [offer.text.id for offer in waiting(programme)] == [text_id]


def test_no_is_understood_for_a_day_after_the_touch_however_old_the_text(programme, tembi):
    text_id = unread_text(programme)
    programme.at("2026-11-29", "09:00")
    correct(programme.services, text_id, tembi, germinated())
    assert "Taken back" in programme.text("NO").reply


def test_the_farmer_is_told_in_their_own_language(programme, tembi):
    with writing(programme.services.engine) as c:
        c.execute(update(t.farmers).values(language="sw"))
    text_id = unread_text(programme, "zzzz 21/11")
    before = {row["id"] for row in programme.rows(stage="reply")}
    correct(programme.services, text_id, tembi, germinated())
    body = next(r["body"] for r in programme.rows(stage="reply") if r["id"] not in before)
    assert "Germination" not in body and "Thank you" not in body and "21" in body


def test_the_farmer_is_told_within_the_sending_hours(programme, tembi):
    text_id = unread_text(programme)
    programme.at("2026-11-25", "23:30")
    correct(programme.services, text_id, tembi, germinated())
    assert told(programme)[0]["send_at"] == local("2026-11-26", "08:00")


def test_a_stopped_phone_is_told_nothing(programme, tembi):
    text_id = unread_text(programme)
    programme.text("STOP")
    before = len(programme.rows(stage="reply"))
    outcome = correct(programme.services, text_id, tembi, germinated())
    assert outcome.done and "stopped" in outcome.sentence
    assert len(programme.rows(stage="reply")) == before


def test_a_day_that_cannot_be_true_changes_nothing(programme, tembi):
    text_id = unread_text(programme)
    before = programme.snapshot()
    both = [*germinated(), TextReport(1, Said(Kind.PLANTED, date(2026, 12, 24)))]
    outcome = correct(programme.services, text_id, tembi, both)
    assert not outcome.done and "still to come" in outcome.sentence
    assert programme.snapshot() == before and told(programme) == []
    assert len(waiting(programme)) == 1


def test_the_second_of_two_people_changes_nothing(programme, tembi):
    text_id = touched(programme, tembi)
    before = programme.snapshot()
    outcome = correct(programme.services, text_id, tembi, germinated(on=date(2026, 11, 22)))
    assert not outcome.done and "somebody has settled" in outcome.sentence
    assert not set_aside(programme.services, text_id, tembi).done
    assert programme.snapshot() == before


def test_what_was_done_is_audited(programme, tembi):
    text_id = touched(programme, tembi)
    put_back(programme.services, text_id, tembi)
    set_aside(programme.services, text_id, tembi)
    lines = programme.rows("audit", subject=f"inbound {text_id}")
    assert [line["what"] for line in lines] == ["read text", "put text back", "set text aside"]
    assert {line["who"] for line in lines} == {"tembi"}
    assert lines[0]["after"]["reports"] == [{"kind": "germinated", "on": "2026-11-21", "season": 1}]


def test_putting_back_undoes_report_plan_and_text(programme, tembi):
    before = programme.snapshot()
    text_id = touched(programme, tembi)
    assert put_back(programme.services, text_id, tembi).done
    after = programme.snapshot()
    assert after["tasks"] == before["tasks"]
    assert [row["state"] for row in told(programme)] == ["withdrawn"]
    assert [offer.text.id for offer in waiting(programme)] == [text_id]


def test_a_farmer_who_was_told_already_is_told_that_it_was_taken_back(programme, tembi):
    text_id = touched(programme, tembi)
    programme.dispatch()
    put_back(programme.services, text_id, tembi)
    bodies = [row["body"] for row in told(programme)]
    assert len(bodies) == 2 and bodies[1].startswith("Taken back: plot 1")


def test_a_text_can_be_read_anew_after_it_was_put_back(programme, tembi):
    text_id = touched(programme, tembi)
    put_back(programme.services, text_id, tembi)
    programme.clock.now = local("2026-11-25", "10:05")
    assert correct(programme.services, text_id, tembi, germinated(on=date(2026, 11, 20))).done
    standing = [row["state"] for row in told(programme)]
    assert standing == ["withdrawn", "planned"]


def test_a_text_set_aside_is_settled_without_a_word_and_comes_back(programme, tembi):
    text_id = unread_text(programme, "we greet you")
    assert set_aside(programme.services, text_id, tembi).done
    row = programme.rows("waiting_texts")[0]
    assert (row["settled_as"], row["person_id"]) == ("set aside", tembi.id)
    assert row["settled_at"] == programme.clock()
    assert waiting(programme) == [] and told(programme) == []
    assert put_back(programme.services, text_id, tembi).done
    assert not put_back(programme.services, text_id, tembi).done
    assert [offer.text.id for offer in waiting(programme)] == [text_id]


def test_a_question_that_its_farmer_answers_waits_no_more(programme):
    unread_text(programme, "RAIN 12")
    assert [offer.text.why for offer in waiting(programme)] == ["asked back"]
    programme.text("1")
    assert waiting(programme) == []


def test_a_question_still_waits_if_the_farmer_reports_something_else(programme):
    unread_text(programme, "RAIN 12")
    programme.text("PLANTED 14/11")
    assert len(waiting(programme)) == 1


def test_a_text_without_a_clear_day_waits(programme):
    unread_text(programme, "GERM 31/11")
    assert [offer.text.why for offer in waiting(programme)] == ["unread"]


def test_an_unread_text_shows_what_the_phone_reported_since(programme):
    unread_text(programme)
    programme.text("GERM 20/11")
    since = waiting(programme)[0].since
    assert [(made.plot_number, made.report.on) for made in since] == [("1", date(2026, 11, 20))]


@pytest.mark.parametrize(
    "body, plots",
    [
        pytest.param("GERM 21 NOV", [1, 2], id="none named, so each"),
        pytest.param("gemnitaed 21 nov plot 2", [2], id="the one named"),
        pytest.param("gemnitaed 21 nov plot 7", [1, 2], id="one named that is not theirs"),
    ],
)
def test_plots_are_offered(programme, body, plots):
    programme.plot("2", name="Pelo")
    unread_text(programme, body)
    assert [[each.season_id for each in meant] for meant in waiting(programme)[0].meant] == [
        [season_id] for season_id in plots
    ]


def test_bytes_that_are_no_text_are_offered_what_can_be_read(programme):
    unread_text(programme, b"\xff\xfegerm\x00 21 nov")
    offer = waiting(programme)[0]
    assert offer.text.body == b"\xff\xfegerm\x00 21 nov"
    assert offer.meant[0][0].said.on == ON


def test_texts_of_nobody_are_offered_nothing(programme):
    unread_text(programme, "gemnitaed 21 nov", sender="INFO")
    offer = waiting(programme)[0]
    assert offer.plots == offer.users == offer.meant == ()


def test_strange_words_of_corrected_texts_are_counted(programme, tembi):
    for body in ("kwele 21 nov", "kwele bwana 21 nov"):
        text_id = unread_text(programme, body)
        correct(programme.services, text_id, tembi, germinated())
    set_aside(programme.services, unread_text(programme, "zzzz"), tembi)
    with reading(programme.services.engine) as c:
        found = strange_words(c, programme.services, None)
    assert [(each.word, each.language, each.count) for each in found] == [
        ("kwele", "en", 2),
        ("bwana", "en", 1),
    ]
    assert found[0].kinds == (Kind.GERMINATED,)


def test_strange_words_are_forgotten_after_ninety_days(programme, tembi):
    correct(programme.services, unread_text(programme, "kwele 21 nov"), tembi, germinated())
    programme.clock.now = local("2027-02-25")
    with reading(programme.services.engine) as c:
        assert strange_words(c, programme.services, None) == []


def test_amina_is_who_the_offer_is_about(programme):
    unread_text(programme, sender=AMINA)
    assert [user.name for user in waiting(programme)[0].users] == ["Amina"]
