"""Units, containers and alert rules: they parse, fit each other and fit the service."""

import configparser
import re
import shutil
import subprocess
from datetime import UTC, datetime
from pathlib import Path

import pytest
import yaml
from season_cast import a_programme

from reminder_service.commands import reminder_service
from reminder_service.records.engine import reading
from reminder_service.settings import SECRETS, Settings
from reminder_service.web.metrics_page import figures
from reminder_service.work.money import Budget
from reminder_service.work.services import Services
from reminder_service.work.ticks import EVERY_S, WORK

DEPLOY = Path(__file__).parents[3] / "deploy"
UNITS = sorted(path for path in (DEPLOY / "systemd").iterdir() if path.suffix != ".example")
PROGRAM = "/opt/reminder/.venv/bin/reminder-service"
NOW = datetime(2026, 12, 5, 12, tzinfo=UTC)


def unit(name: str) -> configparser.ConfigParser:
    parsed = configparser.ConfigParser(strict=False, interpolation=None)
    parsed.optionxform = str
    parsed.read(DEPLOY / "systemd" / name)
    return parsed


def compose() -> dict:
    return yaml.safe_load((DEPLOY / "container" / "compose.yaml").read_text())


def known_settings() -> set[str]:
    names = {f"REMINDER_{name.upper()}" for name in Settings.model_fields}
    return names | {f"REMINDER_{name.upper()}_FILE" for name in SECRETS}


def started(words: str) -> tuple[str, set[str]]:
    """Door and options of a command line."""
    door, *rest = words.split()
    return door, {word for word in rest if word.startswith("--")}


def assert_door(door: str, options: set[str]) -> None:
    known = {opt for param in reminder_service.commands[door].params for opt in param.opts}
    assert options <= known, door


class TestUnits:
    @pytest.mark.skipif(not shutil.which("systemd-analyze"), reason="there is no systemd here")
    def test_systemd_finds_nothing_wrong(self, tmp_path):
        for path in UNITS:  # the program is not installed here: any other stands for it
            (tmp_path / path.name).write_text(path.read_text().replace(PROGRAM, "/bin/true"))
        done = subprocess.run(
            ["systemd-analyze", "verify", *sorted(tmp_path.iterdir())],
            capture_output=True,
            text=True,
            timeout=60,
        )
        assert (done.returncode, done.stderr) == (0, "")

    @pytest.mark.parametrize("path", UNITS, ids=lambda path: path.name)
    def test_each_unit_says_what_it_is_for(self, path):
        assert unit(path.name)["Unit"]["Description"].startswith("Reminder service")

    @pytest.mark.parametrize(
        ("name", "option"), [("reminder-web", "--web-only"), ("reminder-work", "--work-only")]
    )
    def test_each_process_is_started_by_a_door_that_exists(self, name, option):
        program, _, rest = unit(f"{name}.service")["Service"]["ExecStart"].partition(" ")
        assert program == PROGRAM and started(rest) == ("serve", {option})
        assert_door("serve", {option})

    def test_the_backup_is_sealed_by_a_door_that_exists(self):
        line = unit("reminder-backup.service")["Service"]["ExecStart"]
        found = re.search(rf"{PROGRAM} (.*)'", line)
        door, options = started(found[1].replace("$(date -u +%%Y", ""))
        assert door == "backup" and "--encrypt-to-passphrase-file" in options
        assert_door("backup", {"--encrypt-to-passphrase-file"})

    def test_a_process_has_time_to_finish_what_is_in_hand(self):
        assert int(unit("reminder-work.service")["Service"]["TimeoutStopSec"]) >= 60

    def test_the_example_names_settings_that_exist(self):
        text = (DEPLOY / "systemd" / "environment.example").read_text()
        named = set(re.findall(r"^#? ?(REMINDER_[A-Z_]+)=", text, re.MULTILINE))
        assert len(named) >= 6 and named <= known_settings()


