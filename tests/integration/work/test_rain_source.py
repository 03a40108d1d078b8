"""Daily rain pulled from a server on loopback: forms, trouble, going on where it stopped."""

import json
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import pytest
from http_carrier import HttpCarrier, Received, Reply
from season_cast import Programme, a_programme, local

from reminder_service.records import farmers, rain
from reminder_service.records.engine import reading, writing
from reminder_service.settings import Settings
from reminder_service.work.rain_profile import BadRainSource, RainProfile, load_rain_profile
from reminder_service.work.rain_source import pull_rain
from reminder_service.work.services import make_services
from reminder_service.work.ticks import WORK, tick

FIRST = date(2026, 11, 1)
YESTERDAY = date(2026, 11, 24)


class RainServer(HttpCarrier):
    """Answers the days that are asked for; ``script`` goes before."""

    def __init__(self, *script: Reply, amounts: dict[str, object] | None = None) -> None:
        super().__init__(*script)
        self.amounts = amounts or {}

    def answer(self, request: Received) -> Reply:
        self.received.append(request)
        return self.script.pop(0) if self.script else self.days(request)

    def days(self, request: Received) -> Reply:
        first, last = map(date.fromisoformat, self.span(request))
        days = [first + timedelta(days=n) for n in range((last - first).days + 1)]
        rows = [{"d": str(day), "r": self.amounts.get(str(day), 1.5)} for day in days]
        return Reply(body=json.dumps({"data": {"rows": rows}}).encode())

    @staticmethod
    def span(request: Received) -> tuple[str, str]:
        query = parse_qs(urlsplit(request.target).query)
        return query["start"][0], query["end"][0]

    @property
    def spans(self) -> list[tuple[str, str]]:
        return [self.span(request) for request in self.received]


def profile_of(server: HttpCarrier, **tables: object) -> RainProfile:
    data = {
        "name": "invented series",
        "address": server.address,
        "query": {"start": "{from}", "end": "{to}", "lat": "{lat}"},
        "wards": [{"name": "olmara", "values": {"lat": -15.5}}],
        "answer": {"format": "json", "rows": "data.rows", "day": "d", "amount": "r"},
        "first_day": FIRST,
        "days_at_once": 10,
        "retries": {"tries": 3, "first_wait_s": 1.0, "longest_wait_s": 30.0},
        "limits": {"connect_s": 2.0, "read_s": 1.0, "total_s": 2.0, "answer_bytes": 65_536},
        "allow_private_addresses": True,
        "allow_unencrypted": True,
    }
    return RainProfile.model_validate({**data, **tables})


@pytest.fixture
def programme(engine) -> Programme:
    made = a_programme(engine, local("2026-11-25", "10:00"))
    with writing(engine) as c:
        farmers.add_ward(c, "Olmara", "Africa/Lusaka")
    return made


class Pull:
    """Pulls by one profile and notes the waits."""

    def __init__(self, programme: Programme, profile: RainProfile) -> None:
        self.services = replace(programme.services, rain_source=profile)
        self.waits: list[float] = []

    def __call__(self):
        (pulled,) = pull_rain(self.services, self.waits.append)
        return pulled

    @property
    def kept(self) -> dict[date, float]:
        with reading(self.services.engine) as c:
            (ward,) = farmers.wards(c)
            seen = rain.observations(c, ward.id, date(2026, 1, 1), date(2027, 12, 31))
        return {each.on: each.mm for each in seen}


def test_all_days_up_to_yesterday_come_in_pieces(programme):
    with RainServer(amounts={"2026-11-12": 24.5}) as server:
        pull = Pull(programme, profile_of(server))
        assert pull().kept == 24
        assert server.spans == [
            ("2026-11-01", "2026-11-10"),
            ("2026-11-11", "2026-11-20"),
            ("2026-11-21", "2026-11-24"),
        ]
        assert "lat=-15.5" in server.received[0].target
    assert (min(pull.kept), max(pull.kept)) == (FIRST, YESTERDAY)
    assert pull.kept[date(2026, 11, 12)] == 24.5


