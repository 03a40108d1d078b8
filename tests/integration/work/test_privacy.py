"""One person's data: handed out whole, erased without a trace, and nobody else touched."""

import json

import pytest
import sqlalchemy as sa
from season_cast import AMINA, a_programme, local
from sqlalchemy import insert, select, text

from reminder_service.kinds import PhoneNumber
from reminder_service.records import audit
from reminder_service.records import tables as t
from reminder_service.records.engine import reading, writing
from reminder_service.records.errors import NotFound
from reminder_service.records.traces import wiper
from reminder_service.work.privacy import NotWorkedYet, SharedPhone, erase_person, person_data
from reminder_service.work.ticks import work_left_inbound

NAME = "Nokukhanyani Dul\u00e9"
OTHER = PhoneNumber("+447700900002")
NUMBER = PhoneNumber(AMINA)
TRACES = ("7700900001", "7700 900001", "Nokukhanya", "Dul\u00e9", "Dul\\u00e9")


@pytest.fixture
def programme(engine):
    """One who will be erased, and another who must not be touched; names and numbers all over."""
    made = a_programme(engine, local("2026-11-12"))
    season = made.plot("1", name=NAME)
    made.plot("2", phone=OTHER, name="Bisa")
    made.text("RAIN 12 NOV")
    made.text("RAIN 12 NOV", sender=OTHER)
    made.at("2026-11-22").text("GERM 21/11")
    made.text("GERM 21/11", sender=OTHER)
    made.text(f"{NAME} 07700 900001 calls")
    made.at("2026-12-05", "15:00")
    with writing(engine) as c:
        _plant(c, made, season)
    return made


def _plant(c, made, season) -> None:
    now = made.clock()
    farmer = c.execute(select(t.farmers.c.id).where(t.farmers.c.name == NAME)).scalar_one()
    phone = c.execute(select(t.phones.c.id).where(t.phones.c.number == NUMBER)).scalar_one()
    said = {"name": NAME, "phone": NUMBER, "also": ["07700 900001", 447700900001]}
    for subject in (f"farmer {farmer}", f"season {season}"):
        audit.note(c, at=now, who="tembi", what="change", subject=subject, before=said, after=said)
    audit.note(c, at=now, who="tembi", what="test text", subject="route x", after={"to": NUMBER})
    c.execute(insert(t.ticks).values(name="odd", started_at=now, error=f"{NUMBER} is not served"))
    c.execute(
        insert(t.inbound).values(
            gateway="modem",
            message_id=f"{NUMBER}/7",
            sender="00447700900001",
            body=f"left by {NAME}".encode(),
            sent_at=now,
            received_at=now,
        )
    )
    c.execute(
        insert(t.joinings).values(
            phone_id=phone, step="name", answers={"language": "en", "name": NAME}, updated_at=now
        )
    )
    attempt = select(t.notices.c.attempt_id).where(
        t.notices.c.phone_id == phone, t.notices.c.attempt_id.is_not(None)
    )
    c.execute(
        insert(t.receipts).values(
            gateway="console",
            reference="r-1",
            state="undelivered",
            at=now,
            reason=f"to {NUMBER} ({NAME})",
            received_at=now,
            attempt_id=c.execute(attempt.limit(1)).scalar_one(),
        )
    )


def everything(engine) -> str:
    """Every value of every table that the database has, whether we know the table or not."""
    with reading(engine) as c:
        found = []
        for name in sa.inspect(c).get_table_names():
            for row in c.execute(text(f'SELECT * FROM "{name}"')):
                found += [v.decode("utf-8", "replace") if isinstance(v, bytes) else str(v)
                          for v in row]  # fmt: skip
                found += [bytes(v).decode("utf-8", "replace") for v in row
                          if isinstance(v, memoryview)]  # fmt: skip
    return "\n".join(found)


def counts(engine) -> dict[str, int]:
    with reading(engine) as c:
        return {
            name: c.execute(select(sa.func.count()).select_from(table)).scalar_one()
            for name, table in t.metadata.tables.items()
        }


def of_the_other(programme) -> dict[str, list]:
    """All rows of the farmer who stays."""
    return person_data(programme.services, OTHER, "test")


