"""A real worker process of the bad day: each line on its input is an instant to work at.

Called with the database's address and the routes file. The instants are UTC, ISO 8601; each is
answered by a line when nothing is due at it any more.
"""

import sys
from datetime import UTC, datetime

from gateways.protocol import Listening
from reminder_service.settings import Settings
from reminder_service.work.events import keeper
from reminder_service.work.scenario import SettableClock
from reminder_service.work.services import make_services
from reminder_service.work.ticks import tick


def work(url: str, routes: str, attempts: str) -> None:
    settings = Settings(
        database_url=url,
        secret_key="k" * 40,
        routes=routes,
        retry_attempts=int(attempts),
        weekly_cap=0,
    )
    clock = SettableClock(datetime.now(UTC))
    services = make_services(settings, clock)
    for name, gateway in services.gateways.items():
        if isinstance(gateway, Listening):
            gateway.listen(keeper(services, name))
    print("ready", flush=True)
    for line in sys.stdin:
        clock.now = datetime.fromisoformat(line.strip())
        tick(services, "sweep")
        tick(services, "dispatch")
        print("done", flush=True)
    for gateway in services.gateways.values():
        gateway.close()


if __name__ == "__main__":
    work(*sys.argv[1:])
