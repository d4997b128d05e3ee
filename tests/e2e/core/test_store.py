"""The phone's database in a real browser: what "saved" means, and what it survives."""

import base64
import contextlib
import hashlib
import io
import os
import signal
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import Error

from tests.conftest import CHROMIUM_FLAGS, get_chromium_path

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


def list_rows(page) -> list[dict]:
    return page.evaluate("core.withStores(['events'], 'readonly', ({events}) => core.ask(events.getAll()))")


def list_numbers(page) -> list[int]:
    return sorted(row["event"]["dev_seq"] for row in list_rows(page))


def test_saved_is_said_only_after_a_strict_transaction_is_complete(bare):
    bare.evaluate(WATCH_TRANSACTIONS)
    at = bare.evaluate("""core.save('S1', {}).then(() =>
        seen.filter((one) => one.mode === 'readwrite' && one.names.includes('events')))""")
    assert at == [{"names": ["drafts", "events", "meta"], "mode": "readwrite", "durability": "strict", "at": "complete"}]


def test_an_aborted_transaction_is_an_error_and_keeps_nothing(bare):
    bare.evaluate("core.saveDraft({key: 'finished/S1'})")
    said = bare.evaluate("""async () => {
        const put = IDBObjectStore.prototype.delete;
        IDBObjectStore.prototype.delete = function () { this.transaction.abort(); };
        const said = await core.record({kind: 'inspection', inspector: 'I1', stage: 'finished', stove: 'S1', body: {}},
            {draftKey: 'finished/S1'}).then(() => 'saved', (error) => error.name);
        IDBObjectStore.prototype.delete = put;
        return said; }""")
    assert said == "AbortError"
    assert list_rows(bare) == []
    assert bare.evaluate("core.findDraft('finished/S1')") == {"key": "finished/S1"}
    assert bare.evaluate("core.countRecords()") == 0


def test_a_record_takes_its_draft_along(bare):
    bare.evaluate("core.saveDraft({key: 'finished/S1'})")
    bare.evaluate("""core.record({kind: 'inspection', inspector: 'I1', stage: 'finished', stove: 'S1', body: {}},
        {draftKey: 'finished/S1'})""")
    assert bare.evaluate("core.listDrafts()") == []
    assert [row["key"] for row in list_rows(bare)] == ["finished/S1"]


@pytest.mark.parametrize("has_locks", [True, False], ids=["with locks", "without locks"])
def test_numbers_have_no_gap_when_two_tabs_record_at_once(open_bare, context, has_locks):
    if not has_locks:
        context.add_init_script("Object.defineProperty(Navigator.prototype, 'locks', {value: undefined})")
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
    version = bare.evaluate("""new Promise((resolve) => { const request = indexedDB.open('qcapp', 2);
        request.onsuccess = () => { resolve(request.result.version); request.result.close(); };
        request.onblocked = () => resolve('blocked'); })""")
    assert version == 2


# Four seconds pass at once.
HASTE = "{const wait = setTimeout; setTimeout = (work, ms) => wait(work, ms >= 4000 ? 1000 : ms);}"


def test_a_database_that_never_opens_is_said_after_two_tries(context, open_bare):
    context.add_init_script(HASTE + "globalThis.tries = 0; IDBFactory.prototype.open = () => { tries += 1; return {}; };")
    page = open_bare()
    assert page.evaluate("core.save('S1').catch((error) => error.name)") == "TimeoutError"
    assert page.evaluate("tries") == 2


def test_a_database_that_opens_at_the_second_try_is_used(context, open_bare):
    context.add_init_script(HASTE + """{const open = IDBFactory.prototype.open; let tries = 0;
        IDBFactory.prototype.open = function (...wish) { tries += 1; return tries === 1 ? {} : open.apply(this, wish); };}""")
    page = open_bare()
    page.evaluate("core.save('S1')")
    assert list_numbers(page) == [1]


def test_a_full_phone_is_an_error_and_nothing_is_half_saved(bare, context, yard):
    # Before the first save: the browser remembers for a while how much room it found.
    context.new_cdp_session(bare).send("Storage.overrideQuotaForOrigin", {"origin": yard.url, "quotaSize": 200_000})
    outcome = bare.evaluate("""async () => {
        // Chance, because the browser packs what repeats.
        const note = () => Array.from(crypto.getRandomValues(new Uint8Array(20_000)), (byte) => byte.toString(36)).join('');
        for (let n = 1; n <= 100; n += 1) {
          try { await core.save(`S${n}`, {body: {note: note()}}); }
          catch (error) { return {n, name: error.name}; }
        } }""")
    assert outcome["name"] == "QuotaExceededError"
    assert outcome["n"] > 1
    assert list_numbers(bare) == list(range(1, outcome["n"]))
    assert bare.evaluate("core.countRecords()") == outcome["n"] - 1


def test_photos_that_the_server_has_make_room_for_a_record(paired):
    paired.evaluate("""async () => {
        const photo = await core.savePhoto(new Uint8Array(300_000).map(() => Math.random() * 256).buffer);
        await core.save('S0', {photos: [photo]});
        await core.syncNow(); }""")
    left = paired.evaluate("""async () => {
        const add = IDBObjectStore.prototype.add;
        IDBObjectStore.prototype.add = function () {
          IDBObjectStore.prototype.add = add;
          throw new DOMException('full', 'QuotaExceededError'); };
        await core.save('S1');
        return core.withStores(['photos'], 'readonly', ({photos}) => core.ask(photos.count())); }""")
    assert left == 0
    assert list_numbers(paired) == [1, 2]


