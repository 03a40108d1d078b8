"""What other programs may ask and do with a key, and where its walls stand."""

import re
from datetime import timedelta

import pytest
from interface_cast import Program, a_key, faults_in
from page_cast import NOW, OLMARA, SETIWE, a_notice, statements
from sqlalchemy import select

from reminder_service.records import tables as t
from reminder_service.records.open_tables import answered_calls, program_keys
from reminder_service.records.rain_tables import rain_observations
from reminder_service.web.interface.document import PREFIX
from reminder_service.web.interface.operations import OPERATIONS
from reminder_service.web.plot_pages import REPORTABLE
from reminder_service.work.program_keys import KeyScope, forget_answers

PLANTED = {"kind": "planted", "on": "2026-11-14"}

one_engine = pytest.mark.parametrize("engine_name", ["sqlite"], indirect=True)


@pytest.fixture
def program(app) -> Program:
    return Program(app.test_client(), a_key(app))


@pytest.fixture
def olmara(app) -> Program:
    """A program that sees Olmara alone."""
    return Program(app.test_client(), a_key(app, ward_ids=[OLMARA]))


def addresses(method: str, **ids: int) -> list[tuple[str, str]]:
    known = {"ward_id": 1, "plot_id": 1, "notice_id": 1} | ids
    found = [op for op in OPERATIONS if op.method == method]
    return [(op.name, op.path.format(**known)) for op in found]


BODIES = {
    "report": PLANTED,
    "keep_rain": {"readings": [{"on": "2026-12-01", "mm": 12.5}]},
    "hold": {},
    "release": {},
    "again": {},
}


class TestKeys:
    @one_engine
    def test_without_a_key_nothing_is_answered(self, app):
        for operation in OPERATIONS:
            path = PREFIX + operation.path.format(ward_id=1, plot_id=1, notice_id=1)
            answer = app.test_client().open(path, method=operation.method)
            assert answer.status_code == 401, operation.name
            assert answer.headers["WWW-Authenticate"] == "Bearer"

    @one_engine
    @pytest.mark.parametrize("wrong", ["", "Bearer", "Bearer x", "Basic eDp4", "Bearer \u00e9"])
    def test_a_wrong_key_opens_nothing(self, app, wrong):
        headers = {"Authorization": wrong.encode("latin-1").decode("latin-1")}
        assert app.test_client().get(f"{PREFIX}/wards", headers=headers).status_code == 401

    def test_a_key_is_kept_as_a_hash_and_its_use_is_noted(self, program, cast):
        assert program.get("/wards").status_code == 200
        with cast.connect() as c:
            row = c.execute(select(program_keys)).one()
        assert program.key not in str(row) and row.used_at == NOW

    @one_engine
    def test_an_ended_or_expired_key_opens_nothing(self, app, program, clock, lead):
        lead.send("/programs", "/programs/keys/end", id="1")
        assert program.get("/wards").status_code == 401
        late = Program(app.test_client(), a_key(app, days=1))
        clock.now = NOW + timedelta(days=1)
        assert late.get("/wards").status_code == 401

    @one_engine
    def test_a_key_ends_with_the_rights_of_whoever_made_it(self, program, cast):
        with cast.begin() as c:
            c.execute(t.people.update().where(t.people.c.id == 1).values(role="coordinator"))
        assert program.get("/wards").status_code == 401

    @one_engine
    def test_each_call_needs_its_scope(self, app):
        for operation in OPERATIONS:
            others = [scope for scope in KeyScope if scope != operation.scope]
            program = Program(app.test_client(), a_key(app, others))
            path = operation.path.format(ward_id=1, plot_id=1, notice_id=1)
            call = program.get(path) if operation.body is None else program.post(path, {})
            assert call.status_code == 403, operation.name

    @one_engine
    def test_a_key_that_calls_too_often_is_told_to_wait(self, app, program):
        pace = app.extensions["interface pace"]
        while not pace.wait_s(1):
            continue
        answer = program.get("/wards")
        assert answer.status_code == 429 and int(answer.headers["Retry-After"]) >= 1


