"""A full phone, a killed browser, a damaged store: what was said to be saved is there, nothing by
half.
"""

import contextlib
import os
import signal
from pathlib import Path

import pytest
from playwright.sync_api import Error

from tests.conftest import CHROMIUM_FLAGS, get_chromium_path
from tests.e2e.core.steps import MAKE_NOTE, list_numbers, list_rows, save, sync

# Gives the name of the error, the records tried, and how many had been saved when the reserve was
# first missed.
FILL = f"""async () => {{
    const makeNote = {MAKE_NOTE};
    let before = null;
    for (let n = 1; n <= 400; n += 1) {{
      try {{ await core.save(`S${{n}}`, {{body: {{note: makeNote(20_000)}}}}); }}
      catch (error) {{ return {{n, before, name: error.name}}; }}
      if (before === null && !await core.getMeta('reserve')) before = n - 1;
    }} }}"""
# What a browser tells of its room.
TELL_ROOM = "(room) => { StorageManager.prototype.estimate = async () => room; }"
TELL_NO_ROOM = """() => {
    StorageManager.prototype.estimate = async () => { throw new Error('not told'); };
    const put = IDBObjectStore.prototype.put;
    IDBObjectStore.prototype.put = function (value, key) {
      if (key === 'reserve') throw new DOMException('full', 'QuotaExceededError');
      return put.call(this, ...[value, key].slice(0, arguments.length)); }; }"""
HAS_RESERVE = "core.getMeta('reserve').then((bytes) => bytes?.byteLength ?? 0)"


def limit_room(context, page, yard, size: int) -> None:
    """Before the first save: the browser remembers for a while how much room it found."""
    context.new_cdp_session(page).send(
        "Storage.overrideQuotaForOrigin", {"origin": yard.url, "quotaSize": size}
    )


def test_a_full_phone_is_an_error_and_nothing_is_half_saved(bare, context, yard):
    limit_room(context, bare, yard, 200_000)
    outcome = bare.evaluate(FILL)
    assert outcome["name"] == "QuotaExceededError" and outcome["n"] > 1
    assert list_numbers(bare) == list(range(1, outcome["n"]))
    assert bare.evaluate("core.countRecords()") == outcome["n"] - 1


def test_the_reserve_is_given_up_for_records_and_then_the_error_stands(bare, context, yard):
    # Wide, since how much of it the browser's own book-keeping takes differs from machine to
    # machine.
    limit_room(context, bare, yard, 6_000_000)
    # What a browser tells of its room may be far too much; the reserve is kept when it tells of
    # plenty.
    bare.evaluate(TELL_ROOM, {"quota": 10_000_000_000, "usage": 0})
    bare.evaluate("core.keepReserve()")
    assert bare.evaluate(HAS_RESERVE) == 2_000_000
    outcome = bare.evaluate(FILL)
    # The reserve's 2 MB are some 50 records of this size; the browser may count a record twice for
    # a while.
    assert outcome["name"] == "QuotaExceededError" and outcome["before"] > 0
    assert outcome["n"] - outcome["before"] > 10
    assert bare.evaluate(HAS_RESERVE) == 0
    assert list_numbers(bare) == list(range(1, outcome["n"]))


def test_no_reserve_is_kept_where_there_is_little_room_and_none_is_missed(bare):
    bare.evaluate(TELL_ROOM, {"quota": 60_000_000, "usage": 20_000_000})
    bare.evaluate("core.keepReserve()")
    bare.evaluate(TELL_NO_ROOM)
    bare.evaluate("core.keepReserve()")
    assert bare.evaluate(HAS_RESERVE) == 0
    save(bare, "S1")
    assert list_numbers(bare) == [1]


FAIL_TIMES = """(times) => { globalThis.add = IDBObjectStore.prototype.add;
    IDBObjectStore.prototype.add = function (...wish) {
      if (times > 0) { times -= 1; throw new DOMException('full', 'QuotaExceededError'); }
      return add.apply(this, wish); }; }"""


@pytest.mark.parametrize(
    ("times", "photos", "reserve", "said"),
    [
        (0, 2, 2_000_000, "saved"),
        (1, 1, 2_000_000, "saved"),
        (3, 1, 0, "saved"),
        (4, 1, 0, "QuotaExceededError"),
    ],
)
def test_what_is_least_missed_goes_first_and_unsent_work_never(
    paired, times, photos, reserve, said
):
    paired.evaluate("""async () => {
        await core.save('S0', {photos: [await core.savePhoto(new ArrayBuffer(3000))]});
        await core.syncNow();
        await core.save('S1', {photos: [await core.savePhoto(new ArrayBuffer(4000))]});
        await core.keepReserve(); }""")
    paired.evaluate(FAIL_TIMES, times)
    assert paired.evaluate("core.save('S2').then(() => 'saved', (error) => error.name)") == said
    assert (
        paired.evaluate(
            "core.withStores(['photos'], 'readonly', ({photos}) => core.ask(photos.count()))"
        )
        == photos
    )
    assert paired.evaluate(HAS_RESERVE) == reserve
    assert paired.evaluate("core.status().then(({photos}) => photos)")["waiting"] == 1
    assert list_numbers(paired) == ([1, 2, 3] if said == "saved" else [1, 2])


