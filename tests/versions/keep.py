"""python3 -m tests.versions.keep: keeps a yard, a phone and its calls of the version as it is now.

Refuses a version that is kept already: what was kept once is what phones and yards really hold.
"""

import json
import shutil
import sys
import tempfile
from pathlib import Path

import qcapp
from qcapp.access.devices import make_join_code
from qcapp.access.summary_links import make_summary_link
from qcapp.settings import Settings
from qcapp.store.engine import Store
from qcapp.store.registry.batches import get_batch
from qcapp.sync.quarantine import list_records
from qcapp.sync.quarantine_decisions import accept, reject
from qcapp.usecases.issue_summary import issue_summary
from qcapp.usecases.manage_accounts import invite
from tests.builders import build_small_checklist, open_small_store
from tests.sync.simulation.phone import Job, Phone, Phones, running_phones
from tests.sync.simulation.records import Records, build_photos, build_records
from tests.versions import kept
from tests.versions.kept import KEPT_AT, Exchange, Server, running_server

NOW_MS = round(KEPT_AT.timestamp() * 1000)


def main() -> None:
    folder = kept.FOLDER / qcapp.__version__
    if folder.exists():
        sys.exit(f"{folder.name} is kept already; a change needs a new version in pyproject.toml")
    with tempfile.TemporaryDirectory() as scratch, running_phones(lambda: NOW_MS) as phones:
        made = Path(scratch) / "made"
        made.mkdir()
        keep(made, Path(scratch), phones)
        shutil.move(made, folder)
    size = sum(path.stat().st_size for path in folder.iterdir())
    print(f"{folder}: {size:,} bytes")


def keep(made: Path, scratch: Path, phones: Phones) -> None:
    store, _checklist = open_small_store(scratch / "yard.db")
    store.close()
    records = build_records(build_small_checklist())
    with running_server(scratch, KEPT_AT) as server:
        phone, joining = fill_yard(server, phones, records)
        lead_decides(server.store, scratch)
        figures = kept.note_figures(server.store)
        server.store.close()
        kept.write_packed(made / kept.DATABASE, (scratch / "yard.db").read_bytes())
        shutil.copyfile(scratch / kept.KEY, made / kept.KEY)
        waiting = record_unsent(phone, records)
        kept.write_packed(made / kept.FILE, phone.do("export_file").encode())
        profile = phone.ask("export_profile")
        kept.write_packed(made / kept.PHONE, json.dumps(profile).encode())
        # The page is opened anew, and so greets the server again.
        phone.reload()
        sending = exchange(server, phone.exchange(job="send_now"))
        wire = {"joining": joining, "sending": sending}
        packed = {part: [one.pack() for one in calls] for part, calls in wire.items()}
        kept.write_packed(made / kept.WIRE, json.dumps(packed).encode())
    noted = {"version": qcapp.__version__, **figures, "unsent": waiting}
    (made / kept.NOTED).write_text(json.dumps(noted, indent=1) + "\n", encoding="utf-8")


def fill_yard(server: Server, phones: Phones, records: Records) -> tuple[Phone, list[Exchange]]:
    """Two phones; gives the one that is to be kept, and how a phone joins."""
    first = phones.make("kept phone", {}, gives_keys=True)
    other = phones.make("other phone", {})
    for phone in (first, other):
        code = make_join_code(server.store, name=phone.name, minutes=15, now=KEPT_AT)
        joining = exchange(server, phone.enrol(code))
        joining += exchange(server, phone.exchange())
    photo = first.save_photo(build_photos()[0])
    target = first.record(**records.inspect("good", "B1-001"), photos=[photo])
    first.record(**records.inspect("narrow", "B1-002"))
    first.record(**records.correct(target, "sharp"))
    voided = other.record(**records.inspect("by another", "B1-003"))
    other.record(**records.void(voided))
    other.record(**records.inspect("narrow", "B1-002"))
    for number, kind in enumerate(("unknown artisan", "impossible value", "unknown batch")):
        other.record(**records.inspect(kind, f"B1-01{number}"))
    for number in range(4, 9):
        other.record(**records.inspect("good", f"B1-00{number}"))
    for phone in (first, other, first):
        exchange(server, phone.exchange())
    return first, joining


def lead_decides(store: Store, folder: Path) -> None:
    """One record held back counts, one does not, one waits; a summary, a link, an invitation."""
    with store.reading() as connection:
        held = {record.reason.code: record for record in list_records(connection)}
        batch = get_batch(connection, "B1")
    more = {"by": "lead", "seen": "", "now": KEPT_AT}
    mapping = {"artisan": {"A77": "A02"}}
    accept(store, held["unknown_artisan"].seq, reason="A02", mapping=mapping, **more)
    reject(store, held["impossible_value"].seq, reason="mistyped", **more)
    settings = Settings(yard_name="Kept yard", key_file=folder / kept.KEY)
    issue_summary(store, settings, batch, issued_by="lead", now=KEPT_AT)
    make_summary_link(store, batch="B1", label="buyer", made_by="lead", days=400, now=KEPT_AT)
    invite(store, code="LEAD", name="Lead", role="lead", made_by="lead", now=KEPT_AT)


def record_unsent(phone: Phone, records: Records) -> list[str]:
    """Ids of what waits on the phone when it is kept."""
    photo = phone.save_photo(build_photos()[1])
    target = phone.record(**records.inspect("good", "B1-021"), photos=[photo])
    made = [
        target,
        phone.record(**records.inspect("sharp", "B1-022")),
        phone.record(**records.correct(target, "narrow")),
        phone.record(**records.inspect("unknown inspector", "B1-023")),
    ]
    return [event["id"] for event in made]


def exchange(server: Server, job: Job) -> list[Exchange]:
    """To its end, with all that went over the wire."""
    wire = []
    while job.call is not None:
        answer = server.ask(job.call)
        assert answer is not None, f"no answer to {job.call.path}"
        wire.append(Exchange(job.call, answer))
        job.hear(answer)
    assert job.value.get("status") not in ("not-connected", "pair-again", "full"), job.value
    return wire


if __name__ == "__main__":
    main()
