"""Lists from file to register, on both engines: idempotence, crashes, stops, all or none."""

import io
from datetime import timedelta

import pytest
from openpyxl import load_workbook
from season_cast import Programme, a_programme, local
from sqlalchemy import select

from reminder_service.kinds import PhoneNumber
from reminder_service.records import farmers, list_rows, lists
from reminder_service.records import tables as t
from reminder_service.records.engine import reading, writing
from reminder_service.records.list_tables import Fate, ListState
from reminder_service.records.people import add_person
from reminder_service.records.types import Role
from reminder_service.work import ticks
from reminder_service.work.lists import by_hand, going_out, learning, steps
from reminder_service.work.lists.columns import Field
from reminder_service.work.lists.errors import NotNow

HEAD = "Ward,Farmer name,Phones,Plot number,Stations,Language\n"
TWO = HEAD + "Olmara,Nalo Teme,+447700900001,,5600,sw\nSetiwe,Juma Keto,+447700900002,7,900,\n"
VOUCHED = by_hand.Vouched("Tembi", "They agreed.")


@pytest.fixture
def programme(engine) -> Programme:
    made = a_programme(engine, local("2026-11-01"))
    with writing(engine) as c:
        for ward in ("Olmara", "Setiwe"):
            farmers.add_ward(c, ward, "Africa/Lusaka")
    return made


def judged(programme: Programme, text: str, person_id: int | None = None) -> int:
    services = programme.services
    import_id = by_hand.take_file(services, text.encode(), "list.csv", person_id)
    columns = tuple(field and Field(field) for field in job(programme, import_id).columns)
    by_hand.choose_columns(services, import_id, columns, ward_id=None, language="en")
    steps.go_on(services, import_id)
    return import_id


def brought(programme: Programme, text: str, *, whole: bool = True) -> dict[str, int]:
    import_id = judged(programme, text)
    by_hand.let_in(programme.services, import_id, VOUCHED, whole=whole, who="tembi")
    steps.go_on(programme.services, import_id)
    found = job(programme, import_id)
    assert found.state is ListState.DONE
    return dict(found.counts or {})


def job(programme: Programme, import_id: int):
    with reading(programme.services.engine) as c:
        return lists.list_job(c, import_id)


def fates(programme: Programme, import_id: int) -> dict[Fate, int]:
    with reading(programme.services.engine) as c:
        return list_rows.fates(c, import_id)


def register(programme: Programme) -> dict[str, list[str]]:
    names = ("farmers", "phones", "farmer_phones", "plots", "seasons", "tasks", "notices")
    with reading(programme.services.engine) as c:
        return {
            name: sorted(map(str, c.execute(select(t.metadata.tables[name])).all()))
            for name in names
        }


