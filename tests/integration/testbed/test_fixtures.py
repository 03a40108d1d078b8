"""The database fixtures and the cut network that all other tests rest on."""

import socket

import pytest
from pytest_socket import SocketConnectBlockedError
from sqlalchemy import create_engine, inspect

from reminder_service.records.tables import metadata, wards


def tables(url):
    engine = create_engine(url)
    try:
        return set(inspect(engine).get_table_names())
    finally:
        engine.dispose()


def test_a_database_starts_empty(database_url, engine_name):
    assert database_url.startswith(engine_name) and tables(database_url) == set()


def test_a_migrated_database_has_every_table(migrated_url):
    assert tables(migrated_url) >= set(metadata.tables)


@pytest.mark.parametrize("run", ["first test", "second test"])
def test_rows_of_one_test_are_not_seen_by_the_next(engine, run):
    with engine.begin() as connection:
        connection.execute(wards.insert().values(name="Olmara", zone="Africa/Maputo"))
        assert connection.execute(wards.select()).all() != []


@pytest.mark.filterwarnings("ignore:A test tried to use socket")
def test_the_network_beyond_this_machine_is_cut():
    with pytest.raises(SocketConnectBlockedError):
        socket.create_connection(("192.0.2.1", 80), timeout=1)


def test_this_machine_can_be_reached():
    with socket.create_server(("127.0.0.1", 0)) as server:
        with socket.create_connection(server.getsockname(), timeout=5) as client:
            assert client.getpeername() == server.getsockname()
