"""Pages, scheduler, dispatcher and texts typed on the console, in one process or in several."""

import logging
import signal
import socket
import sys
import threading
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from enum import Enum

import click
from waitress.server import create_server

from gateways.console.gateway import ConsoleGateway
from gateways.protocol import Incoming, Listening
from reminder_service.commands.answers import BadInput
from reminder_service.settings import Settings
from reminder_service.web.app import create_app
from reminder_service.work.events import keeper
from reminder_service.work.receive import receive
from reminder_service.work.services import Services
from reminder_service.work.ticks import start_scheduler

log = logging.getLogger(__name__)


class Part(Enum):
    """What one process does of the whole."""

    ALL = "all"
    PAGES = "pages"
    WORK = "work"


def check_port_free(settings: Settings) -> None:
    """Refuse a port that somebody else listens on, before anything is started.

    Raises
    ------
    BadInput
        The port is taken or the address is not this machine's; says how to choose another.
    """
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((settings.host, settings.port))
        except OSError as fault:
            raise BadInput(
                "REMINDER_PORT",
                settings.port,
                f"a free port on {settings.host} ({fault.strerror}); choose another, "
                f"for example REMINDER_PORT={settings.port + 1}",
            ) from fault


def serve_until_stopped(services: Services, part: Part = Part.ALL) -> None:
    """Serve the pages, run the ticks, or both, until the process is told to stop.

    Any number of processes may do either part on one PostgreSQL database.

    Parameters
    ----------
    services : the services; texts typed on standard input are taken if their gateway is the
        console
    part : what this process does
    """
    if part is not Part.WORK:
        check_port_free(services.settings)
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    log.info("serving: %s", part.value)
    try:
        if part is Part.PAGES:
            _serve_pages(services)
        else:
            with _working(services):
                if part is Part.WORK:
                    threading.Event().wait()
                else:
                    _serve_pages(services)
    except KeyboardInterrupt:
        click.echo("Stopping: what is in hand is finished first.", err=True)
    finally:
        for gateway in services.gateways.values():
            gateway.close()


def _serve_pages(services: Services) -> None:
    settings = services.settings
    server = create_server(create_app(services), host=settings.host, port=settings.port)
    try:
        server.run()
    finally:
        server.close()


@contextmanager
def _working(services: Services) -> Iterator[None]:
    """Run the ticks and take what gateways bring, up to the end of the tick under way."""
    scheduler = start_scheduler(services)
    try:
        for name, gateway in services.gateways.items():
            if isinstance(gateway, Listening):
                gateway.listen(keeper(services, name))
            elif isinstance(gateway, ConsoleGateway):
                typed = gateway.incoming(sys.stdin, services.clock, lambda fault: click.echo(fault))
                threading.Thread(target=_take, args=[services, name, typed], daemon=True).start()
        yield
    finally:
        scheduler.shutdown()


def _take(services: Services, route: str, texts: Iterable[Incoming]) -> None:
    for text in texts:
        received = receive(services, gateway=route, message=text)
        if received.reply is None:
            click.echo("kept; no reply goes out")
