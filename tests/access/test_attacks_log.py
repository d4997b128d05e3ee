"""Attacks on the log by whoever holds the server and its key: what is made anew without a trace is
found by any phone, buyer or programme that kept a checkpoint.
"""

import json
from datetime import timedelta

import pytest

from qcapp.access.devices import join_device, make_join_code
from qcapp.access.note import sign_note
from qcapp.access.signing_key import load_or_make_key
from qcapp.errors import StoreError
from qcapp.programme_app import create_programme, list_stores, load_programme
from qcapp.settings import Settings
from qcapp.store import log
from qcapp.store.projections import stove_projection
from qcapp.store.registry.checklists import publish_checklist
from qcapp.store.registry.seen_checkpoints import list_seen
from qcapp.store.tables import LOG
from qcapp.store.upkeep.audit import audit_store
from qcapp.sync.restore_marker import note_restore
from qcapp.transparency.checkpoint import Checkpoint, name_log, parse_checkpoint
from qcapp.usecases.load_phones import load_phones
from qcapp.usecases.log_checkpoints import sign_checkpoint
from tests.access.test_programme import FILE
from tests.builders import NOW, ROOT, build_push, build_small_checklist, make_cookie, open_client
from tests.builders import Phone as Made
from tests.checklist.small import write_small
from tests.documents.samples import KEY
from tests.page_text import text_of
from tests.sync.simulation.call import Answer, Call
from tests.sync.simulation.phone import Phone, running_phones
from tests.sync.simulation.records import build_records
from tests.sync.simulation.yard import DEVICES, Yard

NOW_MS = 1_790_000_000_000


@pytest.fixture(scope="module")
def phones():
    with running_phones(lambda: NOW_MS) as made:
        yield made


@pytest.fixture(scope="module")
def opened(tmp_path_factory):
    made = Yard(tmp_path_factory.mktemp("yard"))
    yield made
    made.close()


@pytest.fixture
def yard(opened):
    opened.start_again()
    return opened


def make_phone(phones, yard, number: int = 0) -> Phone:
    device = DEVICES[number]
    meta = {"device_id": device, "dev_seq": 0, "token": yard.tokens[device]}
    return phones.make(f"phone {number}", meta)


def inspect(phone: Phone, yard, *stoves: str) -> None:
    records = build_records(yard.checklist)
    for stove in stoves:
        phone.record(**records.inspect("good", stove))


def exchange(phone: Phone, ask) -> None:
    """In a page of its own, so that the server is greeted anew."""
    phone.reload()
    phone.exchange().run(ask)


def list_sizes(phone: Phone) -> list[int]:
    return [parse_checkpoint(one["note"]).size for one in phone.meta.get("checkpoints", [])]


def rewrite(yard, phones) -> None:
    """The log is made anew from the first day, with another record in it: all that the database
    says of itself fits, and the key is the yard's own.
    """
    yard.restore(yard.template)
    other = make_phone(phones, yard, 1)
    inspect(other, yard, *(f"FORGED-{n}" for n in range(20)))
    exchange(other, yard.ask)
    assert audit_store(yard.store).altered == []


def test_phone_keeps_the_last_checkpoints_and_is_shown_that_the_log_only_grew(phones, yard):
    one, other = make_phone(phones, yard), make_phone(phones, yard, 1)
    for round_ in range(8):
        inspect(one, yard, f"S{round_}")
        inspect(other, yard, *(f"T{round_}-{n}" for n in range(round_ * 3)))
        exchange(one, yard.ask)
        exchange(other, yard.ask)
    exchange(one, yard.ask)
    assert "log_doubt" not in one.meta and "log_doubt" not in other.meta
    sizes = list_sizes(one)
    assert len(sizes) == 5 and sizes == sorted(set(sizes))
    assert sizes[-1] == len(yard.read_log())


