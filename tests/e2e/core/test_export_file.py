"""Unsent work as a file: carried by hand to another phone, which sends it on; never lost,
never twice.
"""

import json

import pytest

from tests.e2e.core.fake_yard import html
from tests.e2e.core.steps import list_states, save, sync, take_photo

PACK = """core.buildExportFile().then(async (packed) =>
    ({...packed, name: packed.file.name, file: await packed.file.text()}))"""
TAKE = """(text) => core.importFile(new File([text], 'unsent.qcrecords'))
    .then((found) => found, (error) => ({text_key: error.text_key}))"""
ROWS = (
    "core.withStores(['events', 'photos', 'reference'], 'readonly', async (stores) =>"
    " JSON.stringify(await Promise.all(Object.values(stores).map((store) =>"
    " core.ask(store.getAllKeys())))))"
)
# The one record that waits, as the server has it.
PULL_OWN = """async (change) => { const [{event}] = await core.listUnsent();
    const pulled = [{seq: 1, state: 'counted', event: {...event, ...change}}];
    await core.mergePulled(pulled, '1:a', {have: null, cursor: ''}); }"""


@pytest.fixture
def other(chromium, yard):
    """A second phone, joined to the same yard."""
    context = chromium.new_context(base_url=yard.url)
    page = context.new_page()
    page.goto("/bare")
    page.wait_for_function("globalThis.core !== undefined")
    page.evaluate("core.enrol('ABCD2345')")
    yield page
    context.close()


def take(page, text: str) -> dict:
    return page.evaluate(TAKE, text)


def pack(page) -> dict:
    packed = page.evaluate(PACK)
    return {**packed, "data": json.loads(packed["file"])}


def test_work_carried_to_another_phone_arrives_once_as_it_was_sealed(paired, other, yard):
    save(paired, "S1", "S2")
    packed = pack(paired)
    assert (packed["n"], packed["data"]["format"], len(packed["data"]["events"])) == (
        2,
        "records/1",
        2,
    )
    assert list_states(paired) == {"S1": "unsent", "S2": "unsent"}, "a file marks nothing as sent"
    assert take(other, packed["file"]) == {"n": 2, "known": 0, "damaged": 0, "photos": 0, "left": 0}
    assert other.evaluate("core.status()")["relayed"] == 2
    assert sync(other)["sent"] == 2
    assert [row["event"] for row in yard.log] == packed["data"]["events"]
    said = yard.requests[-1]["device"]
    assert [said[key] for key in ("id", "created", "acked")] == [
        other.evaluate("core.getMeta('device_id')"),
        0,
        0,
    ]
    # With the signatures of the phone that made them.
    signatures = packed["data"]["signatures"]
    assert {len(text) for text in signatures} == {86}
    assert yard.requests[-1]["signatures"] == signatures
    assert sync(paired)["left"] == 0
    assert len(yard.log) == 2 and list_states(paired) == {"S1": "sent", "S2": "sent"}


def test_the_same_file_again_changes_nothing(paired, other, yard):
    save(paired, "S1")
    text = pack(paired)["file"]
    sync(other)
    take(other, text)
    before = other.evaluate(ROWS)
    assert take(other, text) == {"n": 0, "known": 1, "damaged": 0, "photos": 0, "left": 0}
    assert take(paired, text)["known"] == 1
    sync(other)
    assert take(other, text)["known"] == 1
    sync(other)
    assert other.evaluate(ROWS) == before and len(yard.log) == 1


BAD_FILES = {
    "a picture": "\ufffdPNG",
    "an empty file": "",
    "a cut-off file": '{"format":"records/1","events":[',
    "a list": "[]",
    "null": "null",
    "another format": '{"format":"records/9","events":[],"definitions":[],"photos":[]}',
    "no records": '{"format":"records/1"}',
}


@pytest.mark.parametrize("name", BAD_FILES)
def test_a_bad_file_is_named_and_changes_nothing(bare, name):
    save(bare, "S1")
    before = bare.evaluate(ROWS)
    assert take(bare, BAD_FILES[name]) == {"text_key": "export.not_ours"}
    assert bare.evaluate(ROWS) == before


