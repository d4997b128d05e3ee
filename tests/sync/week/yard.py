"""The week's server: more people and batches, a checklist that changes, and what reached it."""

import copy
import json
from collections import Counter
from pathlib import Path
from types import SimpleNamespace
from unittest import mock

from qcapp.access.devices import revoke_device
from qcapp.checklist.model import Checklist
from qcapp.store.engine import Store
from qcapp.store.log import chain
from qcapp.store.registry.batches import save_batches
from qcapp.store.registry.checklists import publish_checklist
from qcapp.store.registry.drawings import keep_drawings
from qcapp.store.registry.people import save_people
from qcapp.store.timestamps import format_timestamp
from qcapp.sync.export_file import parse_export_file
from qcapp.sync.import_file import import_export_file
from qcapp.sync.push import IMPORTED
from qcapp.sync.restore_marker import note_restore
from qcapp.usecases.open_store import read_shown
from tests.builders import BATCHES, PEOPLE, ROOT, build_small_checklist
from tests.sync.simulation.call import Answer, Call
from tests.sync.simulation.yard import Yard

INSPECTORS = ("I01", "I02", "I03", "I04")
OPEN_BATCHES = ("B1", "B2", "B3")
Key = tuple[str, str]


def build_second_revision() -> Checklist:
    """The small checklist with one check more."""
    compiled = copy.deepcopy(build_small_checklist(2).compiled())
    dents = next(check for check in compiled["checks"] if check["id"] == "dents")
    handle = {**copy.deepcopy(dents), "id": "handle-firm", "severity": "major"}
    compiled["checks"].append(handle)
    return Checklist.from_compiled(compiled)


class WeekYard(Yard):
    """arrived: how often each sealed record reached the server, by (id, hash), over the wire and
    by file. cut_off: how often one was on its way into a transaction that the power ended.
    revisions: the number of the checklist's revision by the tag of the reference that brought it.
    """

    devices = ()

    def __init__(self, folder: Path) -> None:
        """The server's identity draws the stoves to be looked at twice, which phones then fetch."""
        fixed = SimpleNamespace(token_hex=lambda length: "5f" * length)
        with mock.patch.object(chain, "secrets", fixed):
            super().__init__(folder)

    def furnish(self, store: Store) -> None:
        inspector = next(person for person in PEOPLE if person["code"] == "I01")
        first = next(batch for batch in BATCHES if batch["code"] == "B1")
        with store.writing() as connection:
            save_people(connection, [{**inspector, "code": code} for code in INSPECTORS[1:]])
            save_batches(
                connection,
                [
                    {**first, "code": code, "title": code, "serial_prefix": f"{code}-"}
                    for code in OPEN_BATCHES[1:]
                ],
            )

    def start_again(self) -> None:
        super().start_again()
        self.arrived: Counter[Key] = Counter()
        self.by_file: Counter[Key] = Counter()
        self.pushes = self.cut_off = 0
        self.revisions: dict[str, int] = {}
        self.has_second = False

    def ask(self, call: Call, cut_at: int | None = None) -> Answer | None:
        answer = super().ask(call, cut_at)
        if call.path == "/api/sync/push" and cut_at is None:
            self._note_push(call, answer)
        elif call.path == "/api/sync/reference" and answer and answer.status == 200:
            reference = json.loads(answer.text)
            numbers = [one["compiled"]["revision"] for one in reference["checklists"]]
            self.revisions[reference["tag"]] = max(numbers)
        return answer

    def _note_push(self, call: Call, answer: Answer | None) -> None:
        keys = [(event["id"], event["hash"]) for event in call.json["events"]]
        if answer is None:
            self.cut_off += len(keys)
        elif answer.status == 200:
            self.pushes += 1
            self.arrived.update(keys)

    # --- what the lead does

    def take_file(self, text: str) -> None:
        """A hand-over file, brought to the laptop."""
        events = json.loads(text)["events"]
        import_export_file(
            self.store, parse_export_file(text.encode()), relayed_by=IMPORTED, now=self.now
        )
        self.by_file.update((event["id"], event["hash"]) for event in events)

    def publish_second(self) -> None:
        """As the start of a server does from its folder; again after each restore."""
        checklist = build_second_revision()
        self.has_second = True
        with self.store.writing() as connection:
            publish_checklist(connection, checklist, origin="file", now=format_timestamp(self.now))
            shown = read_shown(ROOT / "checklists", checklist)
            keep_drawings(connection, checklist.hash, shown)

    def put_back(self, copy_path, *, is_told: bool) -> None:
        """An older database; the server starts on it and publishes its folder's checklists."""
        self.restore(copy_path)
        if self.has_second:
            self.publish_second()
        if is_told:
            note_restore(self.store, by="lead", now=self.now)

    def revoke(self, device_id: str) -> None:
        revoke_device(self.store, device_id, now=self.now)