class TestContainers:
    def test_pages_and_work_are_processes_of_their_own_in_number(self):
        services = compose()["services"]
        for name in ("web", "work"):
            assert services[name]["deploy"]["replicas"] >= 2
            assert services[name]["depends_on"]["database"]["condition"] == "service_healthy"
            assert_door(*started(" ".join(services[name]["command"])))

    def test_every_setting_named_exists(self):
        environment = compose()["services"]["web"]["environment"]
        assert set(environment) <= known_settings()

    def test_every_secret_and_volume_used_is_declared(self):
        whole = compose()
        used = {name for each in whole["services"].values() for name in each.get("secrets", ())}
        assert used == set(whole["secrets"])
        for service in whole["services"].values():
            for volume in service.get("volumes", ()):
                source = volume.split(":")[0]
                assert source.startswith("./") or source in whole["volumes"]

    def test_no_secret_stands_in_the_files(self):
        text = (DEPLOY / "container" / "compose.yaml").read_text()
        assert not re.search(r"(PASSWORD|SECRET_KEY|TOKEN): ", text)

    def test_images_have_short_names(self):
        text = (DEPLOY / "container" / "Containerfile").read_text()
        images = {each["image"] for each in compose()["services"].values()}
        images |= set(re.findall(r"^FROM (\S+)", text, re.MULTILINE))
        assert all("/" not in image for image in images)

    def test_the_database_takes_the_connections_of_all_processes(self):
        services = compose()["services"]
        most = next(int(word.split("=")[1]) for word in services["database"]["command"]
                    if word.startswith("max_connections="))  # fmt: skip
        processes = services["web"]["deploy"]["replicas"] + services["work"]["deploy"]["replicas"]
        assert most >= processes * 20 + 10

    def test_the_image_holds_what_the_package_is_made_of(self):
        text = (DEPLOY / "container" / "Containerfile").read_text()
        for name in (
            "pyproject.toml",
            "constraints.txt",
            "README.md",
            "reminder_service",
            "gateways",
        ):
            assert re.search(rf"^COPY .*\b{re.escape(name)}\b", text, re.MULTILINE), name
            assert (DEPLOY.parent / name).exists()
        assert re.search(r"^USER reminder$", text, re.MULTILINE)


class TestAlerts:
    @pytest.fixture
    def rules(self):
        whole = yaml.safe_load((DEPLOY / "prometheus" / "alerts.yaml").read_text())
        return [rule for group in whole["groups"] for rule in group["rules"]]

    @pytest.mark.skipif(not shutil.which("promtool"), reason="there is no promtool here")
    def test_promtool_finds_nothing_wrong(self):
        file = DEPLOY / "prometheus" / "alerts.yaml"
        done = subprocess.run(
            ["promtool", "check", "rules", file], capture_output=True, text=True, timeout=60
        )
        assert done.returncode == 0, done.stderr

    def test_each_rule_says_what_is_wrong_and_what_to_do(self, rules):
        assert len({rule["alert"] for rule in rules}) == len(rules) >= 8
        for rule in rules:
            assert set(rule) == {"alert", "expr", "for", "labels", "annotations"}
            assert rule["labels"]["severity"] in {"page", "ticket"}
            assert set(rule["annotations"]) == {"summary", "todo"}
            assert re.fullmatch(r"[0-9]+[mh]", rule["for"])

    @pytest.mark.parametrize("engine_name", ["sqlite"], indirect=True)
    def test_each_rule_rests_on_figures_that_exist(self, rules, engine):
        programme = a_programme(engine, NOW)
        known = programme.services
        budget = Budget(currency="ZMW", per_day=10)
        services = Services(
            known.engine, known.settings, known.rulebook, known.clock, known.gateways, budget=budget
        )
        with reading(engine) as c:
            told = {family.name: family for family in figures(c, services, NOW).collect()}
        named = {name for rule in rules for name in re.findall(r"\breminder_\w+", rule["expr"])}
        assert named and named <= set(told)

    def test_slow_ticks_have_a_rule_of_their_own(self, rules):
        patterns = {rule["alert"]: re.search(r'tick[!=]~"([^"]*)"', rule["expr"]) for rule in rules}
        slow = set(patterns["ReminderSlowTickMissing"][1].split("|"))
        assert {name for name in WORK if EVERY_S.get(name, 0) >= 600} <= slow
        assert patterns["ReminderTickMissing"][1] == patterns["ReminderSlowTickMissing"][1]
