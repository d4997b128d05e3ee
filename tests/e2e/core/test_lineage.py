"""Two tabs, restored servers, late answers, pulled events: nothing lost, nothing twice,
nothing skipped.
"""

import copy

import pytest

from tests.e2e.core.fake_yard import html
from tests.e2e.core.steps import LEDGER, list_states, other_event, save, sync


def test_two_tabs_and_twenty_forced_exchanges_store_each_record_once(open_bare, yard):
    pages = [open_bare(), open_bare()]
    pages[0].evaluate("core.enrol('ABCD2345')")
    save(pages[0], *(f"S{number}" for number in range(30)))
    for _round in range(10):
        for page in pages:
            page.evaluate("() => { globalThis.done = core.syncNow(); }")
        for page in pages:
            page.evaluate("done.then(() => null)")
    assert sorted(yard.stored_ids()) == sorted(set(yard.stored_ids())) and len(yard.log) == 30
    assert pages[1].evaluate("core.countUnsent()") == 0
    assert yard.max_pushes == 1


def test_two_tabs_without_locks_still_store_each_record_once(context, open_bare, yard):
    context.add_init_script(
        "Object.defineProperty(Navigator.prototype, 'locks', {value: undefined})"
    )
    pages = [open_bare(), open_bare()]
    pages[0].evaluate("core.enrol('ABCD2345')")
    save(pages[0], *(f"S{number}" for number in range(30)))
    for _round in range(10):
        for page in pages:
            page.evaluate("() => { globalThis.done = core.syncNow(); }")
        for page in pages:
            page.evaluate("done.then(() => null)")
    assert len(yard.log) == len(set(yard.stored_ids())) == 30
    assert pages[1].evaluate("core.countUnsent()") == 0


def test_a_server_restored_from_a_backup_gets_everything_again(paired, yard):
    save(paired, "S1", "S2")
    sync(paired)
    backup = copy.deepcopy(yard.log)
    save(paired, "S3", "S4")
    sync(paired)
    yard.log = backup
    for number in range(1, 6):
        yard.append(other_event(number))
    # Another phone has written past the old number, and this one has nothing new to send.
    assert len(yard.log) > 4
    paired.reload()
    paired.wait_for_function("globalThis.core !== undefined")
    assert sync(paired)["left"] == 0
    stoves = sorted(row["event"]["stove"] for row in yard.log)
    assert stoves == ["S1", "S2", "S3", "S4", "X1", "X2", "X3", "X4", "X5"]
    assert paired.evaluate(
        "core.listStoves(['B1']).then((rows) => rows.map(({ key }) => key))"
    ) == [f"finished/{stove}" for stove in stoves]


@pytest.mark.parametrize("others", [0, 1, 2], ids=["shorter", "as long", "longer"])
def test_a_restore_is_noticed_with_nothing_to_send_and_a_pull_that_was_missed(paired, yard, others):
    save(paired, "S1")
    sync(paired)
    backup = copy.deepcopy(yard.log)
    save(paired, "S2")
    yard.disturb = lambda method, path, request, answer: (
        html(502) if path == "/api/sync/pull" else answer
    )
    sync(paired)
    assert list_states(paired) == {"S1": "sent", "S2": "sent"}
    yard.disturb = lambda method, path, request, answer: answer
    yard.log = backup
    for number in range(others):
        yard.append(other_event(number))
    paired.reload()
    paired.wait_for_function("globalThis.core !== undefined")
    sync(paired)
    assert sorted(row["event"]["stove"] for row in yard.log) == [
        "S1",
        "S2",
        *(f"X{number}" for number in range(others)),
    ]


def test_a_record_made_after_the_backup_tells_of_the_restore_too(paired, yard):
    save(paired, "S1", "S2", "S3")
    sync(paired)
    yard.log = yard.log[:1]
    save(paired, "S4")
    assert sync(paired)["left"] == 0
    assert sorted(row["event"]["stove"] for row in yard.log) == ["S1", "S2", "S3", "S4"]


