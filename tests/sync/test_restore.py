"""A server put back from an old backup is healed by every phone, also after others wrote on."""

import json
from dataclasses import dataclass, field

import pytest
from fastapi.testclient import TestClient

from qcapp.app import create_app
from qcapp.errors import Clash
from qcapp.settings import Settings
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.store.upkeep.backup import back_up, restore
from tests.builders import NOW, ROOT, Phone, Yard, build_push, open_small_store
from tests.store.test_projections import dump

IDS = [f"0197f000-0000-7000-8000-0000000000{n}" for n in ("a1", "b2", "c3")]
KEPT = ("created", "duplicate", "quarantined", "conflict")


@dataclass
class Pocket:
    """A phone as far as this matters: it keeps all it made,
    and offers all again when the log is another one.
    """

    phone: Phone
    headers: dict
    made: list = field(default_factory=list)
    unsent: list = field(default_factory=list)
    have: dict | None = None

    def inspect(self, stove, **more):
        event = self.phone.inspect(stove, **more)
        self.made.append(event)
        self.unsent.append(event)

    def sync(self, client, size=2):
        for _ in range(50):
            batch = self.unsent[:size]
            answer = client.post(
                "/api/sync/push", json=build_push(batch, have=self.have), headers=self.headers
            ).json()
            if answer["lineage"] == "diverged":
                self.have, self.unsent = None, list(self.made)
                continue
            kept = {result["id"] for result in answer["results"] if result["outcome"] in KEPT}
            self.unsent = [event for event in self.unsent if event["id"] not in kept]
            self.have = answer["head"]
            if not self.unsent:
                return
        raise AssertionError("the phone never came to rest")


class Server:
    """The real app over a file; can be stopped, put back and started again."""

    def __init__(self, folder):
        self.path = folder / "yard.db"
        self.url = f"sqlite:///{self.path}"
        self.settings = Settings(
            static_dir=ROOT / "static", checklists_dir=ROOT / "checklists", database_url=self.url
        )
        self.checklist = open_small_store(self.path)[1]
        self.start()

    def start(self):
        self.store = Store(self.url)
        self.client = TestClient(create_app(self.settings, self.store, clock=lambda: NOW))
        self.client.__enter__()

    def put_back(self, file):
        self.client.__exit__(None, None, None)
        done = restore(self.url, file, now=NOW)
        self.start()
        return done

    def list_ids(self):
        with self.store.reading() as connection:
            assert log.find_broken_link(connection) is None
            return [json.loads(row.raw)["id"] for row in log.list_after(connection, 0, None)]


def test_every_phone_heals_a_server_put_back_even_after_others_wrote_on(tmp_path):
    server = Server(tmp_path)
    yard = Yard(server.client, server.store, server.checklist, None, {})
    phones = [Pocket(Phone(server.checklist, device_id), yard.pair(device_id)) for device_id in IDS]
    for n, pocket in enumerate(phones):
        for stove in range(3):
            pocket.inspect(f"B1-{n}{stove}", maker="A77" if stove == 1 else "A01")
        pocket.sync(server.client)
    back_up(server.url, tmp_path / "old.db")
    for n, pocket in enumerate(phones):
        for stove in range(3, 7):
            pocket.inspect(f"B1-{n}{stove}")
        pocket.sync(server.client)
    before_ids, before = sorted(server.list_ids()), dump(server.store)
    assert len(before_ids) == 21

    assert server.put_back(tmp_path / "old.db").found.seq == 9
    # The first phone writes on, past every number that the others have seen.
    for stove in range(7, 30):
        phones[0].inspect(f"B1-9{stove:02d}")
    phones[0].sync(server.client, size=100)
    assert len(server.list_ids()) > 21
    for pocket in phones[1:]:
        pocket.sync(server.client)

    made = sorted(event["id"] for pocket in phones for event in pocket.made)
    assert sorted(server.list_ids()) == made and set(before_ids) < set(made)
    stoves = {row.stove_key: row for row in dump(server.store)[0]}
    assert all(stoves[row.stove_key] == row for row in before[0])
    server.client.__exit__(None, None, None)


def test_phone_that_meets_an_untouched_backup_offers_all_again(tmp_path):
    server = Server(tmp_path)
    yard = Yard(server.client, server.store, server.checklist, None, {})
    pocket = Pocket(Phone(server.checklist, IDS[0]), yard.pair(IDS[0]))
    back_up(server.url, tmp_path / "old.db")
    pocket.inspect("B1-001")
    pocket.sync(server.client)
    server.put_back(tmp_path / "old.db")
    assert server.list_ids() == []
    pocket.sync(server.client)
    assert server.list_ids() == [event["id"] for event in pocket.made]
    server.client.__exit__(None, None, None)


def test_running_server_refuses_to_be_replaced(tmp_path):
    server = Server(tmp_path)
    back_up(server.url, tmp_path / "old.db")
    with pytest.raises(Clash):
        restore(server.url, tmp_path / "old.db", now=NOW)
    server.put_back(tmp_path / "old.db")
    server.client.__exit__(None, None, None)
