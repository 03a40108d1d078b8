"""Finding gateways that packages offer, ours and others'."""

import sys

import pytest

from gateways.console.gateway import ConsoleGateway
from gateways.contract import message
from gateways.errors import BadGateway, BadOption, UnknownGateway
from gateways.registry import gateway_names, make_gateway

GOOD = """
from gateways.protocol import Abilities, Taken

class Gateway:
    name = "pigeon"
    abilities = Abilities(client_reference=False, receipts=False, inbound=False)

    @classmethod
    def from_options(cls, options):
        made = cls()
        made.loft = options["loft"]
        return made

    def send(self, message):
        return Taken("feather")

    def close(self):
        pass
"""


@pytest.fixture
def offer(tmp_path, monkeypatch):
    """Install a package that offers the gateway ``pigeon``, made of the given source."""

    def install(source, package="pigeonpost", value="pigeonpost:Gateway"):
        folder = tmp_path / package
        folder.mkdir()
        (folder / "pigeonpost.py").write_text(source)
        about = folder / f"{package}-1.0.dist-info"
        about.mkdir()
        (about / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {package}\nVersion: 1.0\n")
        points = f"[reminder_service.gateways]\npigeon = {value}\n"
        (about / "entry_points.txt").write_text(points)
        monkeypatch.syspath_prepend(folder)

    yield install
    sys.modules.pop("pigeonpost", None)


def test_the_console_is_installed():
    assert "console" in gateway_names()


def test_the_console_can_be_made():
    assert isinstance(make_gateway("console", {}), ConsoleGateway)


def test_options_reach_the_gateway(offer):
    offer(GOOD)

    assert make_gateway("pigeon", {"loft": "barn"}).loft == "barn"


def test_a_package_of_others_is_listed_and_sends(offer):
    offer(GOOD)

    assert "pigeon" in gateway_names()
    assert make_gateway("pigeon", {"loft": "barn"}).send(message("r1")).reference == "feather"


def test_listing_imports_nothing(offer):
    offer("raise RuntimeError('imported')")

    assert "pigeon" in gateway_names() and "pigeonpost" not in sys.modules


def test_an_unknown_name_lists_what_there_is():
    with pytest.raises(
        UnknownGateway, match=r'"smoke" is not installed: there are .*\bconsole\b'
    ) as error:
        make_gateway("smoke", {})

    assert error.value.known == tuple(gateway_names())


def test_an_option_that_the_gateway_does_not_know_is_named():
    with pytest.raises(BadOption, match='option colour="red"'):
        make_gateway("console", {"colour": "red"})


@pytest.mark.parametrize(
    ("source", "fault"),
    [
        pytest.param(
            GOOD.replace("def close", "def shut"), "close is missing", id="a method is missing"
        ),
        pytest.param(
            GOOD.replace("name =", "title ="), "name is missing", id="the name is missing"
        ),
        pytest.param(GOOD.replace('"pigeon"', "7"), "name is not a text", id="name of wrong type"),
        pytest.param(
            GOOD.replace("from_options", "build"),
            "pigeonpost:Gateway has no class method from_options",
            id="nothing makes it",
        ),
        pytest.param(
            "import nowhere_at_all", "cannot be imported: No module", id="its import fails"
        ),
        pytest.param("", "cannot be imported: module .* has no attribute", id="no such class"),
    ],
)
def test_a_gateway_that_does_not_fit_is_refused(offer, source, fault):
    offer(source)

    with pytest.raises(BadGateway, match=fault):
        make_gateway("pigeon", {"loft": "barn"})


def test_every_fault_is_named_at_once(offer):
    offer(GOOD.replace("def close", "def shut").replace("abilities =", "skills ="))
    with pytest.raises(BadGateway) as error:
        make_gateway("pigeon", {"loft": "barn"})

    assert [fault.split()[0] for fault in error.value.faults] == ["abilities", "close"]


def test_a_name_offered_by_two_packages_is_refused(offer):
    offer(GOOD)
    offer(GOOD, package="otherpost", value="otherpost:Gateway")

    with pytest.raises(BadGateway, match=r"offered more than once: otherpost.*, pigeonpost"):
        make_gateway("pigeon", {"loft": "barn"})