def test_another_server_gets_everything_and_brings_its_own_stoves(paired, yard):
    yard.append(other_event(1))
    save(paired, "S1")
    sync(paired)
    yard.server_id, yard.log = "yard-2", []
    yard.append(other_event(2))
    paired.evaluate("core.enrol('ABCD2345')")
    sync(paired)
    assert sorted(row["event"]["stove"] for row in yard.log) == ["S1", "X2"]
    assert paired.evaluate(
        "core.listStoves(['B1']).then((rows) => rows.map(({ key }) => key))"
    ) == ["finished/S1", "finished/X2"]


def test_a_late_answer_changes_nothing(paired, yard):
    save(paired, "S1")
    sync(paired)
    save(paired, "S2")
    before = paired.evaluate(LEDGER)
    said = paired.evaluate(
        """async () => {
        const [row] = await core.listUnsent(1);
        return core.acknowledge([{id: row.id, outcome: 'created'}],
            {ids: new Set([row.id]), have: {seq: 0, chain: 'earlier'}}, {seq: 2, chain: 'late'}); }"""
    )
    assert said == {"is_late": True, "settled": []}
    assert paired.evaluate(LEDGER) == before


def test_a_record_that_was_not_in_the_request_cannot_be_acknowledged(paired):
    save(paired, "S1")
    paired.evaluate(
        """async () => { const [row] = await core.listUnsent(1);
        const asked = {ids: new Set(), have: null};
        await core.acknowledge([{id: row.id, outcome: 'created'}], asked, {seq: 1, chain: 'a'}); }"""
    )
    assert list_states(paired) == {"S1": "unsent"}


def test_a_push_answer_does_not_move_the_pull_cursor(paired, yard):
    sync(paired)
    before = paired.evaluate("core.getMeta('cursor')")
    yard.append(other_event(1))
    save(paired, "S1")
    yard.disturb = lambda method, path, request, answer: (
        html(502) if path == "/api/sync/pull" else answer
    )
    sync(paired)
    assert list_states(paired) == {"S1": "sent"}
    assert paired.evaluate("core.getMeta('cursor')") == before
    yard.disturb = lambda method, path, request, answer: answer
    sync(paired)
    assert list_states(paired) == {"S1": "sent", "X1": "sent"}


def test_the_cursor_does_not_pass_rows_that_were_not_kept(paired, yard):
    yard.append(other_event(1))
    before = paired.evaluate("core.getMeta('cursor')")
    paired.evaluate("""() => { const put = IDBObjectStore.prototype.put;
        IDBObjectStore.prototype.put = function (value, key) {
          if (key === 'cursor') { this.transaction.abort(); throw new DOMException('cut', 'DataError'); }
          return put.call(this, value, key); };
        globalThis.mend = () => { IDBObjectStore.prototype.put = put; }; }""")
    paired.evaluate("core.syncNow().catch(() => null)")
    assert (paired.evaluate("core.getMeta('cursor')"), list_states(paired)) == (before, {})
    paired.evaluate("mend()")
    sync(paired)
    assert list_states(paired) == {"X1": "sent"}


def test_events_of_a_stove_come_in_the_order_of_the_log_with_unsent_ones_last(paired, yard):
    save(paired, "X1")
    sync(paired)
    yard.append(other_event(1))
    sync(paired)
    save(paired, "X1")
    rows = paired.evaluate("core.listEvents('finished/X1')")
    assert [(row["origin"], row["state"]) for row in rows] == [
        ("own", "sent"),
        ("other", "sent"),
        ("own", "unsent"),
    ]


def test_what_another_phone_sent_and_the_server_set_aside_does_not_count_here(paired, yard):
    yard.append(other_event(1), "quarantined")
    yard.append(other_event(2))
    yard.append(other_event(2, stove="X9"), "conflict")
    sync(paired)
    assert paired.evaluate("core.listEvents('finished/X1')") == []
    assert [row["seq"] for row in paired.evaluate("core.listEvents('finished/X2')")] == [2]


def test_a_record_of_this_phone_stays_its_own_when_it_is_pulled(paired):
    save(paired, "S1")
    paired.evaluate(
        """async () => { const [{event}] = await core.listUnsent(1);
        await core.mergePulled([{seq: 7, state: 'counted', event}], '7:abc', {have: null, cursor: ''}); }"""
    )
    [row] = paired.evaluate("core.listEvents('finished/S1')")
    assert (row["origin"], row["state"], row["seq"]) == ("own", "unsent", 7)
