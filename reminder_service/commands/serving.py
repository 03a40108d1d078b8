"""One process that does it all: pages, scheduler, dispatcher, and texts typed on the console."""

import logging
import signal
import socket
import sys
import threading
from collections.abc import Iterable

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


def serve_until_stopped(services: Services) -> None:
    """Serve the pages and run the ticks until the process is told to stop.

    Parameters
    ----------
    services : the services; texts typed on standard input are taken if their gateway is the
        console
    """
    check_port_free(services.settings)
    server = create_server(
        create_app(services), host=services.settings.host, port=services.settings.port
    )
    scheduler = start_scheduler(services)
    for name, gateway in services.gateways.items():
        if isinstance(gateway, Listening):
            gateway.listen(keeper(services, name))
        elif isinstance(gateway, ConsoleGateway):
            typed = gateway.incoming(sys.stdin, services.clock, lambda fault: click.echo(fault))
            threading.Thread(target=_take, args=[services, name, typed], daemon=True).start()
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    try:
        server.run()
    except KeyboardInterrupt:
        click.echo("Stopping: what is in hand is finished first.", err=True)
    finally:
        server.close()
        scheduler.shutdown()
        for gateway in services.gateways.values():
            gateway.close()


def _take(services: Services, route: str, texts: Iterable[Incoming]) -> None:
    for text in texts:
        received = receive(services, gateway=route, message=text)
        if received.reply is None:
            click.echo("kept; no reply goes out")
