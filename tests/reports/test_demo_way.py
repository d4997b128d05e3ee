"""The demo's stoves from blank to buyer: joined, let-through faults counted again from the exported
records without the program, hours beside faults.
"""

import json
from collections import defaultdict

import pytest

from qcapp.inspection.filters import Filters
from qcapp.store.log import list_after
from qcapp.store.registry.checklists import load_history
from qcapp.usecases.load_escapes import load_escapes
from qcapp.usecases.note_hours import load_hours
from tests.page_text import text_of
from tests.reports.test_demo_summaries import demo  # noqa: F401  (a fixture)

pytestmark = pytest.mark.slow
ALL_STAGES = "Stages with a record: 7."


def read_inspections(store):
    """{stage/serial: inspections, oldest first} as corrected, without the voided ones."""
    with store.reading() as connection:
        rows = list_after(connection, 0, None)
        history = load_history(connection)
    events = [json.loads(row.raw) for row in rows if row.state == "counted"]
    by_id = {one["id"]: one for one in events if one["kind"] == "inspection"}
    for one in events:
        if one["kind"] == "correction":
            by_id[one["corrects"]] = {**by_id[one["corrects"]], "body": one["body"]["replacement"]}
        elif one["kind"] == "void":
            by_id.pop(one["corrects"], None)
    found = defaultdict(list)
    for one in sorted(by_id.values(), key=lambda one: one["captured_at"]):
        found[f"{one['stage']}/{one['stove']}"].append(one)
    compiled = {one.stage: one.compiled() for one in history.current.values()}
    return found, compiled


def list_ancestors(key, inspections, compiled, seen):
    """What this article is made from, as far as it was inspected; a load ends there."""
    stage, serial = key.split("/", 1)
    named = dict.fromkeys(compiled[stage].get("same_serial", ()), serial)
    for one in inspections[key]:
        named |= one["body"].get("made_from") or {}
    for earlier, typed in named.items():
        other = f"{earlier}/{typed}"
        if other in inspections and other not in seen:
            seen.add(other)
            if earlier != "firing":
                list_ancestors(other, inspections, compiled, seen)
    return seen


LOOKED = ("pass", "fail", "doubtful")


def is_fault(check, verdict):
    """A doubtful reading fails where the check is guarded."""
    return verdict == "fail" or (verdict == "doubtful" and check.get("decision") == "guarded")


def find_last_looks(visits, names, until):
    """{check: (when, verdict)} of the last looks before a moment."""
    return {
        name: (one["captured_at"], one["body"]["verdicts"][name])
        for one in visits
        for name in names
        if one["captured_at"] < until and one["body"]["verdicts"].get(name) in LOOKED
    }


def find_earlier(check, first, before, inspections):
    """(when, stage, looks) of the stage that looked last, None where none did."""
    stages = []
    for stage, names in check["should_be_caught_by"].items():
        for other in before:
            if other.startswith(f"{stage}/"):
                looks = find_last_looks(inspections[other], names, first["captured_at"])
                if len(looks) == len(names):
                    stages.append((max(at for at, _verdict in looks.values()), stage, looks))
    return max(stages, key=lambda earlier: earlier[0], default=None)


def list_passages(inspections, compiled):
    """(earlier stage, later article, was it a fault) of all later first inspections."""
    checks_of = {
        stage: {one["id"]: one for one in two["checks"]} for stage, two in compiled.items()
    }
    for key in list(inspections):
        first = inspections[key][0]
        before = list_ancestors(key, inspections, compiled, set())
        for check in checks_of[first["stage"]].values():
            verdict = first["body"]["verdicts"].get(check["id"])
            if verdict in LOOKED and "should_be_caught_by" in check:
                earlier = find_earlier(check, first, before, inspections)
                if earlier and not any(
                    is_fault(checks_of[earlier[1]][name], seen)
                    for name, (_at, seen) in earlier[2].items()
                ):
                    yield earlier[1], key, is_fault(check, verdict)


def recount(store):
    """{earlier stage: (pieces with a fault let through, pieces followed)}; the phones' verdicts are
    what the server judged (another test holds that).
    """
    inspections, compiled = read_inspections(store)
    # A liner and the stove that it went into are one piece.
    stove_of = {
        liner: one["stove"]
        for visits in inspections.values()
        for one in visits
        if (liner := (one["body"].get("made_from") or {}).get("fired-liner"))
    }
    followed, escaped = defaultdict(set), defaultdict(set)
    for stage, key, is_escape in list_passages(inspections, compiled):
        serial = key.split("/", 1)[1]
        piece = stove_of.get(serial, serial)
        followed[stage].add(piece)
        if is_escape:
            escaped[stage].add(piece)
    return {stage: (len(escaped[stage]), len(followed[stage])) for stage in followed}


def test_what_was_let_through_is_what_a_recount_of_the_records_says(demo):  # noqa: F811
    client, _documents = demo
    store = client.app.state.store
    with store.reading() as connection:
        history = load_history(connection)
    stages = load_escapes(store, history, Filters(has_all_days=True))
    told = {one.stage: (one.rate.failed, one.rate.inspected) for one in stages}
    assert told == recount(store)
    assert len(told) == 6 and all(of for _failed, of in told.values())
    assert sum(failed for failed, _of in told.values()) > 0


def test_a_stove_for_the_buyer_shows_its_whole_way_and_its_let_through_fault(demo):  # noqa: F811
    client, _documents = demo
    pages = [text_of(client.get(f"/stoves/finished/B5-{number:03}")) for number in range(1, 17)]
    assert all(ALL_STAGES in page for page in pages)
    assert any("Let through: “" in page for page in pages)
    load = text_of(client.get("/stoves/firing/B5-K001"))
    assert "8 liners say that they were in this load" in load and "Liners put in 38" in load
    assert "nobody can tell" not in load


def test_hours_have_inspected_pieces_beside_them(demo):  # noqa: F811
    client, _documents = demo
    rows = load_hours(client.app.state.store).rows
    assert len(rows) == 3 and all(row.found for row in rows)
