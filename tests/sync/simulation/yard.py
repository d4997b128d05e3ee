"""The real server in this process over a real SQLite file, which can lose power and be restored.

A run starts by copying a finished database, so that it takes milliseconds. synchronous=OFF is set
from outside, by a listener beside the Store's own: no test here pulls a plug, and every commit
and rollback is SQLite's own.
"""

import asyncio
import gc
import itertools
import json
import shutil
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from unittest import mock

from sqlalchemy import Connection, event

from qcapp.access.devices import join_device, make_join_code
from qcapp.app import create_app
from qcapp.settings import Settings
from qcapp.store.engine import Store
from tests.builders import NOW, ROOT, open_small_store
from tests.sync.simulation.call import Answer, Call

DEVICES = tuple(f"0197f000-0000-7000-8000-00000000000{n}" for n in (1, 2, 3))


class PowerCut(BaseException):
    """Not an Exception: nothing in the server may catch it, as nothing catches a dead battery."""


class CuttableStore(Store):
    """A Store whose next writer transaction can be made to die at its n-th statement,
    or at its end.
    """

    def __init__(self, url: str) -> None:
        super().__init__(url)
        self.statements_left: int | None = None
        event.listen(
            self.engine, "connect", lambda raw, _record: raw.execute("PRAGMA synchronous=OFF")
        )
        event.listen(self.engine, "before_cursor_execute", self._count)

    def _count(self, connection: Connection, *_rest) -> None:
        if self.statements_left is None or not connection.get_execution_options().get(
            "qcapp_writes"
        ):
            return
        self.statements_left -= 1
        if self.statements_left <= 0:
            self.statements_left = None
            raise PowerCut

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        with super().writing() as connection:
            yield connection
            if self.statements_left is not None:
                # Everything was written, and the commit never came.
                self.statements_left = None
                raise PowerCut


async def run_here(work, *arguments, **_options):
    """Stands for anyio's threads: with one call at a time a thread of its own only costs time."""
    return work(*arguments)


async def ask(app, call: Call, cut_at: int | None = None) -> Answer | None:
    """Speaks ASGI to the app. cut_at: the connection breaks after so many bytes of the body."""
    scope = {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "method": call.method,
        "scheme": "http",
        "path": call.path,
        "raw_path": call.path.encode(),
        "root_path": "",
        "query_string": call.query.encode(),
        "headers": [(name.encode(), value.encode()) for name, value in call.headers.items()],
        "client": ("127.0.0.1", 1),
        "server": ("127.0.0.1", 80),
    }
    whole = {"type": "http.request", "body": call.body, "more_body": False}
    cut = [
        {"type": "http.request", "body": call.body[: cut_at or 0], "more_body": True},
        {"type": "http.disconnect"},
    ]
    incoming = iter([whole] if cut_at is None else cut)
    sent: list[dict] = []

    async def receive() -> dict:
        return next(incoming, {"type": "http.disconnect"})

    async def send(message: dict) -> None:
        sent.append(message)

    try:
        await app(scope, receive, send)
    # The answer never leaves; what the app made of it shows in the database.
    except (PowerCut, Exception):  # noqa: BLE001
        return None
    if not sent:
        return None
    content = b"".join(part.get("body", b"") for part in sent[1:])
    return Answer(
        sent[0]["status"],
        {name.decode(): value.decode() for name, value in sent[0]["headers"]},
        content.decode(),
    )


@dataclass(frozen=True)
class LogRow:
    seq: int
    id: str
    hash: str
    chain: str
    state: str
    device_id: str
    dev_seq: int
    raw: str

    @property
    def is_trail(self) -> bool:
        """Whether the server wrote it about who did what: no phone makes one,
        and none is given to a phone.
        """
        return self.device_id == "server" and json.loads(self.raw)["kind"] == "trail"


class Yard:
    """The server and what surrounds it: its database file, its backups, the true time.

    query: where the checks look for what is kept; before_query runs before it. devices: ids of the
    phones that have joined before the first day.
    """

    devices: Sequence[str] = DEVICES
    query = "SELECT seq, id, hash, chain, state, device_id, dev_seq, raw FROM log ORDER BY seq"
    before_query = "SELECT 1"

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.path, self.template = folder / "yard.db", folder / "template.db"
        made, self.checklist = open_small_store(self.template)
        self.tokens = {device: self._join(made, device) for device in self.devices}
        self.furnish(made)
        made.close()
        self.store = CuttableStore(f"sqlite:///{self.path}")
        self.now = NOW
        settings = Settings(
            static_dir=ROOT / "static",
            checklists_dir=ROOT / "checklists",
            yard_name="Test yard",
            key_file=folder / "key.pem",
        )
        self.app = create_app(settings, self.store, clock=lambda: self.now)
        self.loop = asyncio.new_event_loop()
        self.numbers = itertools.count()
        self.start_again()
        self.reference_tag = json.loads(self.ask(Call.make("GET", "/api/sync/hello")).text)[
            "reference_tag"
        ]

    def furnish(self, store: Store) -> None:
        """What the yard has on its first day besides the small checklist, people and batches."""

    @staticmethod
    def _join(store: Store, device_id: str) -> str:
        code = make_join_code(store, name="Phone", minutes=15, now=NOW)
        return join_device(store, code=code, device_id=device_id, now=NOW).token

    def start_again(self) -> None:
        """As on the first day."""
        self.now = NOW
        self.store.statements_left = None
        self.restore(self.template)

    def close(self) -> None:
        self.store.close()
        self.loop.close()

    def backup(self) -> Path:
        copy = self.folder / f"backup-{next(self.numbers)}.db"
        with self._nobody_inside():
            shutil.copyfile(self.path, copy)
        return copy

    def restore(self, copy: Path) -> None:
        """The file is put back and nobody is told."""
        with self._nobody_inside():
            shutil.copyfile(copy, self.path)

    @contextmanager
    def _nobody_inside(self) -> Iterator[None]:
        """The server lets go of the file; that alone is then the database. It starts again after
        it, and keeps its connections from then on as it does in a yard.
        """
        self.store.close()
        assert not self.path.with_name("yard.db-wal").exists(), "a connection is open"
        yield
        self.store.hold()

    def make_code(self) -> str:
        return make_join_code(self.store, name="Phone again", minutes=15, now=self.now)

    def wait(self, **time) -> None:
        self.now += timedelta(**time)

    @property
    def now_ms(self) -> int:
        return round((self.now - datetime(1970, 1, 1, tzinfo=UTC)).total_seconds() * 1000)

    def ask(self, call: Call, cut_at: int | None = None) -> Answer | None:
        may_cut = self.store.statements_left is not None
        try:
            with mock.patch("anyio.to_thread.run_sync", run_here):
                return self.loop.run_until_complete(ask(self.app, call, cut_at))
        finally:
            if may_cut and self.store.statements_left is None:
                # A dead server holds no file. Here the request that died keeps its connection
                # until the memory that it left is looked through.
                gc.collect()
            self.store.statements_left = None

    def read_log(self) -> list[LogRow]:
        connection = sqlite3.connect(self.path)
        try:
            connection.execute(self.before_query)
            return [LogRow(*row) for row in connection.execute(self.query)]
        finally:
            connection.close()