class TestReading:
    def test_each_list_shows_what_there_is(self, program):
        assert [ward["name"] for ward in program.every("/wards", 1)] == ["Olmara", "Setiwe"]
        assert [each["id"] for each in program.every("/farmers", 2)] == [1, 2, 3]
        assert [each["number"] for each in program.every("/plots", 2)] == ["P001", "P002", "P003"]
        assert [each["plot_id"] for each in program.every("/seasons?plot=2", 1)] == [2]
        tasks = program.every("/tasks", 2)
        assert [each["season_id"] for each in tasks] == [1, 2, 3]
        assert tasks[0]["because"].startswith("14 days after")
        assert [each["kind"] for each in program.every("/reports", 1)] == [
            "first-rain",
            "germinated",
        ]
        assert {each["id"] for each in program.every("/notices", 2)} == {1, 2, 3, 11, 13}
        assert program.get("/routes").get_json()["items"][0]["name"] == "scripted"
        assert program.get("/wards/1/inputs").get_json()["ward_id"] == 1

    def test_notices_come_through_a_sieve(self, program):
        refused = program.every("/notices?state=refused", 50)
        assert [each["reason"] for each in refused] == ["not a mobile number"]
        assert program.every("/notices?state=planned&ward=2", 50)[0]["id"] == 3
        assert program.every("/notices?day=1900-01-01", 50) == []

    @one_engine
    def test_a_page_that_did_not_change_is_not_sent_again(self, program):
        first = program.get("/plots")
        again = program.get("/plots", **{"If-None-Match": first.headers["ETag"]})
        assert (again.status_code, again.data) == (304, b"")

    @one_engine
    def test_phone_numbers_are_masked_without_the_scope(self, app, program):
        bare = Program(
            app.test_client(), a_key(app, [KeyScope.FARMERS_READ, KeyScope.NOTICES_READ])
        )
        for path in ("/farmers", "/notices", "/notices/1"):
            assert "+447700900001" in program.get(path).text
            assert "7700900" not in bare.get(path).text


@one_engine
class TestWalls:
    def test_nothing_of_another_ward_is_shown(self, olmara):
        for name, path in addresses("GET", ward_id=SETIWE, notice_id=3):
            answer = olmara.get(path)
            assert "Setiwe" not in answer.text and "Farmer 003" not in answer.text, name
            assert '"ward_id":2' not in answer.text.replace(" ", ""), name
            if path.count("/") > 1:
                assert answer.status_code == 404, name

    def test_nothing_of_another_ward_is_changed(self, olmara, cast):
        for name, path in addresses("POST", ward_id=SETIWE, plot_id=3, notice_id=3):
            assert olmara.post(path, BODIES[name]).status_code == 404, name
        with cast.connect() as c:
            assert c.execute(select(t.notices.c.state).where(t.notices.c.id == 3)).scalar() == (
                "planned"
            )

    def test_asking_for_another_ward_opens_no_wall(self, olmara):
        for path in ("/farmers", "/plots", "/tasks", "/notices", "/reports", "/rain-observations"):
            assert olmara.every(f"{path}?ward={SETIWE}", 50) == []


class TestWriting:
    def test_a_report_is_taken_as_on_the_page_and_stands_on_the_audit_log(self, program, cast):
        answer = program.post("/plots/1/reports", PLANTED)
        assert answer.status_code == 201
        kept = next(each for each in program.every("/reports", 50) if each["kind"] == "planted")
        assert kept["id"] == answer.get_json()["id"] and not kept["by_text"]
        with cast.connect() as c:
            line = c.execute(select(t.audit).where(t.audit.c.subject == "season 1")).one()
        assert re.fullmatch(r"key \d+ \(stock office\)", line.who)
        assert line.after["kind"] == "planted"

    @one_engine
    def test_a_report_that_cannot_be_true_is_refused_with_its_reason(self, program):
        answer = program.post("/plots/1/reports", {"kind": "germinated", "on": "2026-11-01"})
        assert answer.status_code == 409
        assert "12 Nov" in answer.get_json()["detail"]
        assert faults_in(answer) == {("body.on", "2026-11-01")}

    def test_a_notice_is_held_released_and_sent_again(self, program):
        assert program.post("/notices/1/hold", {}).get_json() == {"id": 1, "state": "held"}
        assert program.post("/notices/1/release", {}).get_json()["state"] == "planned"
        again = program.post("/notices/11/again", {})
        assert again.status_code == 201 and again.get_json()["state"] == "planned"

    @one_engine
    @pytest.mark.parametrize("path", ["/notices/11/hold", "/notices/1/release", "/notices/1/again"])
    def test_what_cannot_be_done_now_says_so(self, program, path):
        answer = program.post(path, {})
        assert answer.status_code == 409 and "notice is" in answer.get_json()["detail"]

    def test_rain_is_kept_all_or_nothing(self, program, cast):
        good = {"on": "2026-12-01", "mm": 12.5, "plot": "p001"}
        bad = {"on": "2027-01-01", "mm": 1, "plot": "P003"}
        refused = program.post("/wards/1/rain-observations", {"readings": [good, bad]})
        assert refused.status_code == 409
        assert faults_in(refused) == {
            ("body.readings.1.on", "2027-01-01"),
            ("body.readings.1.plot", "P003"),
        }
        assert program.every("/rain-observations", 50) == []
        kept = program.post("/wards/1/rain-observations", {"readings": [good]})
        assert kept.get_json() == {"kept": 1}
        seen = program.every("/rain-observations?since=2026-12-01", 50)
        assert [(each["plot_id"], each["mm"]) for each in seen] == [(1, 12.5)]


