"""Phones in Node: the phone's own modules over an IndexedDB in memory (tests/js/phone)."""

import base64
import itertools
import json
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from threading import Lock
from typing import Any
from urllib.parse import urlsplit

from tests.inspection.phone import Script, running_script
from tests.sync.simulation.call import Answer, Call

# Changes to the source of a module: {module: [(what is there once, what stands for it), ...]}.
Edits = Mapping[str, list[tuple[str, str]]]
# No answer came, and the phone's own time limit has passed.
TIMED_OUT = "timed out"
NEVER = 10**9
# Jobs that begin by comparing the database with the counts noted beside it.
NOTING = ("record", "sync", "send_now", "enrol")


class PhoneError(Exception):
    """What a job on the phone threw; `name` is the error's own."""

    def __init__(self, error: Mapping) -> None:
        self.name, self.text_key = error["name"], error.get("text_key")
        super().__init__(f"{error['name']}: {error.get('message')}\n{error.get('stack')}")


@dataclass
class Phones:
    """All phones of a run, in one process. clock: the true time in milliseconds."""

    script: Script
    clock: Callable[[], int] = lambda: 0
    numbers: Iterator[int] = field(default_factory=itertools.count)
    lock: Lock = field(default_factory=Lock)

    def ask(self, task: str, **question) -> dict:
        with self.lock:
            said = self.script.ask(task, **question)
        assert "failed" not in said, f"{task} {question}: {said['failed']}"
        return said

    def forget(self) -> None:
        """For a new run: the same steps then give the same ids."""
        self.numbers = itertools.count()
        self.ask("forget")

    def make(self, name: str, meta: Mapping | None = None, edits: Edits | None = None, **more):
        """A phone with an open page; its database holds `meta`, or is that of a kept profile."""
        number = next(self.numbers)
        phone = Phone(self, number, name, edits or {}, is_packing=number % 2 == 0)
        more |= {"seed": number, "packs": phone.is_packing, "meta": meta, "edits": phone.edits}
        phone.pages[0] = phone.ask("make_phone", **more)["page"]
        return phone


@contextmanager
def running_phones(clock: Callable[[], int] = lambda: 0) -> Iterator[Phones]:
    with running_script("phone/phones_lines.js") as script:
        yield Phones(script, clock)


