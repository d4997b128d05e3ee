"""What was kept of a version: a yard's database, a phone, its file, and what went over the wire."""

import asyncio
import base64
import json
import lzma
from collections import defaultdict, deque
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from unittest import mock

from qcapp.app import create_app
from qcapp.settings import Settings
from qcapp.store.engine import Store
from qcapp.store.log import get_head
from qcapp.store.queries.batch_figures import list_stoves
from qcapp.store.queries.overview import count_yard
from qcapp.store.registry.batches import list_batches
from qcapp.store.upkeep.audit import audit_store
from qcapp.usecases.open_store import open_store
from tests.builders import ROOT
from tests.sync.simulation.call import Answer, Call
from tests.sync.simulation.yard import ask, run_here

FOLDER = Path(__file__).resolve().parent
KEPT_AT = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
LATER = KEPT_AT + timedelta(days=1)
DATABASE, KEY, FILE, PHONE, WIRE, NOTED = (
    "yard.db.xz",
    "signing_key.txt",
    "unsent.qcrecords.xz",
    "phone.json.xz",
    "wire.json.xz",
    "noted.json",
)


def list_versions() -> list[str]:
    return sorted(path.parent.name for path in FOLDER.glob(f"*/{NOTED}"))


def write_packed(path: Path, content: bytes) -> None:
    path.write_bytes(lzma.compress(content, preset=9))


def read_packed(version: str, name: str) -> bytes:
    return lzma.decompress((FOLDER / version / name).read_bytes())


@dataclass
class Server:
    """The app of this checkout in this process, over one database."""

    store: Store
    app: Any
    loop: asyncio.AbstractEventLoop

    def ask(self, call: Call) -> Answer | None:
        with mock.patch("anyio.to_thread.run_sync", run_here):
            return self.loop.run_until_complete(ask(self.app, call))


@contextmanager
def running_server(folder: Path, now: datetime = LATER) -> Iterator[Server]:
    """Over the folder's yard.db, opened as the start of a server opens it."""
    settings = Settings(
        database_url=f"sqlite:///{folder / 'yard.db'}",
        static_dir=ROOT / "static",
        checklists_dir=ROOT / "checklists",
        yard_name="Kept yard",
        key_file=folder / KEY,
    )
    store = open_store(settings, clock=lambda: now)
    loop = asyncio.new_event_loop()
    try:
        yield Server(store, create_app(settings, store, clock=lambda: now), loop)
    finally:
        store.close()
        loop.close()


def note_figures(store: Store) -> dict[str, Any]:
    """What a newer program must find again in a kept database."""
    audit = audit_store(store)
    with store.reading() as connection:
        head = get_head(connection)
        whole = count_yard(connection, silent_before="2026-01-01T00:00:00.000Z")
        stoves = [
            [row.batch, row.serial, row.inspections, bool(row.has_first_pass_fail), row.disposition]
            for batch in list_batches(connection)
            for row in list_stoves(connection, batch["code"])
        ]
    return {
        "seq": head.seq,
        "chain": head.chain,
        "altered": [str(one) for one in audit.altered],
        "signed": audit.signed,
        "unsigned": audit.unsigned,
        "held_back": audit.quarantined,
        "yard": {key: whole[key] for key in ("inspected", "failed", "quarantined", "held")},
        "stoves": stoves,
    }


@dataclass
class Exchange:
    """One call of a phone and the server's answer to it."""

    call: Call
    answer: Answer

    def pack(self) -> dict[str, Any]:
        call = {key: value for key, value in vars(self.call).items() if key not in ("id", "json")}
        body = base64.b64encode(self.call.body).decode()
        return {"call": {**call, "body": body}, "answer": vars(self.answer)}


def read_wire(version: str, part: str) -> list[Exchange]:
    """part: "joining", a new phone's first exchange, or "sending", the kept phone's last."""
    return [
        Exchange(
            Call(**{**said["call"], "body": base64.b64decode(said["call"]["body"])}),
            Answer(**said["answer"]),
        )
        for said in json.loads(read_packed(version, WIRE))[part]
    ]


# What an answer repeats of the call, by path.
ECHOED = {"/api/sync/push": ("request_id",), "/api/devices/enrol": ("device_id",)}


class RecordedServer:
    """Answers as the kept server did, each kind of call in the order in which it came."""

    def __init__(self, wire: list[Exchange]) -> None:
        self.answers: Mapping[tuple[str, str], deque[Exchange]] = defaultdict(deque)
        for one in wire:
            self.answers[one.call.method, one.call.path].append(one)

    def ask(self, call: Call) -> Answer | None:
        """What it was never asked, it does not know: 404."""
        waiting = self.answers[call.method, call.path]
        if not waiting:
            return Answer(404, {}, '{"error": {"what": "no", "where": "here", "todo": "wait"}}')
        kept = waiting.popleft()
        if call.path not in ECHOED:
            return kept.answer
        own = {key: call.json[key] for key in ECHOED[call.path]}
        text = json.dumps({**json.loads(kept.answer.text), **own})
        return Answer(kept.answer.status, kept.answer.headers, text)