def test_log_made_anew_by_the_holder_of_the_key_is_found_by_a_phone_and_told_to_the_lead(
    phones, yard
):
    phone = make_phone(phones, yard)
    inspect(phone, yard, "S1", "S2", "S3")
    exchange(phone, yard.ask)
    kept = phone.meta["checkpoints"][-1]["note"]
    rewrite(yard, phones)
    exchange(phone, yard.ask)
    assert phone.meta["log_doubt"]["kept"] == kept and phone.meta["log_doubt"]["is_told"]
    # Its records are at the server all the same, and it goes on from the log that is there now.
    assert phone.count_unsent() == 0
    exchange(phone, yard.ask)
    assert list_sizes(phone)[-1] == len(yard.read_log())
    (doubt,) = load_phones(yard.store).doubts
    assert (doubt.device_id, doubt.note, doubt.is_restored) == (DEVICES[0], kept, False)
    page = text_of(open_client(yard.app, cookie=make_cookie(yard.store)).get("/yard"))
    assert "keeps a checkpoint of" in page and "No restored backup explains it" in page
    assert kept.splitlines()[2] in page
    trail = [json.loads(row.raw)["body"]["action"] for row in yard.read_log() if row.is_trail]
    assert trail.count("log_contradicted") == 1


def test_restored_backup_is_said_to_explain_it(phones, yard):
    phone = make_phone(phones, yard)
    inspect(phone, yard, "S1")
    exchange(phone, yard.ask)
    copy = yard.backup()
    inspect(phone, yard, "S2", "S3")
    exchange(phone, yard.ask)
    yard.restore(copy)
    note_restore(yard.store, by="terminal", now=NOW)
    exchange(phone, yard.ask)
    assert phone.count_unsent() == 0 and phone.meta["log_doubt"]
    (doubt,) = load_phones(yard.store).doubts
    assert doubt.is_restored
    page = text_of(open_client(yard.app, cookie=make_cookie(yard.store)).get("/yard"))
    assert "A backup with fewer records was restored here" in page


def change(answer: Answer, of: Call, alter) -> Answer:
    """What a lying server says of its log, in a greeting or after a push."""
    if of.path not in ("/api/sync/hello", "/api/sync/push") or answer.status != 200:
        return answer
    said = json.loads(answer.text)
    said["log"] = alter(said["log"])
    return Answer(answer.status, answer.headers, json.dumps(said))


LIES = {
    "nothing": lambda shown: None,
    "no proof": lambda shown: shown | {"proof": [], "since": None},
    "an empty proof": lambda shown: shown | {"proof": []},
    "another root": lambda shown: shown | {"note": swap_line(shown["note"], 2, "A" * 43 + "=")},
    "an older log": lambda shown: shown | {"note": swap_line(shown["note"], 1, "1")},
    "another yard's log": lambda shown: shown | {"note": swap_line(shown["note"], 0, "other")},
    "a longer proof": lambda shown: shown | {"proof": [*shown["proof"], "A" * 43 + "="]},
    "no checkpoint": lambda shown: shown | {"note": "hello"},
    "odd types": lambda shown: {"note": 7, "since": "x", "proof": None},
}


def swap_line(note: str, place: int, line: str) -> str:
    lines = note.split("\n")
    return "\n".join([*lines[:place], line, *lines[place + 1 :]])


@pytest.mark.parametrize("lie", LIES)
def test_server_that_shows_no_good_proof_is_doubted_and_gets_the_records_all_the_same(
    phones, yard, lie
):
    phone, other = make_phone(phones, yard), make_phone(phones, yard, 1)
    inspect(phone, yard, "S1", "S2", "S3")
    exchange(phone, yard.ask)
    inspect(other, yard, *(f"T{n}" for n in range(6)))
    exchange(other, yard.ask)
    inspect(phone, yard, "S4")
    exchange(phone, lambda call, *cut: change(yard.ask(call, *cut), call, LIES[lie]))
    assert phone.meta["log_doubt"]["kept"] and phone.count_unsent() == 0


def test_made_up_doubt_of_a_phone_is_not_believed(yard):
    """Only what this yard's key signed counts, of this log, and only where the log is another."""
    key = load_or_make_key(yard.app.state.settings.key_file)
    with yard.store.reading() as connection:
        name = name_log(log.get_server_id(connection))
        true_note = sign_checkpoint(connection, key)
    forged = Checkpoint(name, 1, bytes(32)).text
    for doubt in (
        "",
        "x" * 8000,
        forged,
        sign_note(KEY, name, forged),
        true_note,
        sign_note(key, name, forged).replace("\n1\n", "\n2\n"),
        sign_note(key, "other", forged),
    ):
        assert tell(yard, doubt).status == 200
    assert not load_phones(yard.store).doubts
    for _ in range(3):
        assert tell(yard, sign_note(key, name, forged)).status == 200
    assert len(load_phones(yard.store).doubts) == 1


def tell(yard, doubt: str) -> Answer:
    wish = {"protocol": 1, "request_id": "r", "events": [], "doubt": doubt}
    return yard.ask(Call.make("POST", "/api/sync/push", yard.tokens[DEVICES[0]], wish))


