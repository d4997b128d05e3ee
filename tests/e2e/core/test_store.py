"""The phone's database in a real browser: what "saved" means, and what it survives."""

import base64
import hashlib
import io

import pytest
from PIL import Image

from tests.e2e.core.steps import list_numbers, list_rows

# Notes for every transaction what it asked for and when it was complete.
WATCH_TRANSACTIONS = """() => {
  globalThis.seen = [];
  const open = IDBDatabase.prototype.transaction;
  IDBDatabase.prototype.transaction = function (names, mode, options) {
    const made = open.call(this, names, mode, options);
    const entry = { names: [...made.objectStoreNames], mode, durability: options?.durability, at: "open" };
    seen.push(entry);
    made.addEventListener("complete", () => { entry.at = "complete"; });
    return made;
  }; }"""


def test_saved_is_said_only_after_a_strict_transaction_is_complete(bare):
    bare.evaluate(WATCH_TRANSACTIONS)
    at = bare.evaluate("""core.save('S1', {}).then(() =>
        seen.filter((one) => one.mode === 'readwrite' && one.names.includes('events')))""")
    assert at == [
        {
            "names": ["drafts", "events", "meta", "stale"],
            "mode": "readwrite",
            "durability": "strict",
            "at": "complete",
        }
    ]


def test_an_aborted_transaction_is_an_error_and_keeps_nothing(bare):
    bare.evaluate("core.saveDraft({key: 'finished/S1'})")
    said = bare.evaluate("""async () => {
        const put = IDBObjectStore.prototype.delete;
        IDBObjectStore.prototype.delete = function () { this.transaction.abort(); };
        const said = await core.save('S1', {}, {draftKey: 'finished/S1'})
            .then(() => 'saved', (error) => error.name);
        IDBObjectStore.prototype.delete = put;
        return said; }""")
    assert said == "AbortError"
    assert list_rows(bare) == []
    assert bare.evaluate("core.findDraft('finished/S1')") == {"key": "finished/S1"}
    assert bare.evaluate("core.countRecords()") == 0


def test_a_record_takes_its_draft_along(bare):
    bare.evaluate("core.saveDraft({key: 'finished/S1'})")
    bare.evaluate("core.save('S1', {}, {draftKey: 'finished/S1'})")
    assert bare.evaluate("core.listDrafts()") == []
    assert [row["key"] for row in list_rows(bare)] == ["finished/S1"]


@pytest.mark.parametrize("has_locks", [True, False], ids=["with locks", "without locks"])
def test_numbers_have_no_gap_when_two_tabs_record_at_once(open_bare, context, has_locks):
    if not has_locks:
        context.add_init_script(
            "Object.defineProperty(Navigator.prototype, 'locks', {value: undefined})"
        )
    pages = [open_bare(), open_bare()]
    for page in pages:
        page.evaluate("""() => { globalThis.done = Promise.all(
            Array.from({length: 15}, (_, n) => core.save(`S${n}`))); }""")
    for page in pages:
        page.evaluate("done.then(() => null)")
    assert list_numbers(pages[0]) == list(range(1, 31))


def test_a_closed_connection_is_opened_again(bare):
    bare.evaluate("core.save('S1')")
    bare.evaluate("core.openDb().then((db) => db.close())")
    bare.evaluate("core.save('S2')")
    assert list_numbers(bare) == [1, 2]


def test_a_newer_app_in_another_tab_is_not_kept_waiting(bare):
    bare.evaluate("core.save('S1')")
    version = bare.evaluate(
        """new Promise((resolve) => { const request = indexedDB.open('qcapp', 9);
        request.onsuccess = () => { resolve(request.result.version); request.result.close(); };
        request.onblocked = () => resolve('blocked'); })"""
    )
    assert version == 9


# Four seconds pass at once.
HASTE = "{const wait = setTimeout; setTimeout = (work, ms) => wait(work, ms >= 4000 ? 1000 : ms);}"


def test_a_database_that_never_opens_is_said_after_two_tries(context, open_bare):
    context.add_init_script(
        HASTE
        + "globalThis.tries = 0; IDBFactory.prototype.open = () => { tries += 1; return {}; };"
    )
    page = open_bare()
    assert page.evaluate("core.save('S1').catch((error) => error.name)") == "TimeoutError"
    assert page.evaluate("tries") == 2


