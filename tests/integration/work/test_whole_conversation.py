"""One farmer from joining to stopping and back, and what each text does, on both engines."""

from season_cast import ZONE, a_programme, local

from reminder_service.records import farmers, people
from reminder_service.records.engine import writing
from reminder_service.records.tables import Role
from reminder_service.texts import replies
from reminder_service.texts.segments import segments
from reminder_service.work import newcomers

PHONE = "+447700900077"
JOINING = ("JOIN", "yes", "pelo dule", "setiwe", "2", "0.25", "1", "4", "3")


def reminders(programme, *states: str) -> list[dict]:
    rows = programme.rows()
    return [row for row in rows if row["season_id"] is not None and row["state"] in states]


def test_a_farmer_joins_reports_corrects_changes_language_stops_and_starts(engine):
    programme = a_programme(engine, local("2026-11-25", "09:00"))
    with writing(engine) as c:
        farmers.add_ward(c, "Setiwe", str(ZONE))
        id_ = people.add_person(
            c, login="tembi", name="Tembi", password_hash="x", role=Role.COORDINATOR, ward_ids=[1]
        )
        person = people.person_by_id(c, id_)

    def say(body: str) -> str:
        reply = programme.text(body, sender=PHONE).reply
        assert reply is not None and segments(reply).segments == 1, body
        return reply

    joined = [say(body) for body in JOINING]
    assert joined[-1].startswith("Pelo Dule, your plot is number 1 in Setiwe: 5556 stations")
    season_id = programme.rows("seasons")[0]["id"]

    assert "Germination on plot 1: Sat 21 Nov 2026" in say("GERM 21/11")
    assert reminders(programme, "planned") == []
    assert newcomers.approve(programme.services, season_id, person)
    assert programme.rows(task="joining")[0]["body"].startswith("Welcome Pelo Dule.")
    assert reminders(programme, "planned")

    assert "is now Mon 23 Nov 2026, not Sat 21 Nov 2026" in say("germ 23/11")
    assert str(programme.rows("tasks", name="thin")[0]["opens_on"]) == "2026-12-07"
    assert "Taken back" in say("NO")
    assert str(programme.rows("tasks", name="thin")[0]["opens_on"]) == "2026-12-05"

    english = {row["key"]: row["body"] for row in reminders(programme, "planned")}
    say("LANGUAGE SW")
    swahili = {row["key"]: row["body"] for row in reminders(programme, "planned")}
    assert swahili.keys() == english.keys() and swahili != english

    stopped = replies.stopped(programme.services.settings.programme, language="sw")
    assert say("STOP") == stopped
    assert reminders(programme, "planned", "waiting", "held") == []
    say("START")
    again = {row["key"]: row["body"] for row in reminders(programme, "planned")}
    assert again == swahili

    (consent,) = programme.rows("consents")
    assert consent["wording"] == joined[0] and consent["given"]