@dataclass
class Phone:
    """One phone. rows, meta and photos are what its database holds after all that it was asked.

    pages: the tabs that a test speaks of, by their numbers in Node. made: hears of every record
    that this phone has sealed and kept, also of one whose page was killed before it could say so.
    counts: what it has noted beside its database. was_killed: they may lack its last record.
    """

    phones: Phones
    number: int
    name: str
    edits: Edits
    is_packing: bool
    offset_ms: int = 0
    pages: dict[int, int] = field(default_factory=dict)
    busy: dict[int, "Job"] = field(default_factory=dict)
    rows: dict[str, dict] = field(default_factory=dict)
    meta: dict[str, Any] = field(default_factory=dict)
    photos: dict[str, dict] = field(default_factory=dict)
    counts: dict | None = None
    was_killed: bool = False
    made: Callable[[dict], Any] = lambda event: None

    def ask(self, task: str, **question) -> dict:
        now = self.phones.clock()
        clock = {"nowMs": now + self.offset_ms, "passedMs": now}
        said = self.phones.ask(task, phone=self.number, clock=clock, **question)
        self._take(said)
        return said.get("stop") or {}

    def _take(self, said: Mapping) -> None:
        kept = {"events": self.rows, "meta": self.meta, "photos": self.photos}
        for store, changes in (said.get("changes") or {}).items():
            rows = kept.get(store, {})
            for key, row in changes.items():
                if row is None:
                    rows.pop(key, None)
                    continue
                if store == "events" and row["origin"] == "own" and key not in rows:
                    self.made(row["event"])
                rows[key] = row
        self.counts = json.loads(said["counts"]) if said.get("counts") else None

    # --- pages

    def get_page(self, tab: int) -> int:
        """The page of a tab; where an exchange is under way in it, another one takes its place."""
        if tab not in self.pages or self.pages[tab] in self.busy:
            self.open_page(tab)
        return self.pages[tab]

    def open_page(self, tab: int) -> None:
        self.pages[tab] = self.ask("open_page", edits=self.edits)["page"]

    def reload(self) -> None:
        """Its pages are closed, whatever they were doing."""
        self.ask("close_pages")
        self.pages, self.busy = {}, {}

    def note_killed(self, page: int) -> None:
        self.pages = {tab: open_page for tab, open_page in self.pages.items() if open_page != page}
        self.was_killed = True

    def drop_connection(self, tab: int = 0) -> None:
        """The browser closes the page's database and tells nobody."""
        self.ask("drop_connection", page=self.get_page(tab))

    # --- jobs

    def do(self, job: str, *, tab: int = 0, limits: Mapping | None = None, **more) -> Any:
        """A job that needs no network, to its end; None when its page was killed."""
        page = self.pages[tab] if tab in self.pages else self.get_page(tab)
        stop = self.begin(page, job, limits, **more)
        if stop.get("killed"):
            self.note_killed(page)
            return None
        if "error" in stop:
            raise PhoneError(stop["error"])
        return stop.get("value")

    def record(self, **fields) -> dict:
        return self.do("record", fields=fields)

    def save_photo(self, content: bytes) -> str:
        return self.do("save_photo", base64=base64.b64encode(content).decode())

    def list_unsent(self) -> list[dict]:
        return self.do("list_unsent")

    def count_unsent(self) -> int:
        return sum(row["state"] == "unsent" for row in self.rows.values())

    def exchange(self, tab: int = 0, limits: Mapping | None = None, job: str = "sync") -> "Job":
        """job: "send_now" is what the button does, which also offers photos that were refused."""
        page = self.get_page(tab)
        job = Job(self, page, self.begin(page, job, limits))
        if job.call is not None:
            self.busy[page] = job
        return job

    def enrol(self, code: str) -> "Job":
        """In the first tab, also while an exchange is under way in it."""
        page = self.pages[0] if 0 in self.pages else self.get_page(0)
        return Job(self, page, self.begin(page, "enrol", code=code))

    def begin(self, page: int, job: str, limits: Mapping | None = None, **more) -> dict:
        """limits: at which step at the database the page is killed,
        how many writes find no room.
        """
        limits = {"stepsLeft": NEVER, "fullFor": 0} | (limits or {})
        self.was_killed = self.was_killed and job not in NOTING
        return self.ask("begin", page=page, job=job, limits=limits, **more)


class Job:
    """What runs on a page: stands at a call that waits for its answer, or has ended.

    value: what it gave; None when it was killed.
    """

    def __init__(self, phone: Phone, page: int, stop: Mapping) -> None:
        self.phone, self.page = phone, page
        self._stop_at(stop)

    def hear(self, answer: Answer | None, *, has_timed_out: bool = False) -> None:
        said = TIMED_OUT if has_timed_out else answer and vars(answer)
        stop = self.phone.ask("hear", page=self.page, call=self.call.id, answer=said)
        self._stop_at(stop)

    def _stop_at(self, stop: Mapping) -> None:
        self.call = build_call(stop["call"]) if "call" in stop else None
        self.value = stop.get("value")
        self.is_killed = stop.get("killed", False)
        if self.call is None and self.phone.busy.get(self.page) is self:
            del self.phone.busy[self.page]
        if self.is_killed:
            self.phone.note_killed(self.page)
        if "error" in stop:
            raise PhoneError(stop["error"])

    def run(self, ask: Callable[[Call], Answer | None]) -> Any:
        """To its end with nothing in its way."""
        while self.call is not None:
            self.hear(ask(self.call))
        return self.value


def build_call(said: Mapping) -> Call:
    address = urlsplit(said["path"])
    headers = {name.lower(): text for name, text in said["headers"].items()}
    body = base64.b64decode(said["base64"]) if said.get("base64") else b""
    return Call(said["method"], address.path, address.query, headers, body, said["id"])
