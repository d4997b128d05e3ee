"""A sentence may be reworded at any time: what is stored, signed and sent stays the same."""

import random
from types import SimpleNamespace

from sqlalchemy import select

from qcapp.store.log import chain
from qcapp.store.queries import summaries
from qcapp.store.tables import LOG
from qcapp.sync import server_events
from qcapp.sync.audit_trail import note
from tests.builders import NOW, Phone, open_yard
from tests.messages import reworded
from tests.page_text import text_of


def seed_ids(monkeypatch):
    """The same identity of the log and the same ids in every run."""
    chance = random.Random(7)
    drawn = SimpleNamespace(
        randbits=chance.getrandbits, token_hex=lambda size: chance.randbytes(size).hex()
    )
    for module in (chain, server_events):
        monkeypatch.setattr(module, "secrets", drawn)


def live_a_day(yard):
    """Records that count, that do not for several reasons, an overruled decision, two summaries."""
    other = Phone(yard.checklist).inspect("B1-001", dents="fail", disposition="rework")
    answer = yard.push(
        yard.phone.inspect("B1-001", width="106", disposition="rework"),
        yard.phone.inspect("B1-002", edge="fail", disposition="scrap"),
        yard.phone.inspect("B1-003", maker="A77"),
        yard.phone.inspect("B1-004", width="4000"),
        {**yard.phone.inspect("B1-005"), "dev_seq": -3},
        {**yard.phone.inspect("B1-006"), "tz_min": 60},
        {"id": "x", "note": "y" * 20_000},
        other,
    )
    for path, form in (
        ("plan", {"inspect": "sample", "lot": "90", "seed": "harvest"}),
        ("summaries", {}),
        ("decision", {"final": "not_ready", "reason": "the buyer asks for it"}),
        ("summaries", {}),
    ):
        sent = yard.client.post(f"/batches/B1/{path}", data=form, follow_redirects=False)
        assert sent.status_code == 303, sent.text
    with yard.store.writing() as connection:
        note(connection, action="backup_restored", by="terminal", about={"number": "9"}, now=NOW)
    return answer["results"]


def keep_all(yard):
    with yard.store.reading() as connection:
        rows = [tuple(row) for row in connection.execute(select(LOG))]
        proofs = [summaries.find_proof(connection, "B1", number) for number in (1, 2)]
    return rows, proofs


def test_a_reworded_sentence_changes_nothing_that_is_stored(tmp_path, monkeypatch):
    runs = []
    for is_reworded in (False, True):
        seed_ids(monkeypatch)
        if is_reworded:
            with reworded():
                yard = open_yard(tmp_path)
                told, kept = live_a_day(yard), keep_all(yard)
                pages = [yard.client.get(path) for path in ("/yard/quarantine", "/batches/B1")]
                trail = text_of(yard.client.get("/yard/trail"))
            assert all("In other words: " in page.text for page in pages), "the words did change"
            assert "something" in trail and "issued a summary" not in trail
        else:
            yard = open_yard(tmp_path)
            told, kept = live_a_day(yard), keep_all(yard)
        runs.append((told, kept))
    assert runs[0] == runs[1]
    told, (rows, proofs) = runs[0]
    outcomes = [one["outcome"] for one in told]
    assert outcomes == ["created", "created", *["quarantined"] * 4, "retry", "conflict"]
    assert {one["reason"]["code"] for one in told if one["reason"]} == {
        "unknown_artisan",
        "impossible_value",
        "wrong_form",
        "wrong_hash",
        "too_large",
        "other_content_first",
    }
    assert len(rows) > 12 and proofs[1]["summary"]["decision"]["overruled"]
