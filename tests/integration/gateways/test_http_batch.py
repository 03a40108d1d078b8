"""Several texts in one call to a carrier on loopback: what is sent, and whose each answer is."""

import json
import socket
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from http_batch_carrier import BatchCarrier, batch_of
from http_carrier import HttpCarrier, Reply, http_profile, text
from hypothesis import given, settings
from hypothesis import strategies as st

from gateways.contract import Bench, GatewayContract
from gateways.errors import Refused, TryLater, Unsure
from gateways.http.gateway import HttpGateway
from gateways.protocol import Batching, Taken

NOW = datetime(2026, 12, 12, 12, 0, tzinfo=UTC)
KINDS = {"ok": Taken, "bad": Refused, "busy": TryLater, "lost": Unsure, "other": Unsure}
KINDS |= {"missing": Unsure}


def texts(count, phones=100):
    """Texts r1, r2 and so on, to as many phones as there are, in turn."""
    return [
        replace(text(f"r{number}", f"Thin plot {number}"), to=f"+4477009001{number % phones:02}")
        for number in range(1, count + 1)
    ]


@pytest.fixture
def carrier():
    with BatchCarrier() as made:
        yield made


@pytest.fixture
def gateway_of(tmp_path):
    """Make a gateway by a profile; all are closed at the end."""
    made = []

    def make(address, batch=None, **tables):
        profile = http_profile(address, tmp_path, batch=batch or batch_of(), **tables)
        made.append(HttpGateway(profile, now=lambda: NOW))
        return made[-1]

    (tmp_path / "key").write_text("k3y-of-the-programme\n")
    yield make
    for gateway in made:
        gateway.close()


@pytest.fixture
def answers(carrier, gateway_of):
    """What becomes of some texts by a profile and the carrier's words."""

    def sent(messages, batch=None, **tables):
        return gateway_of(carrier.address, batch, **tables).send_many(messages)

    return sent


@pytest.fixture
def body(carrier, answers):
    """The JSON of the call that two texts make."""

    def sent(**keys):
        carrier.script.append(Reply())
        credentials = keys.pop("credentials", ())
        answers(texts(2), batch_of(**keys), request={"sender": "FARM"}, credentials=credentials)
        return carrier.received[-1].json

    return sent


def kinds(found):
    return [type(each) for each in found]


def patterns(**more):
    """How answers of the form <a><to>…</to><ok>…</ok></a> are told apart."""
    return {
        "format": "text",
        "answers": "<a>(.*?)</a>",
        "reference": "<ok>([^<]+)<",
        "code": "<(ok|bad)>",
        "reason": "<bad>([^<]+)<",
        "codes": {"taken": ("ok",), "refused": ("bad",)},
        **more,
    }


