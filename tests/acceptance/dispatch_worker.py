"""A real worker process for the tests: dispatches what is due at a given instant, until killed.

Called with the database's address, the console's record file and the instant (UTC, ISO 8601).
"""

import sys
from datetime import datetime
from pathlib import Path

from gateways.console.gateway import ConsoleGateway
from reminder_service.settings import Settings
from reminder_service.work.dispatch import dispatch_due, sweep
from reminder_service.work.services import make_services


def work(url: str, record: str, now: str) -> None:
    settings = Settings(database_url=url, secret_key="k" * 40, claim_batch=7, lease_s=10)
    gateway = ConsoleGateway(out=sys.stderr, record=Path(record))
    at = datetime.fromisoformat(now)
    services = make_services(settings, lambda: at, {"console": gateway})
    print("ready", flush=True)
    sweep(services)
    dispatch_due(services)
    print("done", flush=True)


if __name__ == "__main__":
    work(*sys.argv[1:])
