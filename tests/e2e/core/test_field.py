"""What the yard does to a phone: wrong clocks, other people's Wi-Fi, lying flags, missing features,
old servers.
"""

import pytest

from tests.e2e.core.fake_yard import as_json, html
from tests.e2e.core.steps import (
    LEDGER,
    list_rows,
    list_states,
    save,
    sync,
    wait_until_all_sent,
)

DAY_MS = 86_400_000
REFUSAL = {"error": {"what": "no", "where": "token", "todo": "join again"}}


def cut(answer):
    return answer[0], answer[1], answer[2][: len(answer[2]) // 2]


PORTAL = {
    "login page": lambda answer: html(200),
    "redirect": lambda answer: (302, {"Location": "/bare"}, b""),
    "empty": lambda answer: (200, {}, b""),
    "cut-off": cut,
    "list": lambda answer: as_json([]),
    "dropped": lambda answer: None,
}


@pytest.mark.parametrize("path", ["/api/sync/hello", "/api/sync/reference", "/api/sync/pull"])
def test_a_portal_in_front_of_any_call_changes_nothing(paired, yard, path):
    save(paired, "S1")
    sync(paired)
    before = {
        **paired.evaluate(LEDGER),
        "reference": paired.evaluate("core.readKnown().then(({reference}) => reference)"),
        "cursor": paired.evaluate("core.getMeta('cursor')"),
    }
    yard.reference = {**yard.reference, "tag": "t2"}
    for name, make in PORTAL.items():
        yard.disturb = lambda method, where, request, answer, make=make: (
            make(answer) if where == path else answer
        )
        paired.reload()
        paired.wait_for_function("globalThis.core !== undefined")
        assert sync(paired)["status"] == "not-connected", name
        after = {
            **paired.evaluate(LEDGER),
            "reference": paired.evaluate("core.readKnown().then(({reference}) => reference)"),
            "cursor": paired.evaluate("core.getMeta('cursor')"),
        }
        # A pull comes after the reference, which may be new by then.
        assert after == before | (
            {"reference": after["reference"]} if path.endswith("pull") else {}
        ), name
    yard.disturb = lambda method, where, request, answer: answer
    assert sync(paired)["status"] == "nothing"


def test_a_portal_in_front_of_joining_leaves_the_phone_as_it_was(bare, yard):
    for name, make in PORTAL.items():
        yard.disturb = lambda method, where, request, answer, make=make: make(answer)
        assert (
            bare.evaluate("core.enrol('ABCD2345').catch((error) => error.text_key)")
            == "sync.not-connected"
        ), name
    assert bare.evaluate("core.readMeta(['token', 'server_id'])") == {
        "token": None,
        "server_id": None,
    }


@pytest.mark.parametrize("flag", ["true", "false"])
def test_the_offline_flag_lies_both_ways_and_is_not_believed(context, open_bare, yard, flag):
    context.add_init_script(
        f"Object.defineProperty(Navigator.prototype, 'onLine', {{get: () => {flag}}})"
    )
    page = open_bare()
    page.evaluate("core.enrol('ABCD2345')")
    save(page, "S1")
    yard.disturb = lambda method, path, request, answer: None
    assert {key: sync(page)[key] for key in ("status", "left")} == {
        "status": "not-connected",
        "left": 1,
    }
    yard.disturb = lambda method, path, request, answer: answer
    assert sync(page)["sent"] == 1


SHIFT_CLOCK = """(shift) => { globalThis.RealDate ??= Date; const Real = RealDate;
    globalThis.Date = class extends Real {
      constructor(...wish) { wish.length ? super(...wish) : super(Real.now() + shift); }
      static now() { return Real.now() + shift; } }; }"""


def test_a_clock_forty_days_off_either_way_changes_neither_order_nor_number(paired, yard):
    for stove, days in [("S1", 40), ("S2", -40), ("S3", 0), ("S4", 400)]:
        paired.evaluate(SHIFT_CLOCK, days * DAY_MS)
        save(paired, stove)
    assert sync(paired)["sent"] == 4
    assert [(row["event"]["stove"], row["event"]["dev_seq"]) for row in yard.log] == [
        ("S1", 1),
        ("S2", 2),
        ("S3", 3),
        ("S4", 4),
    ]
    times = [row["event"]["captured_at"] for row in yard.log]
    assert (
        times[1] < times[2] < times[0] < times[3]
        and yard.requests[-1]["device"]["clock"] > times[0]
    )
    # A clock a year ahead must not make the phone throw its records away.
    assert len(list_rows(paired)) == 4


def test_a_clock_set_back_does_not_keep_an_old_greeting(paired, yard):
    paired.evaluate(SHIFT_CLOCK, 40 * DAY_MS)
    sync(paired)
    paired.evaluate(SHIFT_CLOCK, -40 * DAY_MS)
    paired.evaluate(
        "() => { const real = performance.now.bind(performance); performance.now = () => real() +"
        " 301_000; }"
    )
    before = len(yard.calls)
    sync(paired)
    assert "/api/sync/hello" in [path for _method, path, _size in yard.calls[before:]]


def test_a_revoked_token_keeps_everything_and_a_new_code_sends_it_once(paired, yard):
    save(paired, "S1")
    sync(paired)
    save(paired, "S2", "S3")
    yard.disturb = lambda method, path, request, answer: (
        as_json(REFUSAL, 401) if path == "/api/sync/push" else answer
    )
    served, yard._push = yard._push, lambda request: {}
    for _ in range(3):
        assert {key: sync(paired)[key] for key in ("status", "text_key", "left")} == {
            "status": "pair-again",
            "text_key": "sync.pair-again",
            "left": 2,
        }
    save(paired, "S4")
    yard._push, yard.disturb = served, lambda method, path, request, answer: answer
    device_id = paired.evaluate("core.getMeta('device_id')")
    paired.evaluate("core.enrol('ABCD2345')")
    assert sync(paired)["sent"] == 3
    assert [(row["event"]["stove"], row["event"]["device_id"]) for row in yard.log] == [
        (stove, device_id) for stove in ("S1", "S2", "S3", "S4")
    ]


def test_a_server_that_does_not_speak_this_protocol_is_waited_for(paired, yard):
    save(paired, "S1")
    yard.disturb = lambda method, path, request, answer: (
        as_json({"protocol": 7, "server_id": "yard-1", "head": yard.head()})
        if path == "/api/sync/hello"
        else answer
    )
    assert {key: sync(paired)[key] for key in ("text_key", "left")} == {
        "text_key": "sync.other-protocol",
        "left": 1,
    }
    assert yard.requests == [] and list_states(paired) == {"S1": "unsent"}
    yard.disturb = lambda method, path, request, answer: answer
    assert sync(paired)["sent"] == 1


def test_two_people_on_one_phone_keep_their_names_and_share_the_numbers(paired, yard):
    for stove, inspector in [("S1", "I1"), ("S2", "I2"), ("S3", "I1")]:
        paired.evaluate("([stove, inspector]) => core.save(stove, {inspector})", [stove, inspector])
    sync(paired)
    assert [(row["event"]["inspector"], row["event"]["dev_seq"]) for row in yard.log] == [
        ("I1", 1),
        ("I2", 2),
        ("I1", 3),
    ]


def test_a_checklist_revised_in_the_middle_goes_on_as_it_began(paired, yard):
    old, new = (
        {"hash": key * 64, "compiled": {"id": "finished-stove", "revision": number}}
        for key, number in (("a", 1), ("b", 2))
    )
    yard.reference = {**yard.reference, "tag": "t2", "checklists": [old]}
    sync(paired)
    paired.evaluate(
        "(hash) => core.saveDraft({key: 'finished/S1', checklist_hash: hash})", old["hash"]
    )
    yard.reference = {**yard.reference, "tag": "t3", "checklists": [new]}
    yard.known_checklists = [new["hash"]]
    paired.reload()
    paired.wait_for_function("globalThis.core !== undefined")
    sync(paired)
    started = paired.evaluate("core.findDraft('finished/S1')")["checklist_hash"]
    assert paired.evaluate("(hash) => core.findChecklist(hash)", started) == old["compiled"]
    paired.evaluate("(hash) => core.save('S1', {checklist_hash: hash})", started)
    sync(paired)
    assert yard.requests[-1]["definitions"] == [old["compiled"]]
    assert yard.log[-1]["event"]["checklist_hash"] == old["hash"]


LACKING = """
  const ofNavigator = [
    'locks', 'storage', 'serviceWorker', 'connection', 'share', 'canShare', 'vibrate', 'wakeLock'];
  for (const name of ofNavigator)
    Object.defineProperty(Navigator.prototype, name, {value: undefined, configurable: true});
  const ofWindow = [
    'BroadcastChannel', 'CompressionStream', 'SyncManager', 'OffscreenCanvas', 'BarcodeDetector'];
  for (const name of ofWindow) delete globalThis[name];
  delete Crypto.prototype.randomUUID; globalThis.trouble = [];
  addEventListener('unhandledrejection', ({reason}) => trouble.push(String(reason)));"""


def test_a_browser_without_every_newer_feature_records_and_sends(context, open_bare, yard):
    context.add_init_script(LACKING)
    page = open_bare()
    page.evaluate("core.enrol('ABCD2345')")
    page.evaluate("core.startSync()")
    page.evaluate(
        "core.savePhoto(new ArrayBuffer(2000)).then((name) => core.save('S1', {photos: [name]}))"
    )
    wait_until_all_sent(page)
    page.wait_for_function("core.status().then(({photos}) => photos.waiting === 0)")
    assert page.evaluate("core.buildExportFile()")["n"] == 0
    assert page.evaluate("core.isStorageProtected()") is False
    assert (len(yard.log), len(yard.photos), page.evaluate("trouble")) == (1, 1, [])


@pytest.mark.parametrize(
    "answer",
    ["Promise.resolve(true)", "Promise.resolve(false)", "Promise.reject(new Error('not allowed'))"],
)
def test_recording_does_not_hang_on_whether_the_browser_protects_the_store(
    context, open_bare, answer
):
    context.add_init_script(
        f"StorageManager.prototype.persist = () => {answer}; StorageManager.prototype.persisted ="
        f" () => {answer};globalThis.trouble = []; addEventListener('unhandledrejection',"
        " ({reason}) => trouble.push(String(reason)));"
    )
    page = open_bare()
    save(page, "S1")
    assert page.evaluate("core.isStorageProtected()") is ("true" in answer)
    assert page.evaluate("trouble") == []


def test_a_near_server_out_of_reach_three_times_is_put_down_to_mobile_data(paired, yard):
    save(paired, "S1")
    yard.disturb = lambda method, path, request, answer: None
    assert [sync(paired)["text_key"] for _ in range(4)] == ["sync.not-connected"] * 2 + [
        "sync.wrong-network"
    ] * 2
    yard.disturb = lambda method, path, request, answer: answer
    assert sync(paired)["text_key"] == "sync.sent"
    yard.disturb = lambda method, path, request, answer: None
    save(paired, "S2")
    assert sync(paired)["text_key"] == "sync.not-connected"


SYNC_COUNTING_WRITES = """async () => {
    let writes = 0;
    const open = IDBDatabase.prototype.transaction;
    IDBDatabase.prototype.transaction = function (names, mode, options) {
      writes += mode === 'readwrite' && [names].flat().includes('events');
      return open.call(this, names, mode, options); };
    await core.syncNow();
    return writes; }"""


def test_five_hundred_records_are_settled_in_one_transaction_a_batch(paired, yard):
    paired.evaluate("Promise.all(Array.from({length: 200}, (_, n) => core.save(`S${n}`)))")
    writes = paired.evaluate(SYNC_COUNTING_WRITES)
    batches = len(yard.requests)
    assert batches <= 4 and len(yard.log) == 200
    # One for each batch, one for the page of the pull, one for tidying.
    assert writes <= batches + 2