class TestCall:
    def test_the_list_stands_at_its_path_with_a_part_for_each_text(self, body):
        assert body() == {
            "texts": [
                {"number": "+447700900101", "text": "Thin plot 1", "ref": "r1"},
                {"number": "+447700900102", "text": "Thin plot 2", "ref": "r2"},
            ]
        }

    def test_shared_fields_stand_once_beside_it(self, body):
        each = {"to": ["{to_digits}"], "text": "{body}", "ref": "{reference}"}
        fields = {"from": "{sender}", "call": {"test": False}}
        sent = body(each=each, fields=fields, messages="call.in.texts")

        assert (sent["from"], sent["call"]["test"], len(sent["call"]["in"]["texts"])) == (
            "FARM",
            False,
            2,
        )
        assert sent["call"]["in"]["texts"][0]["to"] == ["447700900101"]

    def test_the_body_may_be_the_list(self, body):
        assert [each["ref"] for each in body(messages=None)] == ["r1", "r2"]

    def test_each_text_has_its_own_coding_and_expiry(self, carrier, answers):
        each = {"t": "{to}{body}", "ref": "{reference}", "dcs": "{coding}", "end": "{expires_at}"}
        carrier.script.append(Reply())
        request = {"coding": {"gsm": 0, "unicode": 8}, "expires": "seconds-left"}
        messages = [text("r1"), text("r2", "Raleia ✓")]
        answers(messages, batch_of(each=each), request=request)

        sent = carrier.received[0].json["texts"]
        assert [(one["dcs"], one["end"]) for one in sent] == [(0, 14400), (8, 14400)]

    def test_it_may_go_elsewhere_than_one_text_does(self, carrier, answers):
        keys = {"address": carrier.address + "/many", "method": "PUT", "headers": {"X-A": "1"}}
        answers(texts(2), batch_of(**keys))
        call = carrier.received[0]

        assert (call.method, call.target, call.headers["X-A"]) == ("PUT", "/texts/many", "1")
        assert call.headers["Content-Type"] == "application/json"

    @pytest.mark.parametrize("place", ["header", "query", "field"])
    def test_it_holds_the_credentials(self, body, carrier, place):
        credential = {"in": place, "name": "X-Key", "secret_file": "key"}
        sent = body(credentials=(credential,))
        call = carrier.received[-1]
        found = {
            "header": call.headers.get("X-Key"),
            "query": call.target.removeprefix("/texts?X-Key="),
            "field": sent.get("X-Key"),
        }

        assert found[place] == "k3y-of-the-programme" and len(sent["texts"]) == 2

    def test_it_holds_the_password_of_basic(self, body, carrier):
        body(credentials=({"in": "basic", "user": "olmara", "secret_file": "key"},))

        assert carrier.received[-1].headers["Authorization"].startswith("Basic b2xtYXJh")

    def test_no_text_makes_no_call(self, carrier, answers):
        assert answers([]) == [] and carrier.received == []

    def test_one_text_sent_by_itself_goes_as_ever(self, gateway_of):
        with HttpCarrier() as carrier:
            gateway = gateway_of(carrier.address)

            assert gateway.send(text("r1")) == Taken("c-1")
            assert carrier.received[0].json["ref"] == "r1"


class TestMatching:
    def test_each_text_gets_the_answer_that_names_its_reference(self, carrier, answers):
        carrier.shape = lambda entries: {"results": entries[::-1]}

        assert answers(texts(3)) == [Taken("c-1"), Taken("c-2"), Taken("c-3")]

    def test_or_the_answer_at_its_place(self, answers):
        batch = batch_of({"match": "order", "key": None})

        assert answers(texts(3), batch) == [Taken("c-1"), Taken("c-2"), Taken("c-3")]

    @pytest.mark.parametrize(
        "written",
        [
            pytest.param("+{}", id="with its plus sign"),
            pytest.param("{}", id="without it"),
            pytest.param("00{}", id="with 00"),
            pytest.param("tel:+{}", id="as an address"),
        ],
    )
    def test_or_the_answer_that_names_its_number(self, carrier, answers, written):
        def shape(entries):
            digits = [each["number"].removeprefix("+") for each in entries]
            named = [
                {**each, "number": written.format(one)}
                for each, one in zip(entries, digits, strict=True)
            ]
            return {"results": named[::-1]}

        carrier.shape = shape
        batch = batch_of({"match": "number", "key": "number"})

        assert answers(texts(3), batch) == [Taken("c-1"), Taken("c-2"), Taken("c-3")]

    def test_a_number_may_be_no_text_in_json(self, carrier, answers):
        carrier.shape = lambda entries: [
            {**each, "number": int(each["number"])} for each in entries
        ]
        batch = batch_of({"answers": None, "match": "number", "key": "number"})

        assert answers(texts(2), batch) == [Taken("c-1"), Taken("c-2")]

    @pytest.mark.parametrize(("match", "name"), [("reference", "ref"), ("number", "number")])
    @pytest.mark.parametrize("path", ["results", None], ids=["at a path", "the body"])
    def test_the_answers_may_be_a_table(self, carrier, answers, match, name, path):
        def shape(entries):
            table = {each[name]: each for each in reversed(entries)}
            return {"results": table} if path else {"count": len(entries), **table}

        carrier.shape = shape
        batch = batch_of({"match": match, "key": None, "answers": path})

        assert answers(texts(3), batch) == [Taken("c-1"), Taken("c-2"), Taken("c-3")]

    def test_an_answer_may_be_a_bare_word(self, carrier, answers):
        carrier.shape = lambda entries: {"results": [each["id"] for each in entries]}
        batch = batch_of()
        batch["answer"] = {"answers": "results", "match": "order", "reference": "0"}

        assert answers(texts(2), batch) == [Taken("c-1"), Taken("c-2")]

    @pytest.mark.parametrize("keys", [{"match": "order"}, {"match": "number", "key": "<to>(.*?)<"}])
    def test_answers_in_xml_are_found_by_patterns(self, carrier, answers, keys):
        carrier.codes = {"r2": "bad"}
        carrier.shape = lambda entries: "".join(
            f"<a><to>{each['number']}</to><{each['code']}>{each.get('id', 'no such')}</x></a>\n"
            for each in entries
        ).encode()
        batch = batch_of()
        batch["answer"] = patterns(**keys)
        first, second, third = answers(texts(3), batch)

        assert (first, third) == (Taken("c-1"), Taken("c-2"))
        assert second.reason == "status 200, code bad: no such"

    def test_a_carrier_without_ids_gets_ours(self, answers):
        assert answers(texts(2), batch_of({"reference": None})) == [Taken("r1"), Taken("r2")]


