"""Settings: what is read, what is refused, and what an operator is told."""

import os
from datetime import date, time

import pytest

from reminder_service.errors import BadSettings
from reminder_service.settings import SECRETS, Settings, load_settings, settings_table

KEY = "k" * 32


@pytest.fixture(autouse=True)
def bare_environment(monkeypatch):
    """Take away whatever settings the machine that runs the tests has."""
    for variable in list(os.environ):
        if variable.upper().startswith("REMINDER_"):
            monkeypatch.delenv(variable)


@pytest.fixture
def given(monkeypatch):
    def set_all(**values):
        for name, value in values.items():
            monkeypatch.setenv(f"REMINDER_{name}", value)

    return set_all


def faults(**chosen):
    with pytest.raises(BadSettings) as error:
        load_settings(**chosen)
    return [fault.variable for fault in error.value.faults], str(error.value)


class TestReading:
    def test_every_setting_has_a_default(self):
        assert load_settings() == Settings()

    @pytest.mark.parametrize(
        ("variable", "text", "value"),
        [
            ("PORT", "8001", 8001),
            ("SENDING_OPENS", "06:30", time(6, 30)),
            ("GATEWAY_OPTIONS", '{"record": "sent.jsonl"}', {"record": "sent.jsonl"}),
            ("SECURE_COOKIES", "true", True),
            ("DEFAULT_REGION", "ZM", "ZM"),
            ("DATABASE_URL", "sqlite:////srv/r.sqlite3", "sqlite:////srv/r.sqlite3"),
            ("SEASON_START_MONTH_DAY", "09-15", "09-15"),
        ],
    )
    def test_a_variable_sets_it(self, given, variable, text, value):
        given(**{variable: text})

        assert getattr(load_settings(), variable.lower()) == value

    def test_an_empty_variable_is_as_good_as_none(self, given):
        given(PORT="")

        assert load_settings().port == 8000

    def test_the_command_line_goes_before_the_environment(self, given):
        given(PORT="8001")

        assert load_settings(port=8002).port == 8002

    def test_nothing_can_be_changed_afterwards(self):
        with pytest.raises(ValueError, match="frozen"):
            load_settings().port = 1

    def test_a_rulebook_may_be_a_file(self, given, tmp_path):
        file = tmp_path / "Our rules.toml"
        file.write_text("")
        given(RULEBOOK=str(file))

        assert load_settings().rulebook == str(file)

    def test_plain_postgresql_gets_our_driver(self, given):
        given(DATABASE_URL="postgresql://me:p%40ss@db/reminder", SECRET_KEY=KEY)

        assert load_settings().database_url == "postgresql+psycopg://me:p%40ss@db/reminder"


class TestSecretFiles:
    def test_a_secret_is_read_without_its_line_end(self, given, tmp_path):
        (tmp_path / "key").write_text(KEY + "\n")
        given(SECRET_KEY_FILE=str(tmp_path / "key"))

        assert load_settings().secret_key.get_secret_value() == KEY

    def test_a_file_that_is_not_there_is_named(self, given, tmp_path):
        given(SECRET_KEY_FILE=str(tmp_path / "none"))
        variables, message = faults()

        assert variables == ["REMINDER_SECRET_KEY_FILE"] and "No such file" in message

    def test_value_and_file_together_are_refused(self, given, tmp_path):
        (tmp_path / "key").write_text(KEY)
        given(SECRET_KEY=KEY, SECRET_KEY_FILE=str(tmp_path / "key"))

        assert faults()[0] == ["REMINDER_SECRET_KEY"]

    def test_what_is_no_secret_has_no_file(self, given):
        given(PORT_FILE="/etc/hostname")

        assert faults()[0] == ["REMINDER_PORT_FILE"]


