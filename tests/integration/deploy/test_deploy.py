"""The two commands of the README, on machines that lack something.

Each test has a copy of `deploy/` in a folder of its own, whose name has a space. Its virtual
environment is made of small scripts that note what is installed, so no package index is asked.
"""

import os
import shutil
import socket
import subprocess
import sys
from pathlib import Path

import pytest

PROJECT = Path(__file__).parents[3]

PYTHON = f"""#!/bin/sh
case "$*" in
    "-m pip "*)
        printf '%s\\n' "$*" >>"$(dirname "$0")/../../asked-pip"
        exit "${{PIP_ANSWERS:-0}}"
        ;;
esac
exec '{sys.executable}' "$@"
"""
SERVICE = '#!/bin/sh\nprintf "served from %s with %s" "$PWD" "$*"\n'
TOO_OLD = """#!/bin/sh
case "$*" in *"3, 11"*) exit 1 ;; *) echo 3.9 ;; esac
"""
BARE = """#!/bin/sh
case "$*" in *ensurepip*) exit 1 ;; *version_info\\ *) exit 0 ;; *) echo 3.11 ;; esac
"""
A_SHIM_WITHOUT_PYTHON = "#!/bin/sh\nexit 127\n"


def program(path, text):
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text)
    path.chmod(0o755)


@pytest.fixture
def clone(tmp_path):
    """A copy of the project's frame, without a virtual environment."""
    folder = tmp_path / "fresh clone"
    shutil.copytree(PROJECT / "deploy", folder / "deploy")
    for name in ("pyproject.toml", "constraints.txt"):
        shutil.copy(PROJECT / name, folder)
    return folder


@pytest.fixture
def prepared(clone):
    """That copy with a virtual environment of small scripts."""
    environment = clone / ".venv"
    program(environment / "bin" / "python", PYTHON)
    program(environment / "bin" / "reminder-service", SERVICE)
    (environment / "pyvenv.cfg").write_text(f"command = python3 -m venv {environment}\n")
    return clone


@pytest.fixture
def port():
    """A port that was free a moment ago."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        return server.getsockname()[1]


def start(clone, *arguments, **variables):
    return subprocess.run(
        [clone / "deploy" / "start", *arguments],
        capture_output=True,
        text=True,
        cwd="/",
        env={"PATH": os.environ["PATH"], **variables},
        timeout=60,
    )


def installs(clone):
    asked = clone / "asked-pip"
    return asked.read_text().splitlines() if asked.exists() else []


class TestFindingPython:
    @pytest.fixture
    def tools(self, tmp_path):
        folder = tmp_path / "tools"
        folder.mkdir()
        for name in ("bash", "cat", "dirname", "env", "grep", "id"):
            (folder / name).symlink_to(shutil.which(name))
        return folder

    @pytest.mark.parametrize(
        ("python", "told"),
        [
            pytest.param(
                TOO_OLD, "Python 3.11 or later is needed, with venv; found: 3.9", id="old"
            ),
            pytest.param(BARE, "install the package python3.11-venv", id="no venv module"),
            pytest.param(A_SHIM_WITHOUT_PYTHON, "found: none", id="a shim that does not run"),
        ],
    )
    def test_a_python_that_will_not_do_is_explained(self, clone, tools, python, told):
        program(tools / "python3", python)
        done = start(clone, PATH=str(tools))

        assert done.returncode == 1 and told in done.stderr
        assert not (clone / ".venv").exists()


class TestStarting:
    def test_it_serves_from_the_project_wherever_it_is_called(self, prepared, port):
        done = start(prepared, "--quick", REMINDER_PORT=str(port))

        assert done.stdout == f"served from {prepared} with demo --quick"

    def test_a_taken_port_is_told_before_anything_is_installed(self, prepared):
        with socket.create_server(("127.0.0.1", 0)) as server:
            taken = server.getsockname()[1]
            done = start(prepared, REMINDER_PORT=str(taken))

        assert done.returncode == 1 and installs(prepared) == []
        assert done.stderr == (
            f"port {taken} is taken: another program listens on 127.0.0.1; "
            f"choose another with REMINDER_PORT={taken + 1} ./deploy/start\n"
        )

    @pytest.mark.parametrize("argument", ["--once", "--load", "--help"])
    def test_a_taken_port_does_not_matter_when_nothing_is_served(self, prepared, argument):
        with socket.create_server(("127.0.0.1", 0)) as server:
            done = start(prepared, argument, REMINDER_PORT=str(server.getsockname()[1]))

        assert done.stdout.endswith(f"with demo {argument}")

    @pytest.mark.parametrize("port", ["0", "abc", "65536", "-1"])
    def test_what_is_no_port_is_told(self, prepared, port):
        done = start(prepared, REMINDER_PORT=port)

        assert done.returncode == 1
        assert done.stderr == f'REMINDER_PORT="{port}": allowed is a whole number from 1 to 65535\n'


class TestInstalling:
    def test_versions_are_pinned(self, prepared):
        start(prepared, "--once")

        assert installs(prepared) == [
            "-m pip --disable-pip-version-check -q install -c constraints.txt -e ."
        ]

    def test_a_second_start_installs_nothing(self, prepared):
        start(prepared, "--once")
        start(prepared, "--once")

        assert len(installs(prepared)) == 1

    @pytest.mark.parametrize("name", ["constraints.txt", "pyproject.toml"])
    def test_other_pins_are_installed(self, prepared, name):
        start(prepared, "--once")
        with (prepared / name).open("a") as file:
            file.write("# another line\n")
        start(prepared, "--once")

        assert len(installs(prepared)) == 2

    def test_a_failed_install_is_tried_again(self, prepared):
        failed = start(prepared, "--once", PIP_ANSWERS="1")
        start(prepared, "--once")

        assert failed.returncode == 1 and "Packages could not be installed" in failed.stderr
        assert len(installs(prepared)) == 2

    def test_what_the_tests_installed_is_enough_to_start(self, prepared):
        prepare = f'source "{prepared}/deploy/prepare" && prepare "[test]"'
        subprocess.run(
            ["bash", "-euo", "pipefail", "-c", prepare],
            check=True,
            env={"PATH": os.environ["PATH"]},
            timeout=60,
        )
        start(prepared, "--once")

        assert len(installs(prepared)) == 1