def test_a_second_round_on_the_same_day_asks_for_nothing(programme):
    with RainServer() as server:
        pull = Pull(programme, profile_of(server))
        pull()
        asked = len(server.received)
        assert pull().kept == 0 and len(server.received) == asked


def test_the_next_day_mends_a_week_and_adds_one(programme):
    with RainServer() as server:
        pull = Pull(programme, profile_of(server))
        pull()
        programme.clock.now = local("2026-11-26", "10:00")
        server.amounts["2026-11-20"] = 33.0
        assert pull().kept == 2, "the mended day and the new one"
        assert server.spans[-1] == ("2026-11-18", "2026-11-25")
    assert pull.kept[date(2026, 11, 20)] == 33.0


def test_a_cut_connection_is_tried_again(programme):
    def cut(_wait):
        yield b'HTTP/1.1 200 OK\r\nContent-Length: 500\r\n\r\n{"data": '

    with RainServer(Reply(raw=cut)) as server:
        pull = Pull(programme, profile_of(server))
        assert pull().kept == 24
    assert pull.waits == [1.0]


def test_half_an_answer_without_a_length_is_tried_again(programme):
    def cut(_wait):
        yield b'HTTP/1.1 200 OK\r\nConnection: close\r\n\r\n{"data": {"rows": [{"d": "2026-11'

    with RainServer(Reply(raw=cut)) as server:
        pull = Pull(programme, profile_of(server))
        assert pull().kept == 24 and pull.waits == [1.0]


def test_it_waits_as_long_as_it_is_told_to(programme):
    busy = Reply(429, headers={"Retry-After": "7"})
    with RainServer(busy, Reply(503)) as server:
        pull = Pull(programme, profile_of(server))
        assert pull().kept == 24
    assert pull.waits == [7.0, 2.0]


def test_a_long_wait_ends_the_round_and_what_came_stays(programme):
    with RainServer() as server:
        pull = Pull(programme, profile_of(server, days_at_once=10))
        server.script = [
            server.days(_ask("2026-11-01", "2026-11-10")),
            Reply(429, headers={"Retry-After": "3600"}),
        ]
        pulled = pull()
        assert pulled.kept == 10 and "3600 s" in pulled.stopped and pull.waits == []
        assert pull().kept == 14
        assert server.spans[2][0] == "2026-11-04", "it goes on a little before the last day kept"
    assert len(pull.kept) == 24


def _ask(first: str, last: str) -> Received:
    return Received("GET", f"/?start={first}&end={last}", {}, b"")


def test_it_gives_up_after_so_many_tries(programme):
    with RainServer(*[Reply(500)] * 3) as server:
        pull = Pull(programme, profile_of(server))
        assert pull().stopped == "status 500, after 3 tries"
        assert len(server.received) == 3 and pull.kept == {}


def test_a_refusal_is_not_tried_again(programme):
    with RainServer(Reply(401)) as server:
        pull = Pull(programme, profile_of(server))
        assert "status 401" in pull().stopped and len(server.received) == 1


def test_a_redirect_is_not_followed(programme):
    with RainServer(Reply(302, headers={"Location": "/elsewhere"})) as server:
        pull = Pull(programme, profile_of(server))
        assert "status 302" in pull().stopped and len(server.received) == 1


