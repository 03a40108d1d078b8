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
    A reference seen before gets the same id.
    """

    def __init__(
        self,
        *script: Reply,
        codes: Mapping[str, str] | None = None,
        shape: Callable[[list[Entry]], object] | None = None,
    ) -> None:
        self.codes = dict(codes or {})
        self.shape = shape or (lambda entries: {"results": entries})
        self.ids: dict[str, str] = {}
        super().__init__(*script)

    @property
    def calls(self) -> list[list[str]]:
        """References of the texts of each call."""
        return [[each["ref"] for each in call.json["texts"]] for call in self.received]

    def answer(self, request: Received) -> Reply:
        with self._lock:
            self.received.append(request)
            if self.script:
                return self.script.pop(0)
            entries = [self._entry(each) for each in request.json["texts"]]
            said = self.shape([each for each in entries if each["code"] != "missing"])
        return Reply(body=said if isinstance(said, bytes) else json.dumps(said).encode())

    def _entry(self, sent: Entry) -> Entry:
        code = self.codes.get(sent["ref"], "ok")
        entry = {"ref": sent["ref"], "number": sent["number"], "code": code}
        if code != "ok":
            return {**entry, "why": f"{code} for you"}
        return {**entry, "id": self.ids.setdefault(sent["ref"], f"c-{len(self.ids) + 1}")}
