"""One exchange of a phone, in Python: a reading of static/phone/js/sync/sync.js.

It is a generator: it yields each Call and is sent the Answer (None: no answer came). So a test
decides what happens on the way, and two tabs can be half-way through an exchange at once.
"""

import math
import time
from collections.abc import Callable, Generator, Mapping
from dataclasses import dataclass, field
from typing import Any

from tests.sync.twin.call import Answer, Call, Heard, classify, fill_batch, next_size
from tests.sync.twin.memory import Memory, as_iso, is_same_position

PROTOCOL = 1
MAX_RESTORES = 3
MAX_ASIDE = 20
GREETING_MS = 300_000


class Stop(Exception):
    def __init__(self, heard: Heard) -> None:
        super().__init__(heard.kind)
        self.heard = heard


Talk = Generator[Call, Answer | None, dict]


def is_position(head: Any) -> bool:
    return (
        isinstance(head, dict)
        and isinstance(head.get("seq"), int)
        and isinstance(head.get("chain"), str)
    )


@dataclass
class Run:
    token: str | None = None
    device_id: str | None = None
    sent: int = 0
    restores: int = 0
    quarantined: set[str] = field(default_factory=set)


@dataclass
class Tab:
    """A page of the app over the phone's memory. The sizes are smaller in tests, so that few
    records make many batches and pages."""

    memory: Memory
    make_request_id: Callable[[], str]
    batch_size: int = 50
    pull_limit: int = 200
    piece_bytes: int = 32_768
    greeting: dict | None = None
    # Milliseconds that only go forward, whatever is done to the phone's clock.
    passed: Callable[[], float] = lambda: time.monotonic() * 1000

    def enrol(self, code: str) -> Talk:
        memory = self.memory
        memory.start_device()
        device_id = memory.meta["device_id"]
        heard = yield from self._call(
            Call(
                "POST",
                "/api/devices/enrol",
                json={"code": code, "device_id": device_id, "created": memory.meta["dev_seq"]},
            ),
            lambda data: (
                data.get("device_id") == device_id
                and bool(data.get("token"))
                and bool(data.get("server_id"))
            ),
        )
        if heard.kind != "ok":
            return {"status": heard.kind}
        memory.meet_server(heard.data["server_id"])
        memory.meta |= {"device_name": heard.data["name"], "token": heard.data["token"]}
        self.greeting = self.greeting and {**self.greeting, "at": -math.inf}
        return {"status": "enrolled"}

    def exchange(self) -> Talk:
        run, stopped, memory = Run(), Heard("ok"), self.memory
        try:
            memory.start_device()
            memory.record_loss()
            run.token, run.device_id = memory.meta.get("token"), memory.meta["device_id"]
            if not run.token:
                raise Stop(Heard("pair-again"))
            for part in (self._greet, self._push_all, self._pull_all, self._send_photos):
                yield from part(run)
            memory.prune_records()
        except Stop as stop:
            stopped = stop.heard
        left = len(memory.list_unsent())
        if run.device_id:
            # A page closed before its first line has no id to note.
            memory.note_canary(
                device_id=run.device_id,
                acked=max(0, memory.meta["dev_seq"] - memory.count_unsent()),
            )
        return {"status": stopped.kind, "sent": run.sent, "left": left}

    def _call(
        self, call: Call, accepts: Callable[[dict], bool] | None
    ) -> Generator[Call, Answer | None, Heard]:
        answer = yield call
        return Heard("not-connected") if answer is None else classify(answer, accepts)

    def _must(
        self, run: Run, path: str, accepts: Callable[[dict], bool], query: str = ""
    ) -> Generator[Call, Answer | None, dict]:
        heard = yield from self._call(Call("GET", path, run.token, query=query), accepts)
        if heard.kind != "ok":
            raise Stop(heard)
        return heard.data

    # --- greeting

    def _greet(self, run: Run):
        if self.greeting and self.passed() - self.greeting["at"] < GREETING_MS:
            return
        hello = yield from self._must(
            run,
            "/api/sync/hello",
            lambda data: (
                isinstance(data.get("protocols"), list)
                and is_position(data.get("head"))
                and isinstance(data.get("server_id"), str)
            ),
        )
        if PROTOCOL not in hello["protocols"]:
            raise Stop(Heard("other-protocol"))
        self.memory.meet_server(hello["server_id"])
        if hello.get("reference_tag") != self.memory.meta.get("reference_tag"):
            reference = yield from self._must(
                run,
                "/api/sync/reference",
                lambda data: (
                    isinstance(data.get("tag"), str)
                    and all(isinstance(data.get(key), list) for key in ("checklists", "batches"))
                ),
            )
            self.memory.meta["reference_tag"] = reference["tag"]
        self.greeting = {"at": self.passed(), "hello": hello}

    # --- push

    def _push_all(self, run: Run):
        have = self.memory.meta.get("have")
        must_compare = bool(have) and not is_same_position(have, self.greeting["hello"]["head"])
        while True:
            waiting = self.memory.list_unsent(self.batch_size + len(run.quarantined))
            batch = fill_batch(
                [row for row in waiting if row["id"] not in run.quarantined], self.batch_size
            )
            if not batch and not must_compare:
                return
            asked_have = self.memory.meta.get("have")
            heard = yield from self._push_once(run, batch, asked_have)
            if batch:
                self.batch_size = next_size(self.batch_size, len(batch), heard)
            if heard.kind == "ok":
                yield from self._take_push(run, batch, heard.data, asked_have)
                must_compare = False
            elif heard.kind in ("too-large", "refused") and batch:
                self._set_aside(run, batch, heard)
            else:
                raise Stop(heard)

    def _set_aside(self, run: Run, batch: list[dict], heard: Heard) -> None:
        if len(batch) > 1:
            return
        run.quarantined.add(batch[0]["id"])
        if len(run.quarantined) > MAX_ASIDE:
            raise Stop(heard)

    def _push_once(self, run: Run, batch: list[dict], have: Mapping | None):
        memory, request_id = self.memory, self.make_request_id()
        left, created = memory.count_unsent(), memory.meta["dev_seq"]
        wish = {
            "protocol": PROTOCOL,
            "request_id": request_id,
            "have": have,
            "device": {
                "id": run.device_id,
                "created": created,
                "acked": max(0, created - left),
                "clock": as_iso(memory.clock()),
            },
            "events": [row["event"] for row in batch],
        }
        return (
            yield from self._call(
                Call("POST", "/api/sync/push", run.token, json=wish),
                lambda data: (
                    data.get("protocol") == PROTOCOL
                    and data.get("request_id") == request_id
                    and data.get("lineage") in ("ok", "diverged")
                    and is_position(data.get("head"))
                    and isinstance(data.get("results"), list)
                ),
            )
        )

    def _take_push(self, run: Run, batch: list[dict], data: dict, have: Mapping | None):
        if data["lineage"] == "diverged":
            yield from self._offer_again(run)
            return
        ids = {row["id"] for row in batch}
        settled = self.memory.acknowledge(data["results"], ids, have, data["head"])
        if settled is None:
            raise Stop(Heard("not-connected"))
        self.greeting["hello"]["head"] = data["head"]
        run.sent += len(settled)
        named = {
            result.get("id") for result in data["results"] if result.get("outcome") is not None
        }
        run.quarantined |= {key for key in ids if not settled or key in named}

    # --- pull

    def _pull_all(self, run: Run):
        while True:
            have, cursor = self.memory.meta.get("have"), self.memory.meta.get("cursor", "")
            page = yield from self._must(
                run,
                "/api/sync/pull",
                lambda data: (
                    data.get("protocol") == PROTOCOL
                    and data.get("lineage") in ("ok", "diverged")
                    and isinstance(data.get("events"), list)
                    and isinstance(data.get("cursor"), str)
                ),
                query=(
                    f"cursor={cursor.replace(':', '%3A')}"
                    f"&limit={self.pull_limit}&device={run.device_id}"
                ),
            )
            if page["lineage"] == "diverged":
                yield from self._offer_again(run)
                yield from self._push_all(run)
                continue
            if self.memory.merge_pulled(page["events"], page["cursor"], have, cursor):
                raise Stop(Heard("not-connected"))
            if not page["more"]:
                return

    def _offer_again(self, run: Run):
        run.restores += 1
        if run.restores > MAX_RESTORES:
            raise Stop(Heard("not-connected"))
        run.quarantined.clear()
        self.memory.forget_acknowledgements()
        self.greeting = None
        yield from self._greet(run)

    # --- photos

    def _send_photos(self, run: Run):
        memory = self.memory
        for name in memory.list_unsent_photos():
            is_whole, reason = yield from self._send_pieces(
                run, f"/api/photos/{name}", memory.photos[name]["bytes"]
            )
            if is_whole or reason:
                memory.photos[name]["state"] = "refused" if reason else "sent"

    def _send_pieces(self, run: Run, path: str, content: bytes):
        """Whether the server has all of it, or why it will not take it."""
        heard = yield from self._call(Call("HEAD", path, run.token), None)
        for _ in range(2 * -(-len(content) // self.piece_bytes) + 2):
            if heard.kind in ("refused", "too-large"):
                return False, (heard.error or {}).get("reason") or {"code": "refused", "params": {}}
            if heard.kind not in ("ok", "offset"):
                raise Stop(heard)
            if heard.offset >= len(content):
                return heard.kind == "ok", None
            piece = content[heard.offset : heard.offset + self.piece_bytes]
            headers = {"upload-length": str(len(content)), "upload-offset": str(heard.offset)}
            heard = yield from self._call(
                Call("PATCH", path, run.token, content=piece, headers=headers), None
            )
        return False, None