def test_wrong_rows_are_named_and_the_others_kept(programme):
    rows = [
        {"d": "2026-11-01", "r": 3},
        {"d": "2026-11-02", "r": "wet"},
        {"d": "2026-11-03", "r": None},
        {"d": "2026-11-04", "r": -9999},
        {"d": "2031-01-01", "r": 1},
        {"d": "soon", "r": 1},
        {"r": 1},
        {"d": "2026-11-05", "r": 1},
        {"d": "2026-11-05", "r": 2},
    ]
    body = json.dumps({"data": {"rows": rows}}).encode()
    answer = {"format": "json", "rows": "data.rows", "day": "d", "amount": "r"}
    with RainServer(Reply(body=body)) as server:
        profile = profile_of(server, days_at_once=400, answer=answer | {"unknown": ["-9999"]})
        pull = Pull(programme, profile)
        pulled = pull()
    assert pull.kept == {date(2026, 11, 1): 3.0, date(2026, 11, 5): 1.0}
    assert [fault.partition(":")[0] for fault in pulled.faults] == [
        "row 2",
        "row 5",
        "row 6",
        "row 7",
        "row 9",
    ]


@pytest.mark.parametrize(
    "answer, body",
    [
        pytest.param(
            {"format": "json", "day": "t.day", "amount": "t.mm"},
            b'{"t": {"day": ["2026-11-01", "2026-11-02"], "mm": [1.0, 2.54]}}',
            id="two lists",
        ),
        pytest.param(
            {"format": "csv", "day": "date", "amount": "prcp", "unit": "inch"},
            b"station,prcp,date\nA,0.03937007874,2026-11-01\nA,0.1,2026-11-02\n",
            id="csv in inches",
        ),
        pytest.param(
            {"format": "csv", "day": "d", "amount": "r", "unit": "tenth-mm", "day_form": "%Y%m%d"},
            b"d,r\n20261101,10\n20261102,25.4\n",
            id="tenths of a millimetre, days in a row of digits",
        ),
    ],
)
def test_other_forms_and_units(programme, answer, body):
    with RainServer(Reply(body=body)) as server:
        pull = Pull(programme, profile_of(server, days_at_once=400, answer=answer))
        assert pull().faults == ()
    assert pull.kept == {date(2026, 11, 1): 1.0, date(2026, 11, 2): 2.54}


def test_a_csv_cut_in_a_number_is_not_believed(programme):
    answer = {"format": "csv", "day": "date", "amount": "mm"}
    whole = Reply(body=b"date,mm\n2026-11-01,12.5\n")
    with RainServer(Reply(body=b"date,mm\n2026-11-01,1"), whole) as server:
        pull = Pull(programme, profile_of(server, days_at_once=400, answer=answer))
        assert pull().kept == 1 and pull.kept == {FIRST: 12.5}


def test_an_address_of_a_private_network_is_not_reached_unless_allowed(programme):
    with RainServer() as server:
        pull = Pull(programme, profile_of(server, allow_private_addresses=False))
        assert "not public" in pull().stopped
        assert server.received == []


def test_a_ward_that_nobody_knows_is_told(programme):
    with RainServer() as server:
        pull = Pull(
            programme, profile_of(server, wards=[{"name": "Nowhere", "values": {"lat": 1}}])
        )
        assert "no ward has that name" in pull().stopped and server.received == []


def test_the_key_travels_in_its_header_and_in_no_message(programme, tmp_path, caplog):
    (tmp_path / "key").write_text("hush-hush-key\n")
    with RainServer(Reply(403, body=b"hush-hush-key is wrong")) as server:
        path = tmp_path / "source.toml"
        path.write_text(PROFILE.format(address=server.address))
        pull = Pull(programme, load_rain_profile(str(path)))
        pulled = pull()
        assert server.received[0].headers["X-Key"] == "hush-hush-key"
    assert "hush" not in pulled.stopped and "hush" not in caplog.text


PROFILE = """
name = "invented"
address = "{address}"
allow_private_addresses = true
allow_unencrypted = true
query = {{ start = "{{from}}", end = "{{to}}" }}
credentials = [{{ in = "header", name = "X-Key", secret_file = "key" }}]
wards = [{{ name = "Olmara" }}]
[answer]
format = "csv"
day = "date"
amount = "mm"
"""