class TestOnce:
    def test_the_same_write_again_is_answered_the_same_and_done_once(self, program, cast):
        body = {"readings": [{"on": "2026-12-01", "mm": 3}]}
        first = program.post("/wards/1/rain-observations", body, word="a")
        again = program.post("/wards/1/rain-observations", body, word="a")
        assert (first.status_code, first.data) == (again.status_code, again.data)
        assert again.headers["Idempotency-Replayed"] == "true"
        with cast.connect() as c:
            assert len(c.execute(select(rain_observations)).all()) == 1

    @one_engine
    def test_another_write_under_the_same_word_is_refused(self, program):
        program.post("/notices/1/hold", {}, word="a")
        assert program.post("/notices/2/hold", {}, word="a").status_code == 422

    @one_engine
    def test_a_write_under_way_is_not_begun_twice(self, program, cast, clock):
        program.post("/notices/1/hold", {}, word="a")
        with cast.begin() as c:
            c.execute(answered_calls.update().values(status=None, answer=None))
        under_way = program.post("/notices/1/hold", {}, word="a")
        clock.now += timedelta(minutes=5)
        cut_off = program.post("/notices/1/hold", {}, word="a")
        assert (under_way.status_code, cut_off.status_code) == (409, 409)
        assert "under way" in under_way.text and "cut off" in cut_off.text

    @one_engine
    def test_the_word_of_another_key_is_another(self, app, program):
        other = Program(app.test_client(), a_key(app))
        assert program.post("/notices/1/hold", {}, word="a").status_code == 200
        assert other.post("/notices/2/hold", {}, word="a").status_code == 200

    @one_engine
    def test_a_day_later_the_word_is_free(self, app, program, clock):
        program.post("/notices/1/hold", {}, word="a")
        clock.now += timedelta(days=1, minutes=1)
        assert forget_answers(app.extensions["reminder_service"]) == 1
        assert program.post("/notices/2/hold", {}, word="a").status_code == 200

    @one_engine
    @pytest.mark.parametrize("word", ["two words", "x" * 201, "caf\u00e9"])
    def test_a_word_that_is_none_is_refused(self, program, word):
        answer = program.post("/notices/1/hold", {}, word=word)
        assert answer.status_code == 400
        assert answer.get_json()["errors"][0]["field"] == "header.Idempotency-Key"

    @one_engine
    def test_what_failed_on_our_side_can_be_tried_again(self, app, program, monkeypatch, cast):
        def broken(*given, **named):
            raise RuntimeError("broken")

        with monkeypatch.context() as patch:
            patch.setattr("reminder_service.work.by_hand.hold", broken)
            failed = program.post("/notices/1/hold", {}, word="a")
        assert failed.status_code == 500
        assert failed.content_type == "application/problem+json"
        assert "broken" not in failed.text
        assert program.post("/notices/1/hold", {}, word="a").status_code == 200