def many(count: int, numbered: bool = False) -> str:
    """Two plots a farmer, the first without a number unless they are numbered."""
    lines = []
    for at in range(count):
        number = f"K{at}" if numbered else ""
        ward = ("Olmara", "Setiwe")[at // 2 % 2]
        phone = f"+4477009{at // 2:05d}"
        lines.append(f"{ward},Farmer {at // 2},{phone},{number},{100 + at},sw\n")
    return HEAD + "".join(lines)


def in_order(programme: Programme, table: str) -> list[dict]:
    return sorted(programme.rows(table), key=lambda row: row["id"])


@pytest.fixture
def small(monkeypatch):
    """Pieces of few rows, so that a short list takes many."""
    monkeypatch.setattr(steps, "CHUNK", 5)
    monkeypatch.setattr(steps, "READ_AT_ONCE", 1)
    monkeypatch.setattr(steps, "PLANNED_AT_ONCE", 2)
    monkeypatch.setattr(steps, "REST_S", 0)


def test_a_list_brings_farmers_phones_plots_and_open_seasons(programme):
    assert brought(programme, TWO) == {"new farmer": 2}
    nalo, juma = in_order(programme, "farmers")
    assert (nalo["name"], nalo["language"], juma["language"]) == ("Nalo Teme", "sw", "en")
    assert [(p["number"], p["stations"]) for p in in_order(programme, "plots")] == [
        ("1", 5600),
        ("7", 900),
    ]
    assert [s["label"] for s in programme.rows("seasons")] == ["2026/27"] * 2
    assert all(season["planned_at"] for season in programme.rows("seasons"))


def test_a_farmer_of_a_list_can_report_at_once(programme):
    brought(programme, TWO)
    assert programme.text("first rain 1 Nov", "+447700900001").changes
    assert programme.rows("tasks")


def test_who_vouched_for_the_consent_is_kept_with_the_words(programme):
    brought(programme, TWO)
    kept = programme.rows("imports")[0]
    assert (kept["vouched_by"], kept["vouched_words"]) == ("Tembi", "They agreed.")
    ids = {row["farmer_id"] for row in programme.rows("vouched_consents")}
    assert ids == {row["id"] for row in programme.rows("farmers")}


@pytest.mark.parametrize("whole", [True, False], ids=["all or none", "good rows"])
@pytest.mark.parametrize("numbered", [True, False], ids=["numbered", "not numbered"])
def test_the_same_list_twice_changes_nothing(programme, small, whole, numbered):
    text = many(24, numbered)
    assert brought(programme, text, whole=whole) == {"new farmer": 12, "new plot": 12}
    before = register(programme)
    assert brought(programme, text, whole=whole) == {"same": 24}
    assert register(programme) == before


def test_both_ways_of_writing_come_to_the_same(programme, small, engine):
    import_id = judged(programme, many(12))
    assert fates(programme, import_id) == {Fate.NEW_FARMER: 6, Fate.NEW_PLOT: 6}
    brought(programme, many(12), whole=False)
    with reading(engine) as c:
        owners = c.execute(
            select(t.farmers.c.name, t.plots.c.stations)
            .select_from(t.plots.join(t.farmers, t.plots.c.farmer_id == t.farmers.c.id))
            .order_by(t.plots.c.stations)
        ).all()
    assert [tuple(row) for row in owners] == [(f"Farmer {n // 2}", 100 + n) for n in range(12)]


def test_a_changed_row_changes_that_and_is_on_the_audit_log(programme):
    brought(programme, TWO)
    assert brought(programme, TWO.replace("5600,sw", "6000,pt")) == {"change": 1, "same": 1}
    assert in_order(programme, "plots")[0]["stations"] == 6000
    assert in_order(programme, "farmers")[0]["language"] == "pt"
    (entry,) = [row for row in programme.rows("audit") if row["subject"].startswith("plot")]
    assert entry["before"] == {"language": "sw", "stations": 5600}
    assert entry["after"] == {"language": "pt", "stations": 6000}


def test_a_changed_plot_is_planned_anew(programme):
    brought(programme, TWO)
    programme.text("first rain 1 Nov", "+447700900001")
    planned_at = in_order(programme, "seasons")[0]["planned_at"]
    programme.at("2026-11-03")
    brought(programme, TWO.replace("5600", "6000"))
    assert in_order(programme, "seasons")[0]["planned_at"] > planned_at
    assert in_order(programme, "seasons")[1]["planned_at"] < programme.clock()


def test_faulty_rows_keep_all_out_or_come_back_as_a_file(programme):
    text = TWO + "Olmara,=1+1,+447700900003,,x,\n"
    import_id = judged(programme, text)
    with pytest.raises(NotNow, match="faulty"):
        by_hand.let_in(programme.services, import_id, VOUCHED, whole=True, who="tembi")
    assert programme.rows("farmers") == []
    by_hand.let_in(programme.services, import_id, VOUCHED, whole=False, who="tembi")
    steps.go_on(programme.services, import_id)
    assert len(programme.rows("farmers")) == 2
    back = b"".join(going_out.faulty_file(programme.services, job(programme, import_id), "csv"))
    assert "What is wrong,Ward,Farmer name" in back.decode("utf-8-sig")
    assert "Olmara,'=1+1,'+447700900003,,x" in back.decode("utf-8-sig")


def test_the_faulty_file_put_right_can_be_brought_again(programme):
    text = TWO + "Olmara,Rova Beni,+447700900003,,x,\n"
    import_id = judged(programme, text)
    back = b"".join(going_out.faulty_file(programme.services, job(programme, import_id), "csv"))
    assert brought(programme, back.decode("utf-8-sig").replace(",x,", ",800,")) == {"new farmer": 1}
    assert in_order(programme, "farmers")[0]["name"] == "Rova Beni"
    assert programme.rows("phones")[0]["number"] == "+447700900003"


def test_faulty_rows_come_back_as_texts_in_a_workbook(programme):
    import_id = judged(programme, TWO + "Olmara,=1+1,+447700900003,,x,\n")
    back = b"".join(going_out.faulty_file(programme.services, job(programme, import_id), "xlsx"))
    sheet = load_workbook(io.BytesIO(back)).worksheets[0]
    assert [(cell.value, cell.data_type) for cell in sheet[2][2:4]] == [
        ("=1+1", "s"),
        ("+447700900003", "s"),
    ]


def test_nobody_new_goes_in_unless_somebody_vouches(programme):
    import_id = judged(programme, TWO)
    with pytest.raises(NotNow, match="agreed"):
        by_hand.let_in(programme.services, import_id, None, whole=True, who="tembi")


def test_a_coordinator_brings_nothing_into_another_ward(programme, engine):
    with writing(engine) as c:
        person_id = add_person(
            c, login="tembi", name="Tembi", password_hash="-", role=Role.COORDINATOR, ward_ids=[1]
        )
    import_id = judged(programme, TWO, person_id)
    assert fates(programme, import_id) == {Fate.NEW_FARMER: 1, Fate.FAULT: 1}


def test_who_loses_a_ward_or_is_no_more_brings_nothing_in(programme, engine):
    with writing(engine) as c:
        person_id = add_person(
            c, login="tembi", name="Tembi", password_hash="-", role=Role.AUDITOR, ward_ids=[1]
        )
    assert fates(programme, judged(programme, TWO, person_id)) == {Fate.FAULT: 2}


def test_a_phone_that_said_stop_stays_stopped(programme, engine):
    with writing(engine) as c:
        phone = farmers.phone_for(c, PhoneNumber("+447700900001"))
        farmers.stop_phone(c, phone.id, programme.clock())
    brought(programme, TWO)
    assert programme.rows("phones", number="+447700900001")[0]["stopped_at"] is not None


class Killed(BaseException):
    """Stands in for the end of a worker."""


@pytest.mark.parametrize("whole", [True, False], ids=["all or none", "good rows"])
def test_a_worker_that_dies_anywhere_leaves_nothing_half_done(programme, small, monkeypatch, whole):
    """Each turn dies at its third note of progress, before or after; another goes on."""
    services = programme.services
    real, count = lists.move_list, iter(range(10_000))

    def dies_sometimes(*given, **values):
        if next(count) % 7 == 6:
            raise Killed
        return real(*given, **values)

    def to_the_end(import_id: int) -> None:
        for _turn in range(200):
            if job(programme, import_id).state not in (
                ListState.READING,
                ListState.JUDGING,
                ListState.WRITING,
                ListState.PLANNING,
            ):
                return
            try:
                steps.go_on(services, import_id)
            except Killed:
                learning.forget()
                programme.clock.now += timedelta(seconds=services.settings.lease_s + 1)
        raise AssertionError("it never ends")

    import_id = by_hand.take_file(services, many(30).encode(), "list.csv", None)
    columns = tuple(field and Field(field) for field in job(programme, import_id).columns)
    by_hand.choose_columns(services, import_id, columns, ward_id=None, language="en")
    monkeypatch.setattr(lists, "move_list", dies_sometimes)
    to_the_end(import_id)
    assert fates(programme, import_id) == {Fate.NEW_FARMER: 15, Fate.NEW_PLOT: 15}
    by_hand.let_in(services, import_id, VOUCHED, whole=whole, who="tembi")
    to_the_end(import_id)
    assert [len(programme.rows(name)) for name in ("farmers", "plots", "seasons")] == [15, 30, 30]
    assert all(season["planned_at"] for season in programme.rows("seasons"))


def test_two_workers_never_have_one_list(programme):
    import_id = by_hand.take_file(programme.services, TWO.encode(), "list.csv", None)
    columns = tuple(field and Field(field) for field in job(programme, import_id).columns)
    by_hand.choose_columns(programme.services, import_id, columns, ward_id=None, language="en")
    now = programme.clock()
    with writing(programme.services.engine) as c:
        assert lists.claim_list(c, import_id, "other", now, now + timedelta(seconds=60))
    assert steps.go_on(programme.services, import_id) == 0
    programme.clock.now += timedelta(seconds=61)
    assert steps.go_on(programme.services, import_id) > 0


def test_a_list_stopped_half_way_keeps_what_is_in_and_gives_the_rest_back(programme, small):
    services = programme.services
    import_id = judged(programme, many(20))
    by_hand.let_in(services, import_id, VOUCHED, whole=False, who="tembi")
    steps.go_on(services, import_id, 2)
    assert by_hand.stop(services, import_id, "tembi")
    steps.go_on(services, import_id)
    found = job(programme, import_id)
    assert found.state is ListState.DONE and found.counts[Fate.FAULT] == 10
    assert len(programme.rows("plots")) == 10
    assert all(season["planned_at"] for season in programme.rows("seasons"))
    back = b"".join(going_out.faulty_file(services, found, "csv")).decode()
    assert back.count("not taken") == 10


def test_a_list_stopped_before_it_goes_in_leaves_no_row(programme):
    import_id = judged(programme, TWO)
    assert by_hand.stop(programme.services, import_id, "tembi")
    assert programme.rows("import_rows") == [] and programme.rows("farmers") == []
    assert not by_hand.stop(programme.services, import_id, "tembi")


def test_a_list_that_must_go_in_whole_is_judged_anew_if_somebody_came_between(programme):
    import_id = judged(programme, TWO)
    programme.clock.now += timedelta(minutes=1)
    with writing(programme.services.engine) as c:
        farmers.add_farmer(
            c,
            ward_id=1,
            name="Nalo Teme",
            language="sw",
            numbers=[PhoneNumber("+447700900001")],
            at=programme.clock(),
        )
    by_hand.let_in(programme.services, import_id, VOUCHED, whole=True, who="tembi")
    steps.go_on(programme.services, import_id)
    assert job(programme, import_id).counts == {"new farmer": 1, "new plot": 1}
    assert len(programme.rows("farmers")) == 2


def test_a_list_that_can_no_longer_go_in_whole_waits_with_its_fault(programme):
    import_id = judged(programme, TWO)
    programme.clock.now += timedelta(minutes=1)
    with writing(programme.services.engine) as c:
        other = farmers.add_farmer(
            c, ward_id=2, name="Siti", language="sw", numbers=[], at=programme.clock()
        )
        farmers.add_plot(
            c, farmer_id=other, ward_id=2, number="7", stations=100, stations_per_ha=22_222
        )
    by_hand.let_in(programme.services, import_id, VOUCHED, whole=True, who="tembi")
    steps.go_on(programme.services, import_id)
    assert job(programme, import_id).state is ListState.READY
    assert fates(programme, import_id)[Fate.FAULT] == 1
    assert [row["name"] for row in programme.rows("farmers")] == ["Siti"]


def test_numbers_that_the_list_gives_are_not_given_out(programme):
    brought(programme, HEAD + "Olmara,Nalo,,,500,\nOlmara,Juma,,2,500,\nOlmara,Rova,,,500,\n")
    assert sorted(row["number"] for row in programme.rows("plots")) == ["2", "3", "4"]


def test_the_tick_goes_on_with_what_waits(programme):
    services = programme.services
    import_id = by_hand.take_file(services, TWO.encode(), "list.csv", None)
    columns = tuple(field and Field(field) for field in job(programme, import_id).columns)
    by_hand.choose_columns(services, import_id, columns, ward_id=None, language="en")
    ticks.tick(services, "imports")
    assert job(programme, import_id).state is ListState.READY
    assert programme.rows("ticks", name="imports")[0]["error"] is None


@pytest.mark.parametrize("ends", ["in", "stopped"])
def test_no_cell_of_a_list_outlives_it(programme, ends):
    import_id = judged(programme, TWO)
    if ends == "in":
        by_hand.let_in(programme.services, import_id, VOUCHED, whole=True, who="tembi")
        steps.go_on(programme.services, import_id)
    else:
        by_hand.stop(programme.services, import_id, "tembi")
    kept = [*programme.rows("imports"), *programme.rows("import_rows")]
    assert "Nalo" not in str(kept + programme.rows("import_phones"))
    assert "447700900001" not in str(kept + programme.rows("import_phones"))


def test_a_list_that_nobody_goes_on_with_is_forgotten(programme):
    import_id = judged(programme, TWO)
    programme.clock.now += steps.IDLE_LIFE + timedelta(minutes=1)
    ticks.tick(programme.services, "imports")
    assert job(programme, import_id).state is ListState.STOPPED
    assert programme.rows("import_rows") == []


def test_faulty_rows_are_kept_for_a_while_and_no_longer(programme):
    brought(programme, TWO + "Olmara,,,,,\n", whole=False)
    assert len(programme.rows("import_rows")) == 1
    programme.clock.now += steps.ENDED_LIFE + timedelta(minutes=1)
    ticks.tick(programme.services, "imports")
    assert programme.rows("import_rows") == []


def test_what_is_taken_out_as_plots_can_be_brought_in_and_changes_nothing(programme):
    brought(programme, many(8) + "Olmara,Siti Walo,,Z9,400,pt\n")
    pieces = going_out.table_file(programme.services, "plots", "csv", None, "tembi", str)
    before = register(programme)
    assert brought(programme, b"".join(pieces).decode("utf-8-sig")) == {"same": 9}
    assert register(programme) == before


@pytest.mark.parametrize("table", sorted(going_out.TABLES))
def test_every_table_can_be_taken_out_inside_its_wards(programme, table, monkeypatch):
    brought(programme, many(8))
    programme.text("plot 1 first rain 1 Nov", "+447700900000")
    programme.text("plot 1 first rain 1 Nov", "+447700900001")
    monkeypatch.setattr(going_out, "LINES_AT_ONCE", 2)
    all_rows = list(going_out.table_rows(programme.services, table, None, str))
    heads = going_out.TABLES[table].headings
    assert all_rows and all(len(row) == len(heads) for row in all_rows)
    assert len(all_rows) == len(set(all_rows))
    ward = heads.index("Ward")
    olmara = list(going_out.table_rows(programme.services, table, {1}, str))
    assert olmara == [row for row in all_rows if row[ward] == "Olmara"]
    assert 0 < len(olmara) < len(all_rows)


def test_that_a_table_was_taken_out_is_on_the_audit_log(programme):
    list(going_out.table_file(programme.services, "farmers", "xlsx", {1}, "tembi", str))
    (entry,) = programme.rows("audit", what="take out")
    assert (entry["who"], entry["subject"]) == ("tembi", "table farmers")
