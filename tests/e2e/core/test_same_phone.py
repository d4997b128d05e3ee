"""The same story told to the phone's modules in a browser and in Node over an IndexedDB in memory:
the same calls, the same end. So what the fault tests find in Node holds on a phone.
"""

import json
from urllib.parse import parse_qs

import pytest

from tests.e2e.core.fake_yard import FakeYard, as_json, html
from tests.e2e.core.steps import list_rows, other_event, save, sync, yard_answer
from tests.sync.simulation.call import Answer, Call
from tests.sync.simulation.phone import Phones, running_phones

NOW_MS = 1_790_000_000_000

# What happens, in order: a stove saved, an exchange with a trouble for each of its calls, the
# server's log cut back to so many rows (a backup), rows of another phone added.
STORIES = {
    "all well": [("save", "S1"), ("save", "S2"), ("exchange",), ("exchange",)],
    "answer lost": [
        ("save", "S1"),
        ("exchange", "fine", "fine", "lost"),
        ("save", "S2"),
        ("exchange",),
    ],
    "login page, then cut": [
        ("save", "S1"),
        ("exchange", "page"),
        ("exchange", "fine", "cut"),
        ("exchange", "fine", "fine", "cut"),
        ("exchange",),
    ],
    "partial answer": [
        ("save", "S1"),
        ("save", "S2"),
        ("save", "S3"),
        ("exchange", "fine", "fine", "part"),
        ("exchange",),
    ],
    "set aside and retry": [
        ("save", "bad"),
        ("save", "later"),
        ("save", "S1"),
        ("exchange",),
        ("exchange",),
    ],
    "others' rows": [
        ("others", 3),
        ("save", "S1"),
        ("exchange",),
        ("others", 2),
        ("exchange", "fine", "cut"),
        ("exchange",),
    ],
    "restored": [
        ("save", "S1"),
        ("exchange",),
        ("save", "S2"),
        ("exchange",),
        ("cut back", 1),
        ("save", "S3"),
        ("exchange",),
        ("exchange",),
    ],
    "restored and overtaken": [
        ("save", "S1"),
        ("save", "S2"),
        ("exchange",),
        ("cut back", 0),
        ("others", 5),
        ("exchange",),
        ("exchange",),
    ],
    "restored while the answer is lost": [
        ("save", "S1"),
        ("exchange", "fine", "fine", "lost"),
        ("cut back", 0),
        ("others", 1),
        ("exchange",),
    ],
    "busy": [
        ("save", "S1"),
        ("exchange", "fine", "fine", "busy"),
        ("exchange", "busy"),
        ("exchange",),
    ],
    "refused whole": [
        ("save", "S1"),
        ("save", "S2"),
        ("exchange", "fine", "fine", "refused"),
        ("exchange",),
    ],
}


def spoil(error: str, answer):
    if error == "part":
        data = yard_answer(answer)
        return as_json({**data, "results": data["results"][:1]})
    status, headers, content = answer
    return {
        "fine": answer,
        "lost": None,
        "page": html(),
        "cut": (status, headers, content[: len(content) // 2]),
        "busy": (503, {"Retry-After": "1"}, b""),
        "refused": as_json({"error": {"what": "no", "where": "here", "todo": "wait"}}, 400),
    }[error]


class Story:
    """Tells a story to a phone that talks to `yard` and writes down the phone's calls."""

    def __init__(self, yard: FakeYard) -> None:
        self.yard, self.calls, self.errors, self.numbers = yard, [], [], iter(range(1, 100))
        yard.judge = self._judge
        yard.disturb = self._disturb

    def _judge(self, event: dict):
        return {"bad": ("quarantined", "unknown batch"), "later": ("retry", "too large")}.get(
            event["stove"], ("created", None)
        )

    def _disturb(self, method, path, request, answer):
        wish = json.loads(request) if request else {}
        have = wish.get("have")
        self.calls.append(
            (
                method,
                path,
                len(wish.get("events", [])),
                have and have["seq"],
                *(wish.get("device", {}).get(key) for key in ("created", "acked")),
            )
        )
        return spoil(self.errors.pop(0) if self.errors else "fine", answer)

    def tell(self, story: list, save, exchange) -> list:
        for word, *rest in story:
            if word == "save":
                save(rest[0])
            elif word == "exchange":
                self.errors = list(rest)
                self.calls.append(exchange())
            elif word == "cut back":
                del self.yard.log[rest[0] :]
            else:
                for _ in range(rest[0]):
                    self.yard.append(other_event(next(self.numbers)))
        return self.calls


def tell_browser(page, yard: FakeYard, story: list) -> tuple[list, dict]:
    def exchange():
        done = sync(page)
        return done["status"], done["sent"], done["left"]

    calls = Story(yard).tell(story, lambda stove: save(page, stove), exchange)
    return calls, sum_up(list_rows(page), page.evaluate("core.readMeta(['have', 'cursor'])"))


def tell_node(phones: Phones, yard: FakeYard, story: list) -> tuple[list, dict]:
    device = "0197f000-0000-7000-8000-0000000000aa"
    phone = phones.make("phone", {"device_id": device, "dev_seq": 0, "token": f"of {device}"})

    def ask(call: Call) -> Answer | None:
        body = json.dumps(call.json).encode() if call.body else b""
        headers = {"Authorization": call.headers["authorization"]}
        answer = yard.answer(call.method, call.path, parse_qs(call.query), headers, body)
        answer = yard.disturb(call.method, call.path, body, answer)
        return answer and Answer(answer[0], answer[1], answer[2].decode())

    def exchange():
        done = phone.exchange().run(ask)
        return done["status"], done["sent"], done["left"]

    def record(stove: str) -> None:
        phone.record(
            kind="inspection",
            inspector="I1",
            batch="B1",
            stage="finished",
            stove=stove,
            checklist="finished-stove@1",
            checklist_hash="0" * 64,
            body={"size": "medium"},
        )

    calls = Story(yard).tell(story, record, exchange)
    return calls, sum_up(list(phone.rows.values()), phone.meta)


def sum_up(rows: list[dict], meta: dict) -> dict:
    """What can be compared: ids and hashes differ between the two."""
    kept = {
        row["event"]["stove"]: tuple(
            row.get(key) for key in ("origin", "state", "outcome", "reason", "seq", "key")
        )
        for row in rows
    }
    have = meta.get("have")
    return {
        "rows": kept,
        "have": have and have["seq"],
        "cursor": (meta.get("cursor") or "").partition(":")[0],
    }


@pytest.fixture(scope="module")
def phones():
    with running_phones(lambda: NOW_MS) as made:
        yield made


@pytest.mark.parametrize("name", STORIES)
def test_phone_does_the_same_in_browser_and_node(paired, yard, checkout, phones, name):
    in_browser = tell_browser(paired, yard, STORIES[name])
    other = FakeYard(checkout / "static")
    other.stop()
    assert tell_node(phones, other, STORIES[name]) == in_browser
