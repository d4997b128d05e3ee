"""What can happen to a call and its answer on the way between a phone and the server."""

import itertools
import json
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from tests.sync.simulation.call import Answer, Call
from tests.sync.simulation.yard import Yard

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
BROKEN = ("request lost", "cut body", "power cut")
ON_THE_WAY = (*BROKEN, "answer lost", "timed out", "twice", "half done")
FAULTS = (
    "none",
    *ON_THE_WAY,
    *SPOILED,
    *STRANGERS,
    *(f"kept, then {name}" for name in ("login page", "500", "busy")),
)


@dataclass(frozen=True)
class Outcome:
    """What a phone hears of a call. is_junk: it must change nothing on the phone."""

    answer: Answer | None = None
    is_junk: bool = True
    has_timed_out: bool = False


@dataclass
class Network:
    """numbers: where the power goes. requests: those that may arrive again later. faults: how many
    were met.
    """

    yard: Yard
    numbers: Iterator[int] = field(default_factory=lambda: itertools.count(1))
    faults: int = 0
    requests: deque[Call] = field(default_factory=lambda: deque(maxlen=8))

    def carry(self, call: Call, fault: str) -> Outcome:
        self.faults += fault != "none"
        if call.method in ("POST", "PATCH"):
            self.requests.append(call)
        if fault in STRANGERS:
            # A "no" is an answer about a photo: it is marked, and offered again when a person asks.
            is_no = fault in ("422", "413 page") and call.path.startswith("/api/photos/")
            return Outcome(STRANGERS[fault], not is_no)
        if fault in BROKEN:
            return self._break_off(call, fault)
        answer = self.yard.ask(_halve(call) if fault == "half done" else call)
        if fault == "twice":
            answer = self.yard.ask(call)
        return _bring_back(answer, fault)

    def _break_off(self, call: Call, fault: str) -> Outcome:
        if fault == "power cut":
            self.yard.store.statements_left = 1 + next(self.numbers) % 12
            answer = self.yard.ask(call)
            return Outcome(answer, answer is None)
        if fault == "cut body":
            self.yard.ask(call, cut_at=len(call.body) // 2)
        return Outcome()


def _halve(call: Call) -> Call:
    if call.path != "/api/sync/push":
        return call
    events = call.json["events"]
    return call.with_json({**call.json, "events": events[: len(events) // 2]})


def _bring_back(answer: Answer | None, fault: str) -> Outcome:
    if fault in ("answer lost", "timed out") or answer is None:
        return Outcome(has_timed_out=fault == "timed out")
    if fault.startswith("kept, then "):
        return Outcome(STRANGERS[fault.removeprefix("kept, then ")])
    if fault in SPOILED and answer.status == 200 and answer.text:
        return _spoil(answer, fault)
    return Outcome(answer, False)


def _spoil(answer: Answer, fault: str) -> Outcome:
    if fault == "truncated":
        return Outcome(replace(answer, text=answer.text[: len(answer.text) // 2]))
    data = json.loads(answer.text)
    key = "request_id" if fault == "other request" else "protocol"
    if not isinstance(data, dict) or key not in data:
        return Outcome(answer, False)
    other = 99 if key == "protocol" else "other"
    return Outcome(replace(answer, text=json.dumps({**data, key: other})))