def test_a_database_that_opens_at_the_second_try_is_used(context, open_bare):
    context.add_init_script(
        HASTE
        + """{const open = IDBFactory.prototype.open; let tries = 0;
        IDBFactory.prototype.open = function (...wish) {
          tries += 1;
          return tries === 1 ? {} : open.apply(this, wish); };}"""
    )
    page = open_bare()
    page.evaluate("core.save('S1')")
    assert list_numbers(page) == [1]


def test_an_emptied_database_names_the_exact_loss_and_takes_a_new_id(paired, yard):
    paired.evaluate("core.save('S1').then(() => core.save('S2')).then(() => core.syncNow())")
    paired.evaluate("Promise.all(['S3', 'S4', 'S5'].map((stove) => core.save(stove)))")
    old_id = paired.evaluate("core.getMeta('device_id')")
    paired.context.new_cdp_session(paired).send(
        "Storage.clearDataForOrigin", {"origin": yard.url, "storageTypes": "indexeddb"}
    )
    paired.reload()
    paired.wait_for_function("globalThis.core !== undefined")
    loss = paired.evaluate("core.findLoss()")
    assert (loss["lost"], loss["device_id"]) == (3, old_id)
    assert paired.evaluate("core.getMeta('device_id')") != old_id
    paired.evaluate("core.enrol('ABCD2345').then(() => core.syncNow()).then(() => core.syncNow())")
    reports = [row["event"] for row in yard.log if row["event"]["kind"] == "device_report"]
    assert [(one["body"]["device_id"], one["body"]["lost"]) for one in reports] == [(old_id, 3)]
    paired.evaluate("core.markLoss({ is_seen: true })")
    assert paired.evaluate("core.findLoss()") is None


def test_a_database_emptied_under_an_open_page_still_takes_records(bare, yard):
    bare.evaluate("core.save('S1')")
    bare.context.new_cdp_session(bare).send(
        "Storage.clearDataForOrigin", {"origin": yard.url, "storageTypes": "indexeddb"}
    )
    bare.evaluate("core.save('S2')")
    assert [row["event"]["stove"] for row in list_rows(bare)] == ["S2"]
    assert bare.evaluate("core.findLoss()")["lost"] == 1


def test_a_checklist_that_was_replaced_can_still_be_found(bare):
    old, new = ({"checklists": [{"hash": key, "compiled": {"id": key}}]} for key in ("old", "new"))
    bare.evaluate("(one) => core.saveReference(one)", old)
    bare.evaluate("(one) => core.saveReference(one)", new)
    assert bare.evaluate("core.findChecklist('old')") == {"id": "old"}


def test_a_camera_picture_becomes_small_upright_and_loses_its_exif(bare):
    picture = Image.new("RGB", (2400, 1600), (160, 110, 70))
    exif = picture.getexif()
    exif[0x0112] = 6
    exif.get_ifd(0x8825)[2] = (1.0, 2.0, 3.0)
    held = io.BytesIO()
    picture.save(held, "JPEG", exif=exif)
    assert b"Exif" in held.getvalue()
    photo = bare.evaluate(
        """async (text) => {
        const bytes = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
        const name = await core.savePhoto(new Blob([bytes], {type: 'image/jpeg'}));
        const kept = await core.findPhoto(name);
        const list = new Uint8Array(kept.bytes);
        return {name, isBuffer: kept.bytes instanceof ArrayBuffer, type: kept.type,
                text: btoa(Array.from(list, (byte) => String.fromCharCode(byte)).join(''))}; }""",
        base64.b64encode(held.getvalue()).decode(),
    )
    content = base64.b64decode(photo["text"])
    assert photo["isBuffer"] and photo["type"] == "image/jpeg"
    assert hashlib.sha256(content).hexdigest() == photo["name"]
    assert b"Exif" not in content and len(content) < 120_000
    width, height = Image.open(io.BytesIO(content)).size
    assert (width, height) == (853, 1280)
