"""The scripted gateway that other tests rest on."""

import pytest
from scripted_gateway import ScriptedGateway

from gateways.contract import message
from gateways.errors import Refused, TryLater, Unsure
from gateways.protocol import Taken


@pytest.mark.parametrize("error", [Refused("no"), TryLater("busy", 5.0), Unsure("cut off")])
def test_an_error_in_the_script_is_raised(error):
    with pytest.raises(type(error)) as raised:
        ScriptedGateway([error]).send(message("first"))

    assert raised.value is error


def test_answers_come_in_the_order_of_the_script():
    gateway = ScriptedGateway([Taken("a"), Refused("no"), Taken("b")])
    first = gateway.send(message("1"))
    with pytest.raises(Refused):
        gateway.send(message("2"))

    assert (first, gateway.send(message("3"))) == (Taken("a"), Taken("b"))


def test_a_refused_message_was_still_offered():
    gateway = ScriptedGateway([Refused("no")])
    first = message("first")
    with pytest.raises(Refused):
        gateway.send(first)

    assert gateway.offered == [first]
