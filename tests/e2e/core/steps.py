"""What the sync tests do and look at again and again."""

import json

LEDGER = """async () => ({unsent: await core.countUnsent(), records: await core.countRecords(),
    meta: await core.readMeta(['have', 'dev_seq', 'device_id']) })"""


def save(page, *stoves: str) -> None:
    page.evaluate(
        "async (stoves) => { for (const stove of stoves) await core.save(stove); }", list(stoves)
    )


def sync(page) -> dict:
    return page.evaluate("core.syncNow()")


def wait_until_all_sent(page) -> None:
    left = page.evaluate("""async () => {
        for (let tries = 0; tries < 200 && await core.countUnsent() > 0; tries += 1) await new Promise((go) => setTimeout(go, 75));
        return core.countUnsent(); }""")
    assert left == 0


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
