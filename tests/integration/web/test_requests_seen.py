"""Each request has an id and one line in the log; ``/ready`` says whether we can answer any."""

import io
import json
import logging

import pytest
from sqlalchemy import text

from reminder_service.log_lines import Lines
from reminder_service.records.engine import make_engine, writing
from reminder_service.rules.shipped import shipped_rulebook
from reminder_service.settings import Settings
from reminder_service.web.app import create_app
from reminder_service.work.services import Services


@pytest.fixture
def log_lines(app):
    """JSON lines of the app's log."""
    out = io.StringIO()
    handler = logging.StreamHandler(out)
    handler.setFormatter(Lines("json"))
    app.logger.addHandler(handler)
    app.logger.setLevel(logging.INFO)
    yield lambda: [json.loads(line) for line in out.getvalue().splitlines()]
    app.logger.removeHandler(handler)


def app_on(url):
    settings = Settings(secret_key="s" * 40, database_url="sqlite:///unused.sqlite3")
    engine = make_engine(url)
    services = Services(engine, settings, shipped_rulebook(), lambda: None, {})
    return create_app(services), engine


class TestReady:
    def test_a_migrated_database_is_ready_and_asks_no_login(self, app):
        answer = app.test_client().get("/ready")

        assert (answer.status_code, answer.json) == (200, {"ready": True, "why": None})

    def test_tables_of_another_release_are_not(self, app, cast):
        with writing(cast) as c:
            c.execute(text("UPDATE alembic_version SET version_num = '0001'"))
        answer = app.test_client().get("/ready")

        assert answer.status_code == 503
        assert answer.json["why"] == "the tables are not those of this release"

    def test_a_database_that_is_away_is_not_and_its_address_stays_hidden(self, tmp_path):
        away = f"postgresql+psycopg://someone:s3cret@/none?host={tmp_path}"
        app, engine = app_on(away)
        answer = app.test_client().get("/ready")
        engine.dispose()

        assert answer.status_code == 503
        assert answer.json == {"ready": False, "why": "the database does not answer"}
        assert "s3cret" not in answer.text and str(tmp_path) not in answer.text


class TestRequestIds:
    def test_an_id_that_came_is_kept(self, app):
        answer = app.test_client().get("/login", headers={"X-Request-ID": "from-the-proxy-1"})

        assert answer.headers["X-Request-ID"] == "from-the-proxy-1"

    @pytest.mark.parametrize("given", ["", "short", "x" * 65, "with space", "a;b=cdefgh"])
    def test_one_that_cannot_be_used_is_replaced(self, app, given):
        answer = app.test_client().get("/login", headers={"X-Request-ID": given})

        assert answer.headers["X-Request-ID"] != given
        assert len(answer.headers["X-Request-ID"]) == 32

    def test_the_log_names_the_rule_and_never_the_address(self, app, log_lines):
        client = app.test_client()
        client.get("/login?next=/search-447700900001", headers={"X-Request-ID": "request-1"})

        (line,) = log_lines()
        assert (line["request_id"], line["method"], line["rule"]) == ("request-1", "GET", "/login")
        assert line["status"] == 200 and line["took_ms"] >= 0
        assert "900001" not in json.dumps(line)

    def test_what_asks_every_few_seconds_leaves_no_line(self, app, log_lines):
        client = app.test_client()
        for path in ("/health", "/ready"):
            client.get(path)

        assert log_lines() == []
