"""Which addresses are of the public internet, and which letters GSM 7-bit holds."""

import doctest
import importlib

import pytest
from smsutil import is_valid_gsm

from gateways.gsm_letters import fits_gsm
from gateways.http.connection import is_public

PARTS = ("answers", "connection", "fields", "template", "times")


@pytest.mark.parametrize(
    "address",
    [
        pytest.param("11.22.33.44", id="IPv4"),
        pytest.param("2a00:1450::1", id="IPv6"),
        pytest.param("64:ff9b::0b16:212c", id="IPv4 behind a translator"),
        pytest.param("2002:b16:212c::1", id="IPv4 in a tunnel"),
    ],
)
def test_a_public_address(address):
    assert is_public(address)


@pytest.mark.parametrize(
    "address",
    [
        pytest.param("127.0.0.1", id="loopback"),
        pytest.param("127.255.255.254", id="the end of loopback"),
        pytest.param("10.0.0.1", id="private 10"),
        pytest.param("172.16.0.1", id="private 172"),
        pytest.param("192.168.1.1", id="private 192"),
        pytest.param("100.64.0.1", id="a carrier's own"),
        pytest.param("169.254.169.254", id="link-local"),
        pytest.param("0.0.0.0", id="any"),
        pytest.param("224.0.0.1", id="multicast"),
        pytest.param("239.1.2.3", id="multicast of a site"),
        pytest.param("240.0.0.1", id="reserved"),
        pytest.param("255.255.255.255", id="broadcast"),
        pytest.param("203.0.113.7", id="for documents"),
        pytest.param("::1", id="IPv6 loopback"),
        pytest.param("::", id="IPv6 any"),
        pytest.param("fe80::1%eth0", id="IPv6 link-local with its link"),
        pytest.param("fd00::1", id="IPv6 private"),
        pytest.param("ff02::1", id="IPv6 multicast"),
        pytest.param("::ffff:127.0.0.1", id="loopback in IPv6"),
        pytest.param("::ffff:11.22.33.44", id="public in IPv6, written as mapped"),
        pytest.param("64:ff9b::7f00:1", id="loopback behind a translator"),
        pytest.param("2002:7f00:1::1", id="loopback in a tunnel"),
    ],
)
def test_an_address_that_is_not(address):
    assert not is_public(address)


def test_letters_of_gsm_are_those_of_another_package():
    letters = [chr(number) for number in range(0x20, 0x3000)]

    assert [each for each in letters if fits_gsm(each) != is_valid_gsm(each)] == []


@pytest.mark.parametrize("part", [*(f"http.{name}" for name in PARTS), "gsm_letters"])
def test_examples_in_docstrings_hold(part):
    failed, tried = doctest.testmod(importlib.import_module(f"gateways.{part}"))

    assert failed == 0 < tried