@one_engine
class TestProblems:
    @pytest.mark.parametrize(
        ("query", "field", "value"),
        [
            ("limit=0", "query.limit", "0"),
            ("limit=many", "query.limit", "many"),
            ("ward=-1", "query.ward", "-1"),
            ("colour=red", "query.colour", "red"),
        ],
        ids=["too small", "no number", "negative", "unknown"],
    )
    def test_a_wrong_query_names_field_and_value(self, program, query, field, value):
        answer = program.get(f"/farmers?{query}")
        assert answer.status_code == 400 and faults_in(answer) == {(field, value)}
        assert answer.get_json()["errors"][0]["expected"]

    def test_a_cursor_of_another_list_leads_nowhere(self, program):
        cursor = program.get("/farmers?limit=1").get_json()["next"]
        assert program.get(f"/plots?after={cursor}").status_code == 404
        assert program.get("/plots?after=made-up").status_code == 404

    @pytest.mark.parametrize(
        ("body", "fields"),
        [
            ({"kind": "planted"}, {"body.planted.on", "body.on"}),
            ({"kind": "planted", "on": "14/11/2026"}, {"body.planted.on", "body.on"}),
            ({"kind": "eaten", "on": "2026-11-14"}, {"body"}),
            ({"kind": "done", "on": "2026-11-14"}, {"body.done.task"}),
            ({**PLANTED, "ward_id": 2}, {"body.planted.ward_id"}),
            ([], {"body"}),
        ],
        ids=["no day", "another form of day", "no kind", "no task", "unknown field", "no object"],
    )
    def test_a_wrong_body_names_its_field(self, program, body, fields):
        answer = program.post("/plots/1/reports", body)
        assert answer.status_code == 400
        assert {field for field, _ in faults_in(answer)} & fields

    def test_what_is_no_json_is_refused(self, program):
        headers = {"Authorization": f"Bearer {program.key}", "Idempotency-Key": "a"}
        call = {"headers": headers, "path": f"{PREFIX}/notices/1/hold"}
        form = program.client.post(data={"a": "b"}, **call)
        cut = program.client.post(data=b"{", content_type="application/json", **call)
        deep = program.client.post(data=b"[" * 200_000, content_type="application/json", **call)
        long = program.client.post(data=b"1" * 300_000, content_type="application/json", **call)
        codes = [answer.status_code for answer in (form, cut, deep, long)]
        assert codes == [415, 400, 400, 413]

    @pytest.mark.parametrize("path", ["/api/v1/nothing", "/api/", "/api/v1/wards/x/inputs"])
    def test_an_unknown_address_is_a_problem(self, app, path):
        answer = app.test_client().get(path)
        assert answer.status_code == 404
        assert answer.content_type == "application/problem+json"

    def test_a_wrong_method_is_a_problem_that_names_the_right_ones(self, app):
        answer = app.test_client().delete("/api/v1/wards")
        assert answer.status_code == 405 and "GET" in answer.headers["Allow"]
        assert answer.content_type == "application/problem+json"

    def test_every_problem_has_the_members_of_rfc_9457(self, program):
        said = program.get("/notices/999999").get_json()
        assert {"type", "title", "status", "detail"} <= set(said) and said["status"] == 404


@one_engine
class TestDocument:
    def test_it_describes_every_call_there_is(self, app):
        document = app.test_client().get("/api/openapi.json").get_json()
        served = {
            (rule.rule.split(":")[-1], method)
            for rule in app.url_map.iter_rules()
            if rule.endpoint.startswith("interface.") and rule.endpoint != "interface.document"
            for method in rule.methods - {"HEAD"}
        }
        described = [(path, m) for path, each in document["paths"].items() for m in each]
        assert document["openapi"] == "3.1.0"
        assert len(described) == len(served) == len(OPERATIONS)

    def test_every_fact_that_a_page_takes_can_be_reported(self, app):
        schemas = app.test_client().get("/api/openapi.json").get_json()["components"]["schemas"]
        facts = schemas["FactIn"]["properties"]["kind"]["enum"]
        assert {*facts, "done"} == {kind.value for kind in REPORTABLE}


@one_engine
def test_a_long_list_is_read_with_as_many_statements_as_a_short_one(program, cast):
    with cast.begin() as c:
        for id_ in range(100, 160):
            a_notice(c, id_, 1, OLMARA)
    program.get("/wards")  # from now on the key's use is noted
    for path in ("/notices", "/farmers", "/plots", "/tasks", "/reports"):
        with statements(cast) as few:
            program.get(f"{path}?limit=1")
        with statements(cast) as many:
            program.get(f"{path}?limit=60")
        assert len(few) == len(many) <= 12, path
