"""A real server process on loopback that a test can stop and start again."""

import json
import os
import socket
import subprocess
import sys
import time
import urllib.request
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from playwright.sync_api import BrowserContext

from qcapp.access.devices import make_join_code
from qcapp.lan.authority import make_authority, read_ranges
from qcapp.lan.folder import create_lan
from qcapp.lan.origin import make_origin
from qcapp.settings import Settings
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.store.registry.batches import save_batches
from qcapp.store.registry.checklists import get_current_checklist
from qcapp.store.registry.people import save_people
from qcapp.usecases.open_store import open_store
from tests.builders import make_cookie

ROOT = Path(__file__).resolve().parent.parent.parent
PEOPLE = [
    {
        "code": "A01",
        "name": "Ano",
        "trades": ["metalwork"],
        "started_on": "2015-01-01",
        "is_inspector": False,
    },
    {
        "code": "A02",
        "name": "Beda",
        "trades": ["metalwork"],
        "started_on": "2026-10-01",
        "is_inspector": False,
    },
    {
        "code": "A03",
        "name": "Dodo",
        "trades": ["clay", "firing"],
        "started_on": "2015-01-01",
        "is_inspector": False,
    },
    {
        "code": "A04",
        "name": "Efa",
        "trades": ["assembly", "paint"],
        "started_on": "2015-01-01",
        "is_inspector": False,
    },
    {"code": "I01", "name": "Ciro", "trades": [], "started_on": None, "is_inspector": True},
]
BATCH = {
    "code": "B1",
    "title": "First batch",
    "size": "medium",
    "planned": 20,
    "attributes": {"painted": False},
    "crew": {"metalwork": "A01", "clay": "A03", "firing": "A03", "assembly": "A04", "paint": "A04"},
    "checklist_ids": ["finished-stove"],
    "serial_prefix": "B1-",
    "opened_on": "2026-11-01",
    "closed_at": None,
}


def open_small_yard(folder: Path, **more) -> "YardServer":
    """A server over a fresh database with five people and one open batch; more: other settings."""
    settings = Settings(
        database_url=f"sqlite:///{folder / 'yard.db'}",
        yard_name="Test yard",
        key_file=folder / "key.pem",
        **more,
    )
    store = open_store(settings)
    with store.writing() as connection:
        save_people(connection, PEOPLE)
        save_batches(connection, [BATCH])
    store.close()
    return YardServer(settings, folder)


def read_checklist(server: "YardServer", checklist_id: str) -> dict:
    """The compiled checklist as the server gives it to phones."""
    store = server.open_store()
    with store.reading() as connection:
        found = get_current_checklist(connection, checklist_id).compiled()
    store.close()
    return found


class YardServer:
    """`python -m qcapp serve` over the settings' database, within `with` or from start() to stop();
    its log is kept in `folder`.
    """

    words: tuple[str, ...] = ("serve",)

    def __init__(self, settings: Settings, folder: Path) -> None:
        self.settings = settings
        self.surroundings: dict[str, str] = {}
        self.log_path = folder / "server.log"
        self.port = find_free_port()
        self.address = f"http://127.0.0.1:{self.port}"
        self.process: subprocess.Popen | None = None

    def __enter__(self) -> "YardServer":
        self.start()
        return self

    def __exit__(self, *_trouble) -> None:
        self.stop()

    def start(self) -> None:
        """Returns when it answers; shows its log when it ends early."""
        environment = {
            **os.environ,
            "QCAPP_DATABASE_URL": self.settings.database_url,
            "QCAPP_YARD_NAME": self.settings.yard_name,
            "QCAPP_CHECKLISTS_DIR": str(self.settings.checklists_dir),
            "QCAPP_STATIC_DIR": str(self.settings.static_dir),
            "QCAPP_KEY_FILE": str(self.settings.key_file),
            "PYTHONPATH": str(ROOT),
            **self.surroundings,
        }
        with self.log_path.open("ab") as output:
            command = [sys.executable, "-m", "qcapp", *self.words, "--port", str(self.port)]
            self.process = subprocess.Popen(
                command, env=environment, stdout=output, stderr=output, cwd=ROOT
            )
        # A minute: on a busy machine a start alone may take twenty seconds.
        for _ in range(600):
            if self.process.poll() is not None:
                raise AssertionError(f"the server ended early:\n{self.log_path.read_text()}")
            try:
                urllib.request.urlopen(f"{self.address}/api/sync/hello", timeout=2).read()
                return
            except OSError:
                time.sleep(0.1)
        self.stop()
        raise AssertionError(f"the server did not answer:\n{self.log_path.read_text()}")

    def stop(self) -> None:
        if self.process is not None:
            self.process.terminate()
            self.process.wait(20)
            self.process = None

    def make_code(self, name: str = "Phone 1", buyer_batch: str | None = None) -> str:
        """buyer_batch: for a phone of the buyer's inspector."""
        store = Store(self.settings.database_url)
        code = make_join_code(
            store, name=name, minutes=15, now=datetime.now(UTC), buyer_batch=buyer_batch
        )
        store.close()
        return code

    def sign_in(self, context: BrowserContext, role: str = "yard_lead") -> None:
        """Gives the browser a session's cookie, as a sign-in would."""
        store = Store(self.settings.database_url)
        cookie = make_cookie(store, role=role, now=datetime.now(UTC))
        store.close()
        context.add_cookies(
            [
                {
                    "name": "qcapp",
                    "value": cookie,
                    "url": self.address,
                    "httpOnly": True,
                    "sameSite": "Lax",
                }
            ]
        )

    def open_store(self) -> Store:
        return Store(self.settings.database_url)

    def read_log(self) -> list[tuple[str, dict]]:
        """(state, event) of each record, in the log's order."""
        with closing(self.open_store()) as store, store.reading() as connection:
            return [(row.state, json.loads(row.raw)) for row in log.list_after(connection, 0, None)]

    def list_events(self, kind: str) -> list[dict]:
        return [event for _state, event in self.read_log() if event["kind"] == kind]


def find_free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


class LaptopServer(YardServer):
    """`python -m qcapp start` with a new yard in a home of its own, which lets phones in at an
    address of this machine.
    """

    words = ("start", "--no-browser")

    def __init__(self, home: Path, address: str = "127.0.42.1") -> None:
        settings = Settings(database_url=f"sqlite:///{home / 'qcapp.db'}", yard_name="Test yard")
        open_store(settings).close()
        super().__init__(settings.model_copy(update={"key_file": home / "key.pem"}), home)
        self.surroundings = {"HOME": str(home), "XDG_DATA_HOME": str(home)}
        now = datetime.now(UTC)
        origin = make_origin(host=address, port=find_free_port(), bootstrap_port=find_free_port())
        authority = make_authority(ranges=read_ranges([], address), name="yard.lan", now=now)
        lan = home / "qcapp" / "qcapp-lan"
        create_lan(lan, authority=authority, origin=origin, now=now)
