"""A full phone must still send: only what the server has makes room again."""

import pytest

from tests.e2e.core.steps import MAKE_NOTE, list_rows, other_event, save, sync
from tests.e2e.core.test_photos import count
from tests.e2e.core.test_room import HAS_RESERVE, limit_room

# The size of a finished stove's record with a photo and a note.
FILL = f"""async () => {{
    const makeNote = {MAKE_NOTE};
    for (let n = 1; n <= 2000; n += 1) {{
      try {{ await core.save(`S${{n}}`, {{body: {{size: 'medium', note: makeNote(2_400)}}}}); }}
      catch (error) {{ return {{saved: n - 1, name: error.name}}; }}
    }} }}"""
TELLS_OF_PLENTY = (
    "() => { StorageManager.prototype.estimate = async () => ({quota: 1e10, usage: 0}); }"
)
# The smallest thing that a full phone cannot keep: until even that fails there is still room.
SPEND_THE_REST = """async () => {
    for (let size = 200_000; size >= 64; size = Math.floor(size / 2)) {
      for (let n = 0; n < 200; n += 1) {
        const bytes = crypto.getRandomValues(new Uint8Array(Math.min(size, 65_536)));
        const put = ({meta}) => core.ask(meta.put(bytes, `${size}/${n}`));
        const isKept = await core.withStores(['meta'], 'readwrite', put)
          .then(() => true, () => false);
        if (!isKept) break;
      } } }"""
IS_DONE = """async () => await core.countUnsent() === 0 && !await core.getMeta('forgetting')"""
DROP_RESERVES = """() => core.withStores(['meta'], 'readwrite', ({meta}) => {
    meta.delete('reserve'); meta.delete('reserve_for_sending'); })"""


SET_BACK = """(days) => { const now = Date.now.bind(Date);
    globalThis.rightNow = now; Date.now = () => now() - days * 86_400_000; }"""
# A photo of chance bytes and a record that names it; the photo's name, or the error's.
TAKE_PHOTO = """async ([stove, size]) => {
    const bytes = new Uint8Array(size);
    for (let at = 0; at < size; at += 65_536)
      crypto.getRandomValues(bytes.subarray(at, at + 65_536));
    try {
      const name = await core.savePhoto(bytes.buffer);
      await core.save(stove, {photos: [name]});
      return name;
    } catch (error) { return error.name; } }"""


@pytest.fixture
def small(bare, context, yard):
    """A joined phone with little room that lies about it, its reserves laid."""
    limit_room(context, bare, yard, 9_000_000)
    bare.evaluate(TELLS_OF_PLENTY)
    bare.evaluate("core.enrol('ABCD2345')")
    bare.evaluate("core.keepReserve()")
    return bare


@pytest.fixture
def full(small):
    """A phone with 800 or more records, its reserve for records spent, no room left."""
    return fill(small)


def fill(page):
    outcome = page.evaluate(FILL)
    assert outcome["name"] == "QuotaExceededError"
    assert outcome["saved"] >= 800
    return page


def send_all(page) -> list[dict]:
    """What each exchange said, until nothing waits or sixty are over."""
    said = []
    for _ in range(60):
        said.append(sync(page))
        if page.evaluate(IS_DONE):
            break
    return said


def list_sent(yard) -> list[str]:
    return sorted(row["event"]["stove"] for row in yard.log)


def test_with_no_reserve_and_no_room_at_all_it_still_sends(full, yard):
    spend_all(full)
    made = sorted(row["event"]["stove"] for row in list_rows(full))
    for number in range(400):
        yard.append(other_event(number, body={"note": "x" * 2000}))
    said = send_all(full)
    assert full.evaluate("core.countUnsent()") == 0
    assert sum(one["sent"] for one in said) == len(made), "it says what it sent"
    assert len(said) <= 3
    assert sorted(set(list_sent(yard))) == sorted({*made, *(f"X{n}" for n in range(400))})
    assert said[-1]["text_key"] in ("sync.full", "sync.sent")
    save(full, "next")
    assert "next" in list_sent(yard) or sync(full)["sent"] == 1


def test_a_full_phone_brings_back_what_a_restored_server_lost(full, yard):
    send_all(full)
    made = list_sent(yard)
    save(full, *(f"late {number}" for number in range(20)))
    spend_all(full)
    kept = {row["event"]["stove"] for row in list_rows(full)}
    del yard.log[len(yard.log) // 2 :]
    said = send_all(full)
    assert full.evaluate("core.countUnsent()") == 0, said[-3:]
    assert kept <= set(list_sent(yard)), "what the phone still had is on the server again"
    assert len(list_sent(yard)) == len(set(list_sent(yard)))
    assert len(made) >= 800


def spend_all(page) -> None:
    page.evaluate(DROP_RESERVES)
    page.evaluate(SPEND_THE_REST)


def take_photos(page, most: int) -> list[str]:
    """Names of photos until one finds no room."""
    names: list[str] = []
    while len(names) < most:
        name = page.evaluate(TAKE_PHOTO, [f"P{len(names)}", 150_000])
        if len(name) != 64:
            break
        names.append(name)
    return names


def test_photos_that_the_server_has_make_room_for_a_new_one_and_the_reserves_stay(small):
    assert len(take_photos(small, 100)) < 100
    sync(small)
    assert count(small)["waiting"] == 0
    # The last ones were sent by a clock that was ahead.
    small.evaluate(SET_BACK, 3)
    assert len(small.evaluate(TAKE_PHOTO, ["after", 150_000])) == 64
    assert small.evaluate(HAS_RESERVE) == 2_000_000


def test_new_checklist_with_pictures_comes_to_a_phone_full_of_photos_that_were_sent(small, yard):
    take_photos(small, 100)
    sync(small)
    picture = small.evaluate(
        "Array.from({length: 6e5}, () => Math.random().toString(36)[2]).join('')"
    )
    reference = {"tag": "newer", "checklists": [], "batches": [], "drawings": {"p": picture}}
    small.evaluate("(reference) => core.saveReference(reference)", reference)
    assert small.evaluate("core.readReference().then(({tag}) => tag)") == "newer"
    assert small.evaluate(HAS_RESERVE) == 2_000_000


def test_full_phone_brings_a_restored_server_the_photos_that_it_lost(small, yard):
    names = take_photos(small, 20)
    sync(small)
    assert set(yard.photos) == set(names) and len(names) == 20
    small.evaluate(SPEND_THE_REST)
    yard.photos.clear()
    del yard.log[len(yard.log) // 2 :]
    send_all(small)
    assert set(yard.photos) == set(names)
    assert len(list_sent(yard)) == len(set(list_sent(yard))) == 20


# Only a deletion still works, as where another site has taken the whole disk.
REFUSE_TO_PUT = """() => { IDBObjectStore.prototype.put = function () {
    throw new DOMException('full', 'QuotaExceededError'); }; }"""


def test_one_exchange_sends_all_where_nothing_more_can_be_written_down(paired, yard):
    save(paired, *(f"S{number}" for number in range(120)))
    paired.evaluate(REFUSE_TO_PUT)
    said = sync(paired)
    assert (said["sent"], said["left"], said["text_key"]) == (120, 0, "sync.full")
    assert len(list_sent(yard)) == len(set(list_sent(yard))) == 120
    assert list_rows(paired) == []
    paired.reload()
    paired.wait_for_function("globalThis.core !== undefined")
    save(paired, "after")
    assert (sync(paired)["sent"], len(list_sent(yard))) == (1, 121), "by itself, once there is room"
