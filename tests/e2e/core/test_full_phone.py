"""A full phone must still send: only what the server has makes room again."""

import pytest

from tests.e2e.core.steps import MAKE_NOTE, list_rows, other_event, save, sync
from tests.e2e.core.test_room import limit_room

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


@pytest.fixture
def full(bare, context, yard):
    """A phone with 800 or more records, its reserve for records spent, no room left."""
    limit_room(context, bare, yard, 9_000_000)
    bare.evaluate(TELLS_OF_PLENTY)
    bare.evaluate("core.enrol('ABCD2345')")
    bare.evaluate("core.keepReserve()")
    outcome = bare.evaluate(FILL)
    assert outcome["name"] == "QuotaExceededError"
    assert outcome["saved"] >= 800
    return bare


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