class TestPartial:
    def test_each_text_gets_its_own_outcome(self, carrier, answers):
        carrier.codes = {f"r{number}": code for number, code in enumerate(KINDS, start=1)}

        assert kinds(answers(texts(7))) == [*KINDS.values(), Taken]

    def test_a_reason_is_that_texts_own(self, carrier, answers):
        carrier.codes = {"r1": "bad", "r2": "busy"}
        refused, later, _ = answers(texts(3))

        assert refused.reason == "status 200, code bad: bad for you"
        assert later.reason == "status 200, code busy: busy for you"

    def test_one_that_is_throttled_waits_as_the_call_says(self, carrier, answers):
        entries = [{"ref": "r1", "code": "busy"}, {"ref": "r2", "code": "ok", "id": 7}]
        content = json.dumps({"results": entries}).encode()
        carrier.script.append(Reply(200, content, {"Retry-After": "120"}))
        later, taken = answers(texts(2))

        assert (later.after_s, taken) == (120, Taken("7"))

    def test_one_without_an_answer_is_in_doubt(self, carrier, answers):
        carrier.codes = {"r2": "missing"}
        _, doubt, _ = answers(texts(3))

        assert doubt.reason == "status 200: no answer names this text"

    def test_one_with_two_answers_is_in_doubt(self, carrier, answers):
        carrier.shape = lambda entries: {"results": [*entries, entries[0]]}
        doubt, taken = answers(texts(2))

        assert (doubt.reason, taken) == ("status 200: 2 answers name this text", Taken("c-2"))

    def test_answers_that_name_nobody_are_left_out(self, carrier, answers):
        carrier.shape = lambda entries: {
            "results": [{"id": "x"}, {"ref": ["r1"]}, {"ref": "r9", "code": "bad"}, 7, *entries]
        }

        assert answers(texts(2)) == [Taken("c-1"), Taken("c-2")]

    @pytest.mark.parametrize("count", [1, 3], ids=["fewer", "more"])
    def test_by_order_another_number_of_answers_leaves_all_in_doubt(self, carrier, answers, count):
        carrier.shape = lambda entries: {"results": [*entries, entries[0]][:count]}
        found = answers(texts(2), batch_of({"match": "order", "key": None}))

        assert [each.reason for each in found] == [f"status 200: {count} answers to 2 texts"] * 2

    def test_one_is_taken_in_a_call_of_another_status(self, carrier, answers):
        entries = [{"ref": "r1", "code": "ok", "id": "a1"}, {"ref": "r2", "code": "bad"}]
        carrier.script.append(Reply(400, json.dumps({"results": entries}).encode()))

        assert kinds(answers(texts(3))) == [Taken, Refused, Unsure]

    def test_an_answer_nested_beyond_reading_is_in_doubt(self, carrier, answers):
        for depth in range(0, 1200, 40):
            nested = b"[" * depth + b"]" * depth if depth else b"7"
            content = b'{"results": [{"ref": "r1", "deep": %s}]}' % nested
            carrier.script.append(Reply(body=content))

            assert kinds(answers(texts(1))) == [Unsure]


