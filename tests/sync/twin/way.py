"""What can happen to a call and its answer on the way between a phone and the server."""

import json
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from tests.sync.twin.call import Answer, Call
from tests.sync.twin.yard import Yard

HTML = "<!doctype html><p>Welcome. Please sign in."
REFUSAL = '{"error": {"what": "no", "where": "here", "todo": "wait"}}'
# Whole answers of somebody else, by status; the phone must not change by any of them.
STRANGERS = {
    "login page": Answer(200, {}, HTML),
    "redirected": Answer(302, {"Location": "http://elsewhere"}, ""),
    "empty": Answer(200, {}, ""),
    "list": Answer(200, {}, "[]"),
    "null": Answer(200, {}, "null"),
    "nothing": Answer(204, {}, ""),
    "401 page": Answer(401, {}, HTML),
    "404 page": Answer(404, {}, HTML),
    "413 page": Answer(413, {}, HTML),
    "422": Answer(422, {}, REFUSAL),
    "500": Answer(500, {}, REFUSAL),
    "busy": Answer(503, {"Retry-After": "3"}, ""),
}
SPOILED = ("truncated", "other request", "other protocol")
ON_THE_WAY = ("request lost", "answer lost", "twice", "cut body", "power cut", "half done")
FAULTS = (
    "none",
    *ON_THE_WAY,
    *SPOILED,
    *STRANGERS,
    *(f"kept, then {name}" for name in ("login page", "500", "busy")),
)


@dataclass
class Way:
    """numbers: a source of chance for where the power goes. requests:
    those that may arrive again later.
    """

    yard: Yard
    numbers: Iterator[int]
    requests: deque[Call] = field(default_factory=lambda: deque(maxlen=8))

    def carry(self, call: Call, error: str) -> tuple[Answer | None, bool]:
        """The answer that comes back, and whether it is one that must change nothing."""
        if call.method in ("POST", "PATCH"):
            self.requests.append(call)
        if error == "request lost":
            return None, True
        if error in STRANGERS:
            # A "no" is an answer about a photo: it is marked, and offered again when a person asks.
            is_no = error in ("422", "413 page") and call.path.startswith("/api/photos/")
            return STRANGERS[error], not is_no
        if error == "cut body":
            self.yard.ask(call, cut_at=len(call.pack()[0]) // 2)
            return None, True
        if error == "power cut":
            self.yard.store.statements_left = 1 + next(self.numbers) % 12
            answer = self.yard.ask(call)
            return answer, answer is None
        if error == "half done" and call.path == "/api/sync/push":
            events = call.json["events"]
            call = replace(call, json={**call.json, "events": events[: len(events) // 2]})
        answer = self.yard.ask(call)
        if error == "twice":
            answer = self.yard.ask(call)
        if error == "answer lost" or answer is None:
            return None, True
        if error.startswith("kept, then "):
            return STRANGERS[error.removeprefix("kept, then ")], True
        return (
            _spoil(answer, error)
            if error in SPOILED and answer.status == 200 and answer.text
            else (answer, False)
        )


def _spoil(answer: Answer, error: str) -> tuple[Answer, bool]:
    if error == "truncated":
        return replace(answer, text=answer.text[: len(answer.text) // 2]), True
    data = json.loads(answer.text)
    key = "request_id" if error == "other request" else "protocol"
    if not isinstance(data, dict) or key not in data:
        return answer, False
    # A greeting names all that the server speaks.
    other = {"protocols": [99]} if "protocols" in data else {key: "other"}
    return replace(answer, text=json.dumps({**data, **other})), True