@pytest.mark.parametrize(
    "change, fault",
    [
        ('query = {{ start = "{{from}}" }}', "expected {from} and {to}"),
        ('query = {{ start = "{{from}}", end = "{{to}}", x = "{{lat}}" }}', "no placeholder"),
    ],
    ids=["one day alone", "a place without its value"],
)
def test_a_profile_with_faults_stops_the_start(tmp_path, change, fault):
    (tmp_path / "key").write_text("k\n")
    lines = [change if line.startswith("query") else line for line in PROFILE.splitlines()]
    path = tmp_path / "source.toml"
    path.write_text("\n".join(lines).format(address="http://127.0.0.1/"))
    settings = Settings(database_url=f"sqlite:///{tmp_path / 'x.sqlite3'}", rain_source=str(path))
    with pytest.raises(BadRainSource, match=fault):
        make_services(settings, gateways={})


@pytest.mark.parametrize(
    "text", ["name = ", 'name = "x"\ncolour = "red"'], ids=["no TOML", "strange key"]
)
def test_a_file_that_is_no_profile_is_refused(tmp_path, text):
    path = tmp_path / "source.toml"
    path.write_text(text)
    with pytest.raises(BadRainSource):
        load_rain_profile(str(path))


def test_the_example_profile_is_one():
    path = Path(__file__).parents[3] / "deploy" / "profiles" / "example-rain-source.toml"
    assert load_rain_profile(str(path)).wards[0].name == "Olmara"


def test_an_unencrypted_address_must_be_allowed():
    with HttpCarrier() as server, pytest.raises(ValueError, match="allow_unencrypted"):
        profile_of(server, allow_unencrypted=False)


def test_the_tick_pulls(programme):
    with RainServer() as server:
        services = replace(programme.services, rain_source=profile_of(server))
        tick(services, "rain")
        assert len(server.received) == 3
    assert {"rain", "replans"} <= WORK.keys()
    assert programme.rows("ticks", name="rain")[0]["error"] is None


def test_without_a_source_nothing_is_asked(programme):
    assert pull_rain(programme.services) == []


class WeatherServer(RainServer):
    """Tells temperatures beside rain; those of one day are unknown."""

    def days(self, request: Received) -> Reply:
        told = json.loads(super().days(request).body)
        for row in told["data"]["rows"]:
            unknown = row["d"] == "2026-11-12"
            row |= {"low": -99 if unknown else 59.0, "high": 86.0}
        return Reply(body=json.dumps(told).encode())


def test_temperatures_come_with_the_rain_where_the_source_tells_them(programme):
    answer = {"format": "json", "rows": "data.rows", "day": "d", "amount": "r", "tmin": "low"}
    answer |= {"tmax": "high", "temperature_unit": "fahrenheit", "unknown": ("-99",)}
    with WeatherServer() as server:
        pull = Pull(programme, profile_of(server, answer=answer))
        assert pull().faults == ()
        assert pull().kept == 0
    kept = {row["day"]: row for row in programme.rows("temperatures")}
    assert len(kept) == 23 and date(2026, 11, 12) not in kept
    assert (kept[FIRST]["tmin_c"], kept[FIRST]["tmax_c"]) == (15.0, 30.0)
    assert len(pull.kept) == 24


def test_an_upside_down_day_of_temperatures_is_told_and_its_rain_kept(programme):
    answer = {"format": "json", "rows": "data.rows", "day": "d", "amount": "r"}
    answer |= {"tmin": "high", "tmax": "low"}
    with WeatherServer() as server:
        pull = Pull(programme, profile_of(server, answer=answer))
        assert any("temperatures of row 1" in fault for fault in pull().faults)
    assert programme.rows("temperatures") == [] and len(pull.kept) == 24


def test_one_temperature_alone_is_no_profile(programme):
    answer = {"format": "json", "rows": "data.rows", "day": "d", "amount": "r", "tmin": "low"}
    with RainServer() as server, pytest.raises(ValueError, match="both or neither"):
        profile_of(server, answer=answer)