def test_unsent_photos_over_60_megabytes_are_refused(bare):
    bare.evaluate("core.setMeta('unsent_photo_bytes', 59_999_000)")
    assert bare.evaluate("core.savePhoto(new ArrayBuffer(2000)).catch((error) => error.name)") == "PhotosFull"


def test_an_emptied_database_names_the_exact_loss_and_takes_a_new_id(paired, yard):
    paired.evaluate("core.save('S1').then(() => core.save('S2')).then(() => core.syncNow())")
    paired.evaluate("Promise.all(['S3', 'S4', 'S5'].map((stove) => core.save(stove)))")
    old_id = paired.evaluate("core.getMeta('device_id')")
    paired.context.new_cdp_session(paired).send(
        "Storage.clearDataForOrigin", {"origin": yard.url, "storageTypes": "indexeddb"})
    paired.reload()
    paired.wait_for_function("globalThis.core !== undefined")
    loss = paired.evaluate("core.findLoss()")
    assert (loss["lost"], loss["device_id"]) == (3, old_id)
    assert paired.evaluate("core.getMeta('device_id')") != old_id
    paired.evaluate("core.enrol('ABCD2345').then(() => core.syncNow()).then(() => core.syncNow())")
    reports = [row["event"] for row in yard.log if row["event"]["kind"] == "device_report"]
    assert [(one["body"]["device_id"], one["body"]["lost"]) for one in reports] == [(old_id, 3)]
    paired.evaluate("core.dismissLoss()")
    assert paired.evaluate("core.findLoss()") is None


def test_a_database_emptied_under_an_open_page_still_takes_records(bare, yard):
    bare.evaluate("core.save('S1')")
    bare.context.new_cdp_session(bare).send(
        "Storage.clearDataForOrigin", {"origin": yard.url, "storageTypes": "indexeddb"})
    bare.evaluate("core.save('S2')")
    assert [row["event"]["stove"] for row in list_rows(bare)] == ["S2"]
    assert bare.evaluate("core.findLoss()")["lost"] == 1


def test_a_checklist_that_was_replaced_can_still_be_found(bare):
    old, new = ({"checklists": [{"hash": key, "compiled": {"id": key}}]} for key in ("old", "new"))
    bare.evaluate("(one) => core.saveReference(one)", old)
    bare.evaluate("(one) => core.saveReference(one)", new)
    assert bare.evaluate("core.findChecklist('old')") == {"id": "old"}


def test_a_kill_of_the_browser_after_saved_loses_nothing(playwright, yard, tmp_path):
    profile = str(tmp_path / "phone")
    start = {"executable_path": get_chromium_path(), "headless": True, "args": list(CHROMIUM_FLAGS), "base_url": yard.url}
    said = []
    with playwright.chromium.launch_persistent_context(profile, **start) as phone:
        page = phone.new_page()
        page.expose_function("said", lambda number: said.append(number))
        page.goto("/bare")
        page.wait_for_function("globalThis.core !== undefined")
        with contextlib.suppress(Error):
            page.evaluate("""async () => { for (let n = 1; n <= 40; n += 1) await said((await core.save(`S${n}`)).dev_seq);
                globalThis.core.save('last'); }""")
            kill_browser(profile)
        with contextlib.suppress(Error):
            phone.close()
    with playwright.chromium.launch_persistent_context(profile, **start) as phone:
        page = phone.new_page()
        page.goto("/bare")
        page.wait_for_function("globalThis.core !== undefined")
        numbers = list_numbers(page)
        assert len(said) == 40
        assert numbers == list(range(1, len(numbers) + 1)) and len(numbers) >= 40
        assert page.evaluate("core.countRecords()") == len(numbers)


def kill_browser(profile: str) -> None:
    """Ends at once every process of the browser that runs on this test's own profile."""
    for entry in Path("/proc").iterdir():
        with contextlib.suppress(OSError, ValueError):
            if profile.encode() in (entry / "cmdline").read_bytes() and int(entry.name) != os.getpid():
                os.kill(int(entry.name), signal.SIGKILL)


def test_a_camera_picture_becomes_small_upright_and_loses_its_exif(bare):
    picture = Image.new("RGB", (2400, 1600), (160, 110, 70))
    exif = picture.getexif()
    exif[0x0112] = 6
    exif.get_ifd(0x8825)[2] = (1.0, 2.0, 3.0)
    held = io.BytesIO()
    picture.save(held, "JPEG", exif=exif)
    assert b"Exif" in held.getvalue()
    photo = bare.evaluate("""async (text) => {
        const bytes = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
        const name = await core.savePhoto(new Blob([bytes], {type: 'image/jpeg'}));
        const kept = await core.findPhoto(name);
        const list = new Uint8Array(kept.bytes);
        return {name, isBuffer: kept.bytes instanceof ArrayBuffer, type: kept.type,
                text: btoa(Array.from(list, (byte) => String.fromCharCode(byte)).join(''))}; }""",
        base64.b64encode(held.getvalue()).decode())
    content = base64.b64decode(photo["text"])
    assert photo["isBuffer"] and photo["type"] == "image/jpeg"
    assert hashlib.sha256(content).hexdigest() == photo["name"]
    assert b"Exif" not in content and len(content) < 120_000
    width, height = Image.open(io.BytesIO(content)).size
    assert (width, height) == (853, 1280)
