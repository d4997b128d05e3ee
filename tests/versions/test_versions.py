"""What yards and phones hold since each kept version works with this checkout."""

import itertools
import json
import shutil

import pytest

import qcapp
from qcapp.sync.push import IMPORTED
from qcapp.usecases.take_in_file import take_in_file
from tests.cli.test_cli import run
from tests.sync.simulation.phone import running_phones
from tests.versions import kept
from tests.versions.keep import NOW_MS
from tests.versions.kept import KEPT_AT, RecordedServer, running_server

MAX_BYTES = 300_000
# Held back for its inspector, whom the yard does not know.
HELD_BACK = 1

pytestmark = pytest.mark.parametrize("version", kept.list_versions())


@pytest.fixture
def noted(version):
    return json.loads((kept.FOLDER / version / kept.NOTED).read_text(encoding="utf-8"))


@pytest.fixture
def folder(version, tmp_path):
    """With the kept database as yard.db, and its key."""
    (tmp_path / "yard.db").write_bytes(kept.read_packed(version, kept.DATABASE))
    shutil.copyfile(kept.FOLDER / version / kept.KEY, tmp_path / kept.KEY)
    return tmp_path


@pytest.fixture
def server(folder):
    with running_server(folder) as running:
        yield running


@pytest.fixture
def phone(version):
    """The kept phone, its database opened by the phone's modules of this checkout."""
    profile = json.loads(kept.read_packed(version, kept.PHONE))
    with running_phones(lambda: NOW_MS) as phones:
        # Another chance than the one by which it made the ids that it holds.
        phones.numbers = itertools.count(50)
        yield phones.make("kept phone", {}, kept=profile)


def list_states(server, ids):
    """{id: state in the log}."""
    with server.store.reading() as connection:
        rows = connection.exec_driver_sql("SELECT id, state FROM log").all()
    return {row.id: row.state for row in rows if row.id in ids}


def check_arrived(server, noted):
    states = list_states(server, noted["unsent"])
    assert sorted(states) == sorted(noted["unsent"])
    assert list(states.values()).count("quarantined") == HELD_BACK
    figures = kept.note_figures(server.store)
    assert figures["altered"] == [] and figures["signed"] >= noted["signed"]


def test_this_version_is_kept_and_each_takes_little_room(version):
    assert qcapp.__version__ in kept.list_versions(), "python3 -m tests.versions.keep"
    files = list((kept.FOLDER / version).iterdir())
    assert sum(file.stat().st_size for file in files) < MAX_BYTES and len(files) == 6


def test_the_kept_database_opens_and_its_figures_are_those_noted(server, noted):
    figures = kept.note_figures(server.store)
    assert figures == {key: noted[key] for key in figures}
    assert figures["altered"] == [] and figures["signed"] > 5 and figures["held_back"] == 3


def test_the_command_verifies_the_log_of_the_kept_database(folder):
    with running_server(folder):
        pass
    done = run("verify", "--log", database=f"sqlite:///{folder / 'yard.db'}")
    assert done.returncode == 0, done.stdout + done.stderr


def test_the_kept_file_is_taken_in_once(server, version, noted):
    content = kept.read_packed(version, kept.FILE)
    for outcome in ("created", "duplicate"):
        taken = take_in_file(server.store, content, relayed_by=IMPORTED, now=KEPT_AT)
        assert taken.counts == {outcome: len(noted["unsent"]) - HELD_BACK, "quarantined": HELD_BACK}
        assert taken.refused == ()
    check_arrived(server, noted)


def test_the_kept_phone_sends_what_waits_on_it(server, phone, noted):
    assert sorted(row["id"] for row in phone.list_unsent()) == sorted(noted["unsent"])
    done = phone.exchange(job="send_now").run(server.ask)
    assert (done["status"], done["sent"], done["left"]) == ("sent", len(noted["unsent"]), 0)
    check_arrived(server, noted)
    made = phone.record(**{key: phone.rows[noted["unsent"][1]]["event"][key] for key in FIELDS})
    assert phone.exchange().run(server.ask)["sent"] == 1
    assert list_states(server, [made["id"]]) == {made["id"]: "counted"}


FIELDS = ("kind", "inspector", "batch", "stage", "stove", "checklist", "checklist_hash", "body")


def test_what_the_kept_phone_sent_is_taken_as_it_was(server, version, noted):
    wire = kept.read_wire(version, "sending")
    assert {one.call.path.split("/")[2] for one in wire} == {"sync", "photos"}
    for one in wire:
        answer = server.ask(one.call)
        assert answer is not None
        assert answer.status == one.answer.status, f"{one.call.path}: {answer.text}"
        if one.call.path == "/api/sync/push":
            was, now = (json.loads(each.text)["results"] for each in (one.answer, answer))
            assert [result["outcome"] for result in now] == [result["outcome"] for result in was]
    check_arrived(server, noted)


def test_this_phone_understands_the_kept_server(phone, version, noted):
    """Or says that the other must be updated, and keeps what it has."""
    server = RecordedServer(kept.read_wire(version, "sending"))
    done = phone.exchange(job="send_now").run(server.ask)
    if done["text_key"] == "sync.other-protocol":
        assert done["left"] == len(noted["unsent"])
        return
    assert (done["status"], done["sent"], done["left"]) == ("sent", len(noted["unsent"]), 0)
    held = [row for row in phone.rows.values() if row["state"] == "shown"]
    assert [row["id"] for row in held] == [noted["unsent"][-1]]


def test_a_phone_of_this_checkout_joins_the_kept_server(version):
    server = RecordedServer(kept.read_wire(version, "joining"))
    with running_phones(lambda: NOW_MS) as phones:
        phone = phones.make("new phone", {})
        phone.enrol("any code").run(server.ask)
        done = phone.exchange().run(server.ask)
    if done["text_key"] != "sync.other-protocol":
        assert (done["status"], done["left"]) == ("nothing", 0)
        assert "reference_tag" in phone.meta and "cursor" in phone.meta


def test_a_damaged_copy_is_noticed(folder, noted):
    """A figure changed by hand, as a wrong migration might."""
    with running_server(folder) as server:
        with server.store.writing() as connection:
            connection.exec_driver_sql("UPDATE stove SET disposition = 'scrap'")
        figures = kept.note_figures(server.store)
    assert figures["stoves"] != noted["stoves"] and figures["altered"]
