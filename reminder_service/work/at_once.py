"""Work with several carriers at the same time, so that a slow one does not hold up the others."""

import logging
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

log = logging.getLogger(__name__)

Result = TypeVar("Result")


def at_once(work: Mapping[str, Callable[[], Result]]) -> dict[str, Result]:
    """Do one piece of work a carrier, each on a thread of its own, and wait for all.

    Parameters
    ----------
    work : by the name of its route

    Returns
    -------
    what each answered

    Raises
    ------
    Exception
        The first fault of any, after all have ended; every fault is logged.
    """
    if not work:
        return {}
    with ThreadPoolExecutor(len(work), "carrier") as pool:
        futures = {name: pool.submit(each) for name, each in work.items()}
    faults = {name: fault for name, future in futures.items() if (fault := future.exception())}
    for name, fault in faults.items():
        log.error("route %s failed", name, exc_info=fault, extra={"route": name})
    for fault in faults.values():
        raise fault
    return {name: future.result() for name, future in futures.items()}