class TestErasing:
    def test_before_it_traces_are_everywhere(self, programme):
        whole = everything(programme.services.engine)
        assert all(trace in whole for trace in TRACES[:3])

    def test_afterwards_no_table_holds_a_trace(self, programme):
        erase_person(programme.services, NUMBER, "ruva")

        whole = everything(programme.services.engine)
        assert [trace for trace in TRACES if trace in whole] == []

    def test_the_counts_stay(self, programme):
        before = counts(programme.services.engine)
        erase_person(programme.services, NUMBER, "ruva")
        after = counts(programme.services.engine)

        gone = {name for name in before if after[name] < before[name]}
        assert gone == {"joinings"}  # a conversation under way is no figure of anything
        assert after["audit"] == before["audit"] + 1

    def test_reports_tasks_and_days_stay(self, programme):
        before = {name: programme.rows(name) for name in ("reports", "tasks", "attempts")}
        erase_person(programme.services, NUMBER, "ruva")
        for name, rows in before.items():
            assert len(programme.rows(name)) == len(rows)
        assert [row["on"] for row in programme.rows("reports")] == [
            row["on"] for row in before["reports"]
        ]

    def test_nothing_more_goes_out_to_them(self, programme):
        done = erase_person(programme.services, NUMBER, "ruva")
        sent = len(programme.left)
        programme.at("2027-03-01")

        assert done.withdrawn > 0
        assert {m.to for _, m in programme.left[sent:]} <= {OTHER}
        assert programme.rows(farmer_id=done.farmer_ids[0], state="planned") == []

    def test_somebody_else_is_not_touched(self, programme):
        before = of_the_other(programme)
        erase_person(programme.services, NUMBER, "ruva")
        after = of_the_other(programme)

        (line,) = after.pop("audit")  # that they were handed out before
        assert line["what"] == "hand out data"
        assert after == before

    def test_it_stands_on_the_audit_log_without_the_name(self, programme):
        done = erase_person(programme.services, NUMBER, "ruva")
        last = programme.rows("audit")[-1]

        assert (last["who"], last["what"]) == ("ruva", "erase")
        assert last["subject"] == f"farmer {done.farmer_ids[0]}"
        assert last["after"]["texts"] == done.texts > 0

    def test_the_number_may_come_back_as_somebody_new(self, programme):
        erase_person(programme.services, NUMBER, "ruva")
        programme.text("HELP")

        assert len(programme.rows("phones", number=NUMBER)) == 1
        assert programme.rows("farmers", name=NAME) == []

    def test_a_number_that_nobody_has(self, programme):
        with pytest.raises(NotFound, match="ends in"):
            erase_person(programme.services, PhoneNumber("+447700900099"), "ruva")

    def test_a_fault_half_way_leaves_all_as_it_was(self, programme, monkeypatch):
        before = everything(programme.services.engine)

        def fails(*_):
            raise RuntimeError("the wiping failed")

        monkeypatch.setattr("reminder_service.work.privacy._wipe_traces", fails)
        with pytest.raises(RuntimeError):
            erase_person(programme.services, NUMBER, "ruva")
        assert everything(programme.services.engine) == before


class TestSharedPhones:
    @pytest.fixture
    def shared(self, programme):
        """Chola uses the first one's phone too."""
        programme.plot("3", name="Chola Mwape")
        programme.text("GERM 22/11 PLOT 3")
        work_left_inbound(programme.services)
        with reading(programme.services.engine) as c:
            rows = c.execute(select(t.farmers.c.name, t.farmers.c.id)).all()
        return {row.name: row.id for row in rows}

    def test_which_farmer_is_meant_must_be_said(self, programme, shared):
        with pytest.raises(SharedPhone, match="give --farmer") as refused:
            erase_person(programme.services, NUMBER, "ruva")
        assert set(refused.value.farmer_ids) == {shared[NAME], shared["Chola Mwape"]}

    def test_the_one_goes_and_the_phone_stays_for_the_other(self, programme, shared):
        erase_person(programme.services, NUMBER, "ruva", shared[NAME])

        whole = everything(programme.services.engine)
        assert "Nokukhanya" not in whole and "Chola Mwape" in whole
        with reading(programme.services.engine) as c:
            served = c.execute(
                select(t.farmer_phones.c.farmer_id)
                .join(t.phones, t.phones.c.id == t.farmer_phones.c.phone_id)
                .where(t.phones.c.number == NUMBER)
            ).scalars()
            assert list(served) == [shared["Chola Mwape"]]
        assert programme.text("NEXT").reply is not None

    def test_a_text_that_may_be_the_others_is_worked_first(self, programme, shared):
        with writing(programme.services.engine) as c:
            c.execute(text("UPDATE inbound SET handled_at = NULL, phone_id = NULL WHERE id = 1"))
        with pytest.raises(NotWorkedYet):
            erase_person(programme.services, NUMBER, "ruva", shared[NAME])
        assert programme.rows("farmers", name=NAME)

    def test_a_farmer_of_another_phone_is_not_reached(self, programme, shared):
        with pytest.raises(NotFound, match="farmer of that phone"):
            erase_person(programme.services, NUMBER, "ruva", shared["Bisa"])


class TestHandingOut:
    def test_everything_linked_is_in_it(self, programme):
        found = person_data(programme.services, NUMBER, "ruva")

        assert {"farmers", "phones", "plots", "seasons", "inbound", "reports", "tasks", "notices",
                "attempts", "receipts", "joinings", "audit"} <= set(found)  # fmt: skip
        assert found["farmers"][0]["name"] == NAME
        assert any("calls" in str(row["body"]) for row in found["inbound"])
        assert any(row["sender"] == "00447700900001" for row in found["inbound"])
        json.dumps(found)

    def test_nothing_of_another_is_in_it(self, programme):
        told = json.dumps(person_data(programme.services, NUMBER, "ruva"))
        assert "7700900002" not in told and "Bisa" not in told

    def test_that_it_was_handed_out_is_noted(self, programme):
        person_data(programme.services, NUMBER, "ruva")
        last = programme.rows("audit")[-1]
        assert (last["who"], last["what"]) == ("ruva", "hand out data")


@pytest.mark.parametrize(
    ("written", "wiped"),
    [
        ("+447700900001", True),
        ("00447700900001", True),
        ("447700900001", True),
        ("+44 7700 900 001", True),
        ("+44 (0) 7700 900001", True),
        ("07700900001", True),
        ("7700-900-001", True),
        ("+2557700900001", False),
        ("17700900001", False),
        ("+4477009000012", False),
    ],
)
def test_a_number_is_known_however_it_is_written(written, wiped):
    wipe = wiper([], [NUMBER], "gone", at_home=True)
    assert wipe(f"call {written} now") == ("call gone now" if wiped else f"call {written} now")


def test_elsewhere_a_number_is_known_with_its_country_only():
    wipe = wiper([], ["+255712345678"], "gone")
    assert wipe("+254712345678 0712345678 +255712345678") == "+254712345678 0712345678 gone"


def test_names_within_other_words_stay():
    assert wiper(["May"], [], "x")("May, Mayor, dismay May") == "x, Mayor, dismay x"