class TestRefusals:
    @pytest.mark.parametrize(
        ("variable", "value", "allowed"),
        [
            ("PORT", "eighty", "a whole number from 1 to 65535"),
            ("PORT", "70000", "a whole number from 1 to 65535"),
            ("HOST", "my host", "an IP address or host name"),
            ("GATEWAY_OPTIONS", "[1]", "a JSON object of texts"),
            ("GATEWAY_OPTIONS", "{not json", "a JSON object of texts"),
            ("GATEWAY_OPTIONS", '{"a": 1}', "a JSON object of texts"),
            ("DATABASE_URL", "mysql://db/reminder", "sqlite:/// and a file, or postgresql"),
            ("DATABASE_URL", "sqlite://", "sqlite:/// and a file"),
            ("DATABASE_URL", "sqlite:///:memory:", "sqlite:/// and a file"),
            ("DATABASE_URL", "postgresql://db", "with a database name"),
            ("DATABASE_URL", "reminder.sqlite3", "sqlite:/// and a file"),
            ("SENDING_OPENS", "8", "a time as HH:MM"),
            ("SENDING_OPENS", "25:00", "a time as HH:MM"),
            ("SENDING_CLOSES", "07:00", "after REMINDER_SENDING_OPENS"),
            ("DEFAULT_REGION", "Zambia", "two capital letters"),
            ("RETRY_CAP_S", "10", "from REMINDER_RETRY_FIRST_S"),
            ("SECRET_KEY", "short", "at least 32 letters"),
            ("METRICS_TOKEN", "short", "at least 32 letters"),
            ("METRICS_TOKEN", "t" * 32 + " t", "without a space"),
            (
                "METRICS_TOKEN",
                "\N{LATIN SMALL LETTER E WITH ACUTE}" * 32,
                "letters, digits and marks",
            ),
            ("SECURE_COOKIES", "maybe", "true or false"),
            ("SEASON_START_MONTH_DAY", "02-29", "exist in every year"),
            ("SEASON_START_MONTH_DAY", "1 October", "MM-DD"),
            ("RULEBOOK", "no/such.toml", "the path of a rulebook file"),
        ],
    )
    def test_a_bad_value_is_named_with_what_is_allowed(self, given, variable, value, allowed):
        given(**{variable: value})
        variables, message = faults()

        assert variables == [f"REMINDER_{variable}"] and allowed in message

    def test_the_value_is_shown(self, given):
        given(PORT="eighty")

        assert faults()[1].startswith('REMINDER_PORT="eighty": allowed is')

    @pytest.mark.parametrize("name", sorted(SECRETS))
    def test_a_secret_value_is_not_shown(self, given, name):
        given(**{name.upper(): "hush"})
        message = faults()[1]

        assert '="***"' in message and "hush" not in message

    def test_all_faults_are_named_at_once(self, given):
        given(PORT="x", HOST="a b", TICK_S="0")

        assert sorted(faults()[0]) == ["REMINDER_HOST", "REMINDER_PORT", "REMINDER_TICK_S"]

    def test_an_unknown_variable_is_refused_and_the_nearest_offered(self, given):
        given(PROT="secret")
        message = faults()[1]

        assert message == ("REMINDER_PROT: there is no such setting; did you mean REMINDER_PORT?")

    def test_postgresql_needs_a_secret_key(self, given):
        given(DATABASE_URL="postgresql://db/reminder")

        assert faults()[0] == ["REMINDER_SECRET_KEY"]

    def test_a_bad_choice_of_the_command_line_is_named_too(self):
        assert faults(port=0)[0] == ["REMINDER_PORT"]


class TestCookies:
    @pytest.mark.parametrize("host", ["127.0.0.1", "::1", "localhost", "127.8.8.8"])
    def test_on_this_machine_alone_they_need_no_https(self, host):
        assert not load_settings(host=host).secure_cookies

    @pytest.mark.parametrize("host", ["0.0.0.0", "192.0.2.7", "reminder.example"])
    def test_beyond_this_machine_they_do(self, host):
        assert load_settings(host=host).secure_cookies

    def test_the_operator_has_the_last_word(self):
        assert load_settings(secure_cookies=True).secure_cookies


@pytest.mark.parametrize(
    ("on", "start"),
    [
        (date(2026, 9, 30), date(2025, 10, 1)),
        (date(2026, 10, 1), date(2026, 10, 1)),
        (date(2027, 3, 1), date(2026, 10, 1)),
    ],
)
def test_a_season_runs_until_the_day_before_the_next(on, start):
    assert Settings().season_start(on) == start


def test_printing_the_settings_shows_no_secret():
    settings = load_settings(
        database_url="postgresql://me:hush@db/reminder",
        gateway_options={"token": "hush"},
        secret_key="hush" * 8,
    )

    assert "hush" not in repr(settings)


class TestTable:
    @pytest.mark.parametrize("name", Settings.model_fields)
    def test_every_setting_has_its_row(self, name):
        assert f"| `REMINDER_{name.upper()}`" in settings_table()

    def test_every_cell_says_something(self):
        rows = settings_table().splitlines()
        cells = [cell.strip() for row in rows for cell in row.strip("|").split("|")]

        assert all(cells) and all(row.count("|") == 5 for row in rows)