class TestWhole:
    @pytest.mark.parametrize(
        ("reply", "kind"),
        [
            pytest.param(Reply(401, b'{"error": "key"}'), Refused, id="refused"),
            pytest.param(Reply(429, b'{"results": []}'), TryLater, id="throttled"),
            pytest.param(Reply(503, b""), TryLater, id="out of service"),
            pytest.param(Reply(500, b"<html>"), Unsure, id="broken"),
            pytest.param(Reply(302, b""), Unsure, id="a redirect"),
            pytest.param(Reply(200, b"<html>Login</html>"), Unsure, id="a page"),
            pytest.param(Reply(200, b'{"id": "c-1"}'), Unsure, id="an id for all"),
            pytest.param(Reply(200, b'{"results": {"r1": 1}}'), Unsure, id="no list"),
            pytest.param(Reply(200, b'{"results": []}'), Unsure, id="no answers"),
            pytest.param(Reply(200, b'{"results": [], "results": []}'), Unsure, id="two lists"),
            pytest.param(Reply(200, b'{"results": [], "code": 7}'), TryLater, id="a code inside"),
            pytest.param(Reply(raw=lambda wait: []), Unsure, id="lost"),
        ],
    )
    def test_every_text_gets_the_calls_answer(self, carrier, answers, reply, kind):
        carrier.script.append(reply)
        answer = {"code": "code", "codes": {"later": (7,)}}

        assert kinds(answers(texts(3), answer=answer)) == [kind] * 3

    def test_retry_after_is_obeyed_for_all(self, carrier, answers):
        carrier.script.append(Reply(429, headers={"Retry-After": "90"}))

        assert [each.after_s for each in answers(texts(3))] == [90] * 3

    def test_no_connection_is_later_for_all(self, gateway_of):
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            address = f"http://127.0.0.1:{free.getsockname()[1]}/"
        found = gateway_of(address).send_many(texts(2))

        assert [each.reason for each in found] == [
            "no connection to the carrier: Connection refused"
        ] * 2

    def test_a_call_whose_answer_was_lost_may_be_made_again(self, carrier, answers):
        carrier.script.append(Reply(raw=lambda wait: []))
        first = answers(texts(2))
        again = answers(texts(2))

        assert (kinds(first), again) == ([Unsure] * 2, [Taken("c-1"), Taken("c-2")])

    def test_no_secret_number_or_text_reaches_a_reason(self, carrier, answers):
        echo = b"k3y-of-the-programme +447700900102 Thin plot 1 Thin plot 2"
        entry = {"ref": "r1", "code": "bad", "why": echo.decode()}
        carrier.script += [Reply(400, echo), Reply(body=json.dumps({"results": [entry]}).encode())]
        credential = {"in": "header", "name": "X-Key", "secret_file": "key"}
        whole = answers(texts(2), credentials=(credential,))
        each = answers(texts(1), credentials=(credential,))
        told = " ".join(f"{error!r} {error}" for error in [*whole, *each])

        assert not [part for part in ("k3y", "447700900102", "Thin plot 1") if part in told]
        assert "Thin" not in repr(whole)