@pytest.mark.parametrize("odd", [-1, 2**60, "x", 1.5, []])
def test_odd_question_for_a_proof_is_refused_in_words(yard, odd):
    wish = {"protocol": 1, "request_id": "r", "events": [], "since": odd}
    answer = yard.ask(Call.make("POST", "/api/sync/push", yard.tokens[DEVICES[0]], wish))
    assert answer.status == 400 and json.loads(answer.text)["error"]["what"]


def test_key_that_is_not_there_keeps_no_record_out(phones, yard, tmp_path):
    yard.app.state.settings, kept = (
        yard.app.state.settings.model_copy(update={"key_file": tmp_path / "no" / "key.pem"}),
        yard.app.state.settings,
    )
    try:
        phone = make_phone(phones, yard)
        inspect(phone, yard, "S1")
        exchange(phone, yard.ask)
        assert phone.count_unsent() == 0 and "log_doubt" not in phone.meta
    finally:
        yard.app.state.settings = kept


# --- A programme's server


@pytest.fixture
def programme(tmp_path):
    (tmp_path / "programme.yaml").write_text(FILE)
    (tmp_path / "lists").mkdir()
    write_small(tmp_path / "lists")
    settings = Settings(static_dir=ROOT / "static", checklists_dir=tmp_path / "lists")
    served = create_programme(
        load_programme(tmp_path / "programme.yaml"), settings, tmp_path, clock=lambda: NOW
    )
    yield served
    for store in list_stores(served).values():
        store.close()


NORTH, HOST = "north.example", "programme.example"


def hand_in(programme, *stoves, device=Made.device_id) -> None:
    store = list_stores(programme)[NORTH]
    checklist = build_small_checklist()
    with store.writing() as connection:
        publish_checklist(connection, checklist, origin="file", now="2026-11-01T00:00:00.000Z")
    code = make_join_code(store, name="Phone", minutes=15, now=NOW)
    token = join_device(store, code=code, device_id=device, now=NOW).token
    client = open_client(programme, address=f"http://{NORTH}")
    events = [Made(checklist, device).inspect(stove) for stove in stoves]
    headers = {"Authorization": f"Bearer {token}"}
    answer = client.post("/api/sync/push", json=build_push(events), headers=headers)
    assert answer.status_code == 200


def read_programme(programme) -> str:
    cookie = make_cookie(list_stores(programme)[HOST], code="PRO1", role="programme_lead")
    return text_of(open_client(programme, cookie=cookie, address=f"http://{HOST}").get("/"))


def test_programme_keeps_what_its_yards_signed_and_sees_a_log_made_anew(programme, monkeypatch):
    monkeypatch.setattr("qcapp.usecases.watch_yard.BETWEEN", timedelta())
    assert "Its log" not in read_programme(programme)
    hand_in(programme, "B1-001", "B1-002")
    assert "Its log only grew since the checkpoint of" in read_programme(programme)
    hand_in(programme, "B1-003", device=DEVICES[1])
    store, kept = list_stores(programme)[NORTH], list_stores(programme)[HOST]
    with kept.reading() as connection:
        (seen,) = list_seen(connection, f"http://{NORTH}")
    with store.writing() as connection:
        assert seen.size == log.get_head(connection).seq
        connection.execute(LOG.delete())
        stove_projection.rebuild(connection, lambda _done, _total: None)
    hand_in(programme, *(f"B1-01{n}" for n in range(9)), device=DEVICES[2])
    assert audit_store(store).altered == []
    page = read_programme(programme)
    assert f"does not continue the checkpoint of {seen.size} records" in page
    # What contradicts stays, whatever comes after it.
    hand_in(programme, "B1-030", device=DEVICES[0])
    assert f"does not continue the checkpoint of {seen.size} records" in read_programme(programme)
    with kept.reading() as connection:
        assert len(list_seen(connection, f"http://{NORTH}")) == 2


def test_programme_that_cannot_write_keeps_no_record_out(programme, monkeypatch):
    def fail(*_call, **_more):
        raise StoreError("the disk is full")

    monkeypatch.setattr("qcapp.usecases.watch_yard.keep_checkpoint", fail)
    hand_in(programme, "B1-001")
    with list_stores(programme)[NORTH].reading() as connection:
        assert log.find_record(connection, log.get_head(connection).seq) is not None
