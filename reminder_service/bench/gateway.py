"""The bench of the gateways: texts a second beside the bare client libraries."""

from datetime import UTC, datetime

from gateways.protocol import Outgoing
from reminder_service.bench import http_carrier, smpp_carrier
from reminder_service.bench.carrier import carrier
from reminder_service.bench.http_sides import CONNECTIONS, http_sides
from reminder_service.bench.result import Figure, Result, ratio_of, this_machine, versions_of
from reminder_service.bench.scale import Scale
from reminder_service.bench.smpp_sides import CALLERS, WINDOW, smpp_sides
from reminder_service.bench.turns import Work, figures_by_turns

AT_LEAST = 0.9
"""The part of the bare library's rate that a gateway should reach: a setting."""

SMPP_TIMES = 4
"""So many times as many texts go over SMPP as over HTTP, for turns of about the same length: a
setting."""

_EXPIRES_AT = datetime(2026, 12, 12, 16, 0, tzinfo=UTC)
_MEASURED = ("requests", "urllib3", "smpplib", "smpp34")


def gateway_bench(scale: Scale) -> Result:
    """Measure the HTTP and the SMPP gateway, one after the other.

    Parameters
    ----------
    scale : texts over HTTP, of which there are more over SMPP, and rounds of every side

    Raises
    ------
    WrongAnswers
        A side's ids are not those that the carrier gave.
    NoCarrier
        A carrier did not start.
    """
    machine = this_machine()
    http, smpp = _http(scale), _smpp(scale)
    return Result(
        bench="gateway",
        machine=machine,
        versions=versions_of(_MEASURED),
        settings={
            "rounds": scale.rounds,
            "http_messages": scale.messages,
            "connections": CONNECTIONS,
            "smpp_messages": SMPP_TIMES * scale.messages,
            "window": WINDOW,
            "callers": CALLERS,
        },
        figures=[*http, *smpp],
        ratios=[
            ratio_of(http, "gateway", "requests", AT_LEAST),
            ratio_of(http, "gateway", "adapter", None),
            ratio_of(smpp, "gateway", "client", AT_LEAST),
            ratio_of(smpp, "gateway, one a call", "client", None),
        ],
    )


def texts_of(count: int) -> list[Outgoing]:
    """Different texts, of one segment each, whose letters are the same in ASCII and GSM 7-bit."""
    return [
        Outgoing(
            "+447700900001",
            f"Plot {number}: thin to two plants a station, best on the day after rain. "
            "Pull the surplus with their roots.",
            f"text-{number}",
            _EXPIRES_AT,
        )
        for number in range(count)
    ]


def _http(scale: Scale) -> list[Figure]:
    texts = texts_of(scale.messages)
    work = Work(
        part="HTTP",
        warm_up=texts_of(4 * CONNECTIONS),
        texts=texts,
        ids=[http_carrier.id_of(text.reference) for text in texts],
    )
    with carrier(http_carrier.__name__) as port:
        return figures_by_turns(work, http_sides(port), scale.rounds)


def _smpp(scale: Scale) -> list[Figure]:
    texts = texts_of(SMPP_TIMES * scale.messages)
    work = Work(
        part="SMPP",
        warm_up=texts_of(2 * WINDOW),
        texts=texts,
        ids=[smpp_carrier.id_of(text.body.encode("ascii")) for text in texts],
    )
    with carrier(smpp_carrier.__name__) as port:
        return figures_by_turns(work, smpp_sides(port), scale.rounds)