class TestSeveralCalls:
    def test_no_call_is_above_the_size(self, carrier, answers):
        found = answers(texts(7), batch_of(size=3))

        assert carrier.calls == [["r1", "r2", "r3"], ["r4", "r5", "r6"], ["r7"]]
        assert found == [Taken(f"c-{number}") for number in range(1, 8)]

    def test_by_number_a_number_goes_once_into_a_call(self, carrier, answers):
        carrier.codes = {"r4": "bad"}
        carrier.shape = lambda entries: {"results": entries[::-1]}
        found = answers(texts(5, phones=3), batch_of({"match": "number", "key": "number"}))

        assert carrier.calls == [["r1", "r2", "r3"], ["r4", "r5"]]
        assert kinds(found) == [Taken, Taken, Taken, Refused, Taken]

    def test_by_reference_a_number_may_be_there_twice(self, carrier, answers):
        carrier.codes = {"r3": "bad"}
        found = answers(texts(4, phones=2))

        assert len(carrier.calls) == 1 and kinds(found) == [Taken, Taken, Refused, Taken]

    def test_a_reference_given_twice_gets_the_same_answer(self, carrier, answers):
        assert answers([text("r1"), text("r1")]) == [Taken("c-1"), Taken("c-1")]
        assert carrier.calls == [["r1"], ["r1"]]

    def test_after_one_that_is_throttled_none_is_made(self, carrier, answers):
        throttled = Reply(429, headers={"Retry-After": "90"})
        entries = [{"ref": f"r{number}", "code": "ok", "id": number} for number in (1, 2)]
        carrier.script += [Reply(body=json.dumps({"results": entries}).encode()), throttled]
        found = answers(texts(6), batch_of(size=2))

        assert found[:2] == [Taken("1"), Taken("2")] and len(carrier.received) == 2
        assert [each.after_s for each in found[2:]] == [90] * 4

    def test_after_one_in_doubt_none_is_made(self, carrier, answers):
        carrier.script.append(Reply(raw=lambda wait: []))
        found = answers(texts(4), batch_of(size=2))

        assert kinds(found) == [Unsure, Unsure, TryLater, TryLater]
        assert found[2].reason == "not sent, since the call before it is in doubt"
        assert len(carrier.received) == 1

    def test_after_one_that_is_refused_the_next_is_made(self, carrier, answers):
        carrier.script.append(Reply(400))

        assert kinds(answers(texts(4), batch_of(size=2))) == [Refused, Refused, Taken, Taken]


class Strict(BatchCarrier):
    """A carrier that refuses a whole call for one number that it does not like."""

    wrong: tuple[str, ...] = ()

    def answer(self, request):
        sent = [each["ref"] for each in request.json["texts"]]
        if set(sent) & set(self.wrong):
            self.script.append(Reply(422, b'{"error": "bad number"}'))
        return super().answer(request)


class TestHalves:
    @pytest.fixture
    def carrier(self):
        with Strict() as made:
            yield made

    @pytest.mark.parametrize("wrong", [("r1",), ("r7",), ("r3", "r4"), ("r2", "r5", "r7")])
    def test_one_wrong_text_does_not_spoil_the_others(self, carrier, answers, wrong):
        carrier.wrong = wrong
        messages = texts(7)
        found = answers(messages, batch_of(halve=("422",)))

        refused = [m.reference for m, a in zip(messages, found, strict=True) if type(a) is Refused]
        taken = [each for each in found if type(each) is Taken]
        assert refused == [*wrong] and len(set(taken)) == 7 - len(wrong)

    def test_one_wrong_text_of_a_hundred_costs_few_calls(self, carrier, answers):
        carrier.wrong = ("r50",)
        answers(texts(99), batch_of(halve=("422",)))

        assert len(carrier.received) <= 15

    def test_another_status_is_every_texts(self, carrier, answers):
        carrier.wrong = ("r1",)

        assert kinds(answers(texts(4), batch_of(halve=("400",)))) == [Refused] * 4
        assert len(carrier.received) == 1

    def test_once_throttled_the_other_half_waits(self, carrier, answers):
        carrier.script += [Reply(422), Reply(429)]

        assert kinds(answers(texts(4), batch_of(halve=("422",)))) == [TryLater] * 4
        assert len(carrier.received) == 2