FAIL_DRAFTS = """(times) => { const put = IDBObjectStore.prototype.put;
    IDBObjectStore.prototype.put = function (...wish) {
      if (this.name === 'drafts' && times > 0) {
        times -= 1;
        throw new DOMException('full', 'QuotaExceededError'); }
      return put.apply(this, wish); }; }"""


def test_a_draft_finds_room_too(paired):
    paired.evaluate("core.keepReserve()")
    paired.evaluate(FAIL_DRAFTS, 3)
    paired.evaluate("core.saveDraft({key: 'finished/S1'})")
    assert paired.evaluate("core.findDraft('finished/S1')") == {"key": "finished/S1"}


def test_an_exchange_lays_the_reserve_again(paired):
    sync(paired)
    assert paired.evaluate(HAS_RESERVE) == 2_000_000


def open_profile(playwright, yard, profile: str):
    return playwright.chromium.launch_persistent_context(
        profile,
        executable_path=get_chromium_path(),
        headless=True,
        args=list(CHROMIUM_FLAGS),
        base_url=yard.url,
    )


def open_core(phone):
    page = phone.new_page()
    page.goto("/bare")
    page.wait_for_function("globalThis.core !== undefined")
    return page


# Sixty drafts; twenty become records and each is said saved, the rest are left on the way.
SAVE_SIXTY = """async () => {
    const keyOf = (n) => `finished/S${n}`;
    const save = (n) => core.save(`S${n}`, {}, {draftKey: keyOf(n)});
    for (let n = 0; n < 60; n += 1) await core.saveDraft({key: keyOf(n), answers: {}});
    for (let n = 0; n < 20; n += 1) await said((await save(n)).dev_seq);
    for (let n = 20; n < 60; n += 1) save(n); }"""


def test_a_kill_of_the_browser_loses_nothing_that_was_said_saved_and_saves_nothing_by_half(
    playwright, yard, tmp_path
):
    profile = str(tmp_path / "phone")
    said = []
    with open_profile(playwright, yard, profile) as phone:
        page = phone.new_page()
        # Not the bound method itself: Playwright writes a mark onto what it is given.
        page.expose_function("said", lambda number: said.append(number))  # noqa: PLW0108
        page.goto("/bare")
        page.wait_for_function("globalThis.core !== undefined")
        with contextlib.suppress(Error):
            page.evaluate(SAVE_SIXTY)
            kill_browser(profile)
        with contextlib.suppress(Error):
            phone.close()
    with open_profile(playwright, yard, profile) as phone:
        page = open_core(phone)
        numbers = list_numbers(page)
        assert len(said) == 20 and len(numbers) >= 20
        assert numbers == list(range(1, len(numbers) + 1))
        assert page.evaluate("core.countRecords()") == len(numbers)
        saved = {row["event"]["stove"] for row in list_rows(page)}
        drafts = {
            draft["key"].removeprefix("finished/") for draft in page.evaluate("core.listDrafts()")
        }
        assert saved | drafts == {f"S{number}" for number in range(60)} and not saved & drafts, (
            "each is a draft or a record"
        )


def kill_browser(profile: str) -> None:
    """Ends at once every process of the browser that runs on this test's own profile."""
    for entry in Path("/proc").iterdir():
        with contextlib.suppress(OSError, ValueError):
            if (
                profile.encode() in (entry / "cmdline").read_bytes()
                and int(entry.name) != os.getpid()
            ):
                os.kill(int(entry.name), signal.SIGKILL)


def test_a_store_damaged_on_the_disk_is_named_with_its_exact_loss(playwright, yard, tmp_path):
    profile = tmp_path / "phone"
    with open_profile(playwright, yard, str(profile)) as phone:
        page = open_core(phone)
        page.evaluate("core.enrol('ABCD2345')")
        save(page, "S1", "S2", "S3")
        sync(page)
        save(page, "S4", "S5")
        old_id = page.evaluate("core.getMeta('device_id')")
    damaged = [path for path in (profile / "Default" / "IndexedDB").rglob("*") if path.is_file()]
    assert damaged
    for path in damaged:
        path.write_bytes(b"dust" * (path.stat().st_size // 4 + 1))
    with open_profile(playwright, yard, str(profile)) as phone:
        loss = open_core(phone).evaluate("core.findLoss()")
    assert (loss["device_id"], loss["created"], loss["acked"], loss["lost"]) == (old_id, 5, 3, 2)
