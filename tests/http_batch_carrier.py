"""A carrier on 127.0.0.1 that takes several texts in one call, and says what becomes of each."""

import json
from collections.abc import Callable, Mapping

from http_carrier import HttpCarrier, Received, Reply

Entry = dict[str, str]

BATCH = {
    "size": 100,
    "messages": "texts",
    "each": {"number": "{to}", "text": "{body}", "ref": "{reference}"},
    "answer": {
        "answers": "results",
        "match": "reference",
        "key": "ref",
        "reference": "id",
        "code": "code",
        "reason": "why",
        "codes": {"taken": ("ok",), "refused": ("bad",), "later": ("busy",), "unsure": ("lost",)},
    },
}
"""The table [batch] for this carrier."""


def batch_of(answer: Mapping[str, object] | None = None, **keys: object) -> dict[str, object]:
    """That table with other keys; those of ``answer`` replace or add keys of its own table."""
    return {**BATCH, **keys, "answer": {**BATCH["answer"], **(answer or {})}}


class BatchCarrier(HttpCarrier):
    """Takes the texts of a call; a code by reference says otherwise, "missing" says nothing.

    ``shape`` makes the answer's content of the entries, which are in the order of the texts.
    A reference seen before gets the same id. A call of one text by itself is answered as such.
    """

    def __init__(
        self,
        *script: Reply,
        codes: Mapping[str, str] | None = None,
        shape: Callable[[list[Entry]], object] | None = None,
    ) -> None:
        self.codes = dict(codes or {})
        self.shape = shape or (lambda entries: {"results": entries})
        self.kept: dict[str, Entry] = {}
        super().__init__(*script)

    @property
    def calls(self) -> list[list[str]]:
        """References of the texts of each call."""
        return [[each["ref"] for each in call.json["texts"]] for call in self.received]

    @property
    def arrived(self) -> list[tuple[str, str]]:
        """Number and text of all that was taken, in order."""
        return [(each["number"], each["text"]) for each in self.kept.values()]

    def id_of(self, reference: str) -> str:
        """The id of a text that was taken."""
        return f"c-{list(self.kept).index(reference) + 1}"

    def answer(self, request: Received) -> Reply:
        with self._lock:
            self.received.append(request)
            if self.script:
                return self.script.pop(0)
            if "texts" not in request.json:
                return Reply(body=json.dumps(self._entry(request.json)).encode())
            entries = [self._entry(each) for each in request.json["texts"]]
            said = self.shape([each for each in entries if each["code"] != "missing"])
        return Reply(body=said if isinstance(said, bytes) else json.dumps(said).encode())

    def _entry(self, sent: Entry) -> Entry:
        code = self.codes.get(sent["ref"], "ok")
        entry = {"ref": sent["ref"], "number": sent["number"], "code": code}
        if code != "ok":
            return {**entry, "why": f"{code} for you"}
        self.kept.setdefault(sent["ref"], sent)
        return {**entry, "id": self.id_of(sent["ref"])}