class TestWithoutTheTable:
    @pytest.fixture
    def one_by_one(self, tmp_path):
        """What becomes of texts by a profile without [batch], and the requests."""

        def send(*script):
            with HttpCarrier(*script) as carrier:
                gateway = HttpGateway(http_profile(carrier.address, tmp_path))
                found = gateway.send_many(texts(4))
                gateway.close()
                return gateway, found, [each.json["ref"] for each in carrier.received]

        return send

    def test_each_is_sent_by_itself(self, one_by_one):
        gateway, found, sent = one_by_one()

        assert gateway.abilities.batch == 1 and isinstance(gateway, Batching)
        assert found == [Taken(f"c-{number}") for number in range(1, 5)]
        assert sent == ["r1", "r2", "r3", "r4"]

    def test_an_error_is_answered(self, one_by_one):
        _, found, _ = one_by_one(Reply(400), Reply(429), Reply(500))

        assert kinds(found) == [Refused, TryLater, Unsure, Taken]


class TestContract(GatewayContract):
    """The contract of all gateways, with a carrier that takes several texts in one call."""

    @pytest.fixture(params=["reference", "number", "order"])
    def bench_here(self, request, tmp_path):
        key = {"reference": "ref", "number": "number", "order": None}[request.param]
        with BatchCarrier() as carrier:
            batch = batch_of({"match": request.param, "key": key})
            gateway = HttpGateway(http_profile(carrier.address, tmp_path, batch=batch))
            yield Bench(gateway, lambda: carrier.arrived)
            gateway.close()


class TestLaws:
    @settings(max_examples=60)
    @given(data=st.data())
    @pytest.mark.parametrize("match", ["reference", "number", "order"])
    def test_each_text_gets_exactly_its_own_answer(self, match, data):
        words = [each for each in KINDS if match != "order" or each != "missing"]
        codes = data.draw(st.lists(st.sampled_from(words), max_size=12), label="codes")
        size = data.draw(st.integers(2, 12), label="size")
        messages = texts(len(codes), phones=data.draw(st.integers(1, 12), label="phones"))
        turns = data.draw(st.permutations(range(len(codes))), label="order of the answers")

        def shape(entries):
            if match != "order":
                entries.sort(key=lambda entry: turns[int(entry["ref"][1:]) - 1])
            return {"results": entries}

        key = {"reference": "ref", "number": "number", "order": None}[match]
        by_reference = {m.reference: code for m, code in zip(messages, codes, strict=True)}
        with BatchCarrier(codes=by_reference, shape=shape) as carrier:
            batch = batch_of({"match": match, "key": key}, size=size)
            gateway = HttpGateway(http_profile(carrier.address, batch=batch))
            found = gateway.send_many(messages)
            gateway.close()

        # A call all of whose answers are missing is in doubt as a whole: what follows waits.
        tried = [ref for call in carrier.calls for ref in call]
        assert len(found) == len(messages) and len(tried) == len(set(tried))
        for message, code, answer in zip(messages, codes, found, strict=True):
            if message.reference not in tried:
                assert type(answer) is TryLater and "not sent" in answer.reason
                continue
            assert type(answer) is KINDS[code]
            if code == "ok":
                assert answer == Taken(carrier.id_of(message.reference))
            elif code != "missing":
                assert f"code {code}: {code} for you" in answer.reason
