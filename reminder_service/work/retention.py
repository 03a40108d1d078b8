"""Empty what is older than the programme keeps it."""

from collections.abc import Callable
from datetime import datetime, timedelta

from sqlalchemy import Connection

from reminder_service.records.engine import writing
from reminder_service.records.retention import empty_notices, empty_texts
from reminder_service.work.services import Services

BATCH = 1000
"""Rows emptied in one transaction, so that nobody waits long for it (setting)."""


def keep_retention(services: Services) -> tuple[int, int]:
    """Empty bodies of texts and notices that are older than the settings keep them.

    Returns
    -------
    how many texts and how many notices were emptied
    """
    settings = services.settings
    texts = _emptied(services, settings.keep_inbound_days, empty_texts)
    return texts, _emptied(services, settings.keep_notice_days, empty_notices)


def _emptied(
    services: Services, days: int, empty: Callable[[Connection, datetime, int], int]
) -> int:
    if days == 0:
        return 0
    before = services.clock() - timedelta(days=days)
    total = 0
    while True:
        with writing(services.engine) as c:
            emptied = empty(c, before, BATCH)
        total += emptied
        if emptied < BATCH:
            return total