def test_a_damaged_record_is_left_out_and_counted_and_the_others_are_taken(paired, other):
    save(paired, "S1", "S2", "S3")
    data = pack(paired)["data"]
    data["events"][1]["stove"] = "S9"
    data["events"] += [
        None,
        {"id": 7},
        {"id": "x", "kind": "void", "device_id": "d", "photos": [], "hash": "0", "body": 0.5},
    ]
    data["photos"] = [
        {"sha256": "0" * 64, "type": "image/jpeg", "base64": "AAAA"},
        None,
        {"base64": "!"},
    ]
    data["definitions"] = [None, 7, "x"]
    assert take(other, json.dumps(data)) == {
        "n": 2,
        "known": 0,
        "damaged": 4,
        "photos": 0,
        "left": 3,
    }
    assert list_states(other) == {"S1": "relay", "S3": "relay"}


def test_checklists_of_the_records_go_along_and_are_known_by_their_hash(paired, other, yard):
    compiled = {
        "id": "finished-stove",
        "revision": 1,
        "limit": 0.5,
        "many": 1e21,
        "few": [-0.0, 1e-7],
    }
    text = '{"few":[0,1e-7],"id":"finished-stove","limit":0.5,"many":1e+21,"revision":1}'
    key = paired.evaluate(
        "(text) => crypto.subtle.digest('SHA-256', new TextEncoder().encode(text)).then((found) =>"
        " Array.from(new Uint8Array(found), (byte) => byte.toString(16).padStart(2,"
        " '0')).join(''))",
        text,
    )
    paired.evaluate(
        "([hash, compiled]) => core.saveReference({checklists: [{hash, compiled}]})",
        [key, compiled],
    )
    paired.evaluate("(checklist_hash) => core.save('S1', {checklist_hash})", key)
    packed = pack(paired)
    assert packed["data"]["definitions"] == [compiled]
    forged = {**packed["data"], "definitions": [{**compiled, "limit": 9}]}
    take(other, json.dumps(forged))
    assert (
        other.evaluate("(key) => core.findChecklist(key).then((found) => found ?? null)", key)
        is None
    )
    take(other, packed["file"])
    assert other.evaluate("(key) => core.findChecklist(key)", key) == compiled
    yard.known_checklists = []
    sync(other)
    assert yard.requests[-1]["definitions"] == [compiled]


def test_photos_go_along_up_to_eight_megabytes_and_the_rest_is_counted(paired, other, yard):
    names = [
        take_photo(paired, f"S{number}", 3_000_000 + number, number == 0) for number in range(3)
    ]
    packed = pack(paired)
    assert (packed["n"], packed["photos"], packed["left"]) == (3, 2, 1)
    assert [photo["sha256"] for photo in packed["data"]["photos"]] == [
        names[0],
        names[2],
    ], "the fault first, then the newest"
    assert take(other, packed["file"]) == {"n": 3, "known": 0, "damaged": 0, "photos": 2, "left": 0}
    assert take(other, packed["file"])["photos"] == 0
    yard.disturb = lambda method, path, request, answer: (
        html(502) if path.startswith("/api/photos/") else answer
    )
    sync(other)
    assert other.evaluate("core.listUnsentPhotos()") == [names[0], names[2]]


def test_records_sent_on_are_offered_again_to_a_restored_server(paired, other, yard):
    save(paired, "S1")
    take(other, pack(paired)["file"])
    sync(other)
    sync(other)
    assert list_states(other) == {"S1": "sent"}
    yard.log = []
    other.reload()
    other.wait_for_function("globalThis.core !== undefined")
    sync(other)
    assert [row["event"]["stove"] for row in yard.log] == ["S1"]


def test_a_record_that_the_server_has_meanwhile_does_not_wait_any_longer(paired, other):
    save(paired, "S1")
    text = pack(paired)["file"]
    sync(paired)
    take(other, text)
    other.evaluate(PULL_OWN, {})
    assert list_states(other) == {"S1": "sent"}
    assert other.evaluate("core.countRelayed()") == 0


def test_another_content_than_the_servers_still_has_to_be_handed_in(paired, other):
    save(paired, "S1")
    take(other, pack(paired)["file"])
    other.evaluate(PULL_OWN, {"hash": "f"})
    assert other.evaluate("core.countRelayed()") == 1
