"""What the sync tests do and look at again and again."""

import json

LEDGER = """async () => ({unsent: await core.countUnsent(), records: await core.countRecords(),
    meta: await core.readMeta(['have', 'dev_seq', 'device_id']) })"""

# A note of so many chance bytes as text: the browser packs what repeats.
MAKE_NOTE = """(length) => {
    const bytes = Array.from(crypto.getRandomValues(new Uint8Array(length)));
    return bytes.map((byte) => byte.toString(36)).join(''); }"""
# Tries for a quarter of a minute; gives how many are left.
WAIT_UNTIL_SENT = """async () => {
    const pause = () => new Promise((go) => setTimeout(go, 75));
    for (let tries = 0; tries < 200 && await core.countUnsent() > 0; tries += 1) await pause();
    return core.countUnsent(); }"""
# A record with a photo of its own, of a fault or not; the photo's name. The bytes: (7 at + length)
# modulo 253, see `make_photo_bytes`.
SAVE_PHOTO = """async ([stove, length, fault]) => {
    const bytes = Uint8Array.from({length}, (_, at) => (at * 7 + length) % 253);
    const name = await core.savePhoto(bytes.buffer);
    const answer = {photos: [name], ...(fault ? {fault: 'crack'} : {})};
    await core.save(stove, {photos: [name], body: {answers: {rim: answer}}});
    return name; }"""


def save(page, *stoves: str) -> None:
    page.evaluate(
        "async (stoves) => { for (const stove of stoves) await core.save(stove); }", list(stoves)
    )


def take_photo(page, stove: str, length: int = 1000, fault: bool = False) -> str:
    return page.evaluate(SAVE_PHOTO, [stove, length, fault])


def make_photo_bytes(length: int) -> bytes:
    return bytes((at * 7 + length) % 253 for at in range(length))


def sync(page) -> dict:
    return page.evaluate("core.syncNow()")


def wait_until_all_sent(page) -> None:
    assert page.evaluate(WAIT_UNTIL_SENT) == 0


def list_rows(page) -> list[dict]:
    return page.evaluate(
        "core.withStores(['events'], 'readonly', ({events}) => core.ask(events.getAll()))"
    )


def list_numbers(page) -> list[int]:
    return sorted(row["event"]["dev_seq"] for row in list_rows(page))


def list_states(page) -> dict:
    return {row["event"]["stove"]: row["state"] for row in list_rows(page)}


def other_event(number: int, **more) -> dict:
    event = {
        "id": f"other-{number}",
        "kind": "inspection",
        "device_id": "other-phone",
        "dev_seq": number,
        "batch": "B1",
        "stage": "finished",
        "stove": f"X{number}",
        "captured_at": "2026-11-25T08:00:00.000Z",
        "photos": [],
        "corrects": None,
    }
    return {**event, "hash": f"{number:064d}", **more}


def disturb_push(yard, make) -> None:
    yard.disturb = lambda method, path, request, answer: (
        make(answer) if path == "/api/sync/push" else answer
    )


def yard_answer(answer) -> dict:
    return json.loads(answer[2])


def stove_of(yard, event_id: str) -> str:
    return next(row["event"]["stove"] for row in yard.log if row["event"]["id"] == event_id)
