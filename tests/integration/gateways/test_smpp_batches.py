"""Several texts in one call of the SMPP gateway, against an independent package's server."""

import asyncio
import time
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime

import pytest
import smpp34
from smpp_carrier import NUMBER, SmppCarrier

from gateways.errors import Refused, TryLater, Unsure
from gateways.protocol import Outgoing, Taken
from gateways.smpp.gateway import SmppGateway

FARMER = f"+{NUMBER}"
EXPIRES_AT = datetime(2026, 12, 12, 16, 0, tzinfo=UTC)
LONG = "Pull surplus seedlings with their roots. " * 10


def texts(count, body="Thin plot 1"):
    return [Outgoing(FARMER, body, f"text-{number}", EXPIRES_AT) for number in range(count)]


@pytest.fixture
def carrier():
    carrier = SmppCarrier()
    yield carrier
    carrier.stop()


@pytest.fixture
def gateways(carrier, tmp_path):
    made = []

    def make(**options):
        made.append(SmppGateway.from_options(carrier.options(tmp_path, **options)))
        return made[-1]

    yield make
    for each in made:
        each.close()


def test_one_call_takes_as_many_texts_as_the_window_is_wide(gateways):
    assert gateways(window="7").abilities.batch == 7


def test_a_batch_goes_out_before_any_answer_is_waited_for(carrier, gateways):
    kept = []

    def decide(event):
        kept.append(event)
        if len(kept) == 5:
            for each in kept:
                each.accept(next(carrier.ids))

    carrier.decide = decide

    answers = gateways(window="5").send_many(texts(5))
    assert {each.reference for each in answers} == {"1", "2", "3", "4", "5"}


def test_first_parts_go_before_second_ones(carrier, gateways):
    gateways().send_many(texts(3, LONG))

    assert [each.short_message[5] for each in carrier.submits] == [1, 1, 1, 2, 2, 2, 3, 3, 3]
    assert carrier.arrived() == [(FARMER, LONG)] * 3


def test_one_texts_refusal_is_not_anothers(carrier, gateways):
    declined = {"+447700900002": smpp34.ESME_RINVDSTADR, "+447700900003": smpp34.ESME_RTHROTTLED}

    def decide(event):
        status = declined.get(f"+{event.destination_addr}")
        event.accept(next(carrier.ids)) if status is None else event.reject(status)

    carrier.decide = decide
    numbers = ["nobody", FARMER, *declined, FARMER]

    answers = gateways().send_many([Outgoing(to, "Thin", to, EXPIRES_AT) for to in numbers])
    assert [type(each) for each in answers] == [Refused, Taken, Refused, TryLater, Taken]


def test_calls_at_once_share_the_window_though_each_holds_a_part_of_it(carrier, gateways):
    open_now, most = set(), []

    def decide(event):
        open_now.add(event)
        most.append(len(open_now))
        asyncio.get_running_loop().call_later(0.01, answer, event)

    def answer(event):
        open_now.discard(event)
        event.accept(next(carrier.ids))

    carrier.decide = decide
    gateway = gateways(window="6")
    with ThreadPoolExecutor(3) as threads:
        calls = list(threads.map(gateway.send_many, [texts(6)] * 3))

    assert len({each.reference for answers in calls for each in answers}) == 18
    assert max(most) == 6


def test_a_carrier_that_answers_nothing_holds_calls_no_longer_than_two_waits(carrier, gateways):
    gateway = gateways(window="40", answer_s="0.3")
    while isinstance(gateway.send_many(texts(1))[0], TryLater):
        pass  # a busy machine may take longer to bind
    kept = []
    carrier.decide = kept.append
    began_s = time.monotonic()
    with ThreadPoolExecutor(3) as threads:
        calls = list(threads.map(gateway.send_many, [texts(40)] * 3))

    assert time.monotonic() - began_s < 10  # a wait for each place would take 12 s
    ends = [type(each) for answers in calls for each in answers]
    # Who finds no place within its wait tries later; how many do depends on the machine.
    assert set(ends) <= {Unsure, TryLater} and ends.count(Unsure) == len(kept) > 0


def test_a_cut_leaves_the_unanswered_in_doubt_and_every_place_free(carrier, gateways):
    kept = []

    def decide(event):
        kept.append(event)
        if len(kept) == 4:
            carrier.decide = lambda event: event.accept(next(carrier.ids))
            carrier._cut()

    carrier.decide = decide
    gateway = gateways(window="4")

    assert [type(each) for each in gateway.send_many(texts(4))] == [Unsure] * 4
    ends_s = time.monotonic() + 5
    while gateway.trouble is not None and time.monotonic() < ends_s:
        time.sleep(0.01)
    assert [type(each) for each in gateway.send_many(texts(4))] == [Taken] * 4
