"""Held stoves decided by the lead: what counts afterwards, what is refused, how it is undone."""

import json
import re
from html import unescape

import pytest

from qcapp.store import log
from qcapp.store.projections import stove_projection
from qcapp.store.projections.stove_rows import list_figure_rows
from qcapp.store.queries import waiting
from tests.builders import open_yard
from tests.page_text import text_of

both_engines = pytest.mark.both_engines
LATER = "2026-11-24T12:00:00.000Z"


@pytest.fixture
def yard(tmp_path):
    return open_yard(tmp_path)


def hold(yard, *serials, **seen):
    events = [yard.phone.inspect(one, disposition="hold", **seen) for one in serials]
    yard.push(*events)
    return events


def names_on_page(yard):
    """As the batch's page sends them, by serial key."""
    page = yard.client.get("/batches/B1").text
    found = [unescape(one) for one in re.findall(r'name="stoves" value="([^"]*)"', page)]
    return {one.split()[0].removeprefix("finished/"): one for one in found}


def decide(yard, names, kind, reason="seen by the lead", status=303):
    answer = yard.client.post(
        "/batches/B1/held",
        data={"stoves": list(names), "kind": kind, "reason": reason},
        follow_redirects=False,
    )
    assert answer.status_code == status, text_of(answer)
    return answer


def read_stoves(yard):
    (report,) = yard.client.get("/api/batches/B1").json()
    return report["totals"]["stoves"]


def count_decisions(yard):
    with yard.store.reading() as connection:
        return len(log.list_by_kind(connection, "hold_decision"))


@both_engines
def test_several_are_decided_at_once_and_every_figure_follows(yard):
    yard.push(yard.phone.inspect("B1-001"))
    hold(yard, "B1-002", "B1-003")
    names = names_on_page(yard)
    assert set(names) == {"B1-2", "B1-3"} and read_stoves(yard)["hold"] == 2
    decide(yard, names.values(), "release", "measured again; the gauge had slipped")
    stoves = read_stoves(yard)
    assert (stoves["hold"], stoves["released_at_once"], stoves["released_later"]) == (0, 1, 2)
    way = text_of(yard.client.get("/stoves/finished/B1-002"))
    assert "decided by LEAD: release" in way and "the gauge had slipped" in way
    page = text_of(yard.client.get("/batches/B1"))
    assert "Held before, decided now: 2 stoves" in page and "the gauge had slipped" in page
    trail = text_of(yard.client.get("/yard/trail"))
    assert "decided about held stoves" in trail
    pulled = yard.client.get(
        "/api/sync/pull",
        params={"cursor": "", "limit": 50},
        headers=yard.pair("0197f000-0000-7000-8000-0000000000bb"),
    ).json()["events"]
    assert [one["event"]["kind"] for one in pulled].count("hold_decision") == 2
    with yard.store.writing() as connection:
        before = list_figure_rows(connection)
        stove_projection.rebuild(connection)
        assert list_figure_rows(connection) == before


def test_what_can_hurt_someone_is_not_released_and_nothing_is_kept(yard):
    hold(yard, "B1-001", edge="fail")
    hold(yard, "B1-002")
    names = names_on_page(yard).values()
    for kind in ("release", "concession"):
        answer = decide(yard, names, kind, status=400)
        assert "is not possible with what was found on B1-001" in text_of(answer)
    assert count_decisions(yard) == 0 and read_stoves(yard)["hold"] == 2


def test_concession_keeps_its_reason_in_the_summary(yard):
    hold(yard, "B1-001", dents="fail")
    decide(yard, names_on_page(yard).values(), "concession", "the buyer was asked")
    yard.client.post("/batches/B1/summaries")
    document = yard.client.get("/batches/B1/summaries/1.json").json()["summary"]
    (row,) = document["concessions"]
    assert (row["serial"], row["reason"]) == ("B1-001", "the buyer was asked")


@pytest.mark.parametrize("change", ["inspection", "correction", "decision"])
def test_a_stove_that_changed_since_it_was_seen_is_looked_at_again(yard, change):
    (event,) = hold(yard, "B1-001")
    names = names_on_page(yard).values()
    if change == "inspection":
        yard.push(yard.phone.inspect("B1-001", disposition="hold", at=LATER))
    elif change == "correction":
        yard.push(yard.phone.correct(event, event["body"]))
    else:
        decide(yard, names, "scrap")
        decide(yard, names, "release")
        assert read_stoves(yard)["scrap"] == 0, "a decision may follow a decision"
        return
    assert "has changed since you looked" in text_of(decide(yard, names, "scrap", status=409))
    assert count_decisions(yard) == 0


@pytest.mark.parametrize(
    ("names", "kind", "reason"),
    [([], "scrap", "why"), (None, "scrap", " "), (None, "hold", "why"), (None, "accept", "why")],
)
def test_a_decision_needs_stoves_a_reason_and_a_way_out(yard, names, kind, reason):
    hold(yard, "B1-001")
    names = names_on_page(yard).values() if names is None else names
    answer = yard.client.post(
        "/batches/B1/held", data={"stoves": list(names), "kind": kind, "reason": reason}
    )
    assert answer.status_code in (400, 422) and count_decisions(yard) == 0


@both_engines
def test_it_is_undone_by_holding_again_and_gives_way_to_a_later_inspection(yard):
    hold(yard, "B1-001", "B1-002")
    names = names_on_page(yard)
    decide(yard, names.values(), "scrap")
    assert read_stoves(yard)["scrap"] == 2
    decide(yard, [names["B1-1"]], "hold", "a mould was found to be wrong")
    yard.push(yard.phone.inspect("B1-002", at=LATER))
    stoves = read_stoves(yard)
    assert (stoves["hold"], stoves["scrap"], stoves["released_later"]) == (1, 0, 1)
    with yard.store.reading() as connection:
        assert waiting.list_held_keys(connection, "B1") == ["finished/B1-1"]
        assert waiting.list_decided_keys(connection, "B1") == []


def test_a_phone_cannot_decide(yard):
    (event,) = hold(yard, "B1-001")
    body = {"disposition": {"kind": "release", "reason": "mine"}}
    forged = yard.phone.seal("hold_decision", "B1-001", body, corrects=event["id"])
    (result,) = yard.push(forged)["results"]
    assert result["outcome"] == "quarantined" and result["reason"]["code"] == "server_only"
    assert read_stoves(yard)["hold"] == 1


def test_what_is_decided_about_stands_there_with_its_reading_as_last_seen(yard):
    hold(yard, "B1-001", width="106", dents="fail", at="2026-11-24T08:00:00.000Z")
    hold(yard, "B1-001", width="105", at="2026-11-24T09:00:00.000Z")
    page = " ".join(text_of(yard.client.get("/batches/B1")).split())
    assert "Decide about 1 stove" in page and "Held, waiting for you: 1 stove" in page
    assert "105 mm wanted 97 to 103 mm, target 100 2 mm too much" in page
    assert "106" not in page and "Dents" not in page


# --- the preview of a summary


def test_preview_says_what_is_open_and_keeps_nothing(yard):
    yard.push(yard.phone.inspect("B1-001", width="106", disposition="rework"))
    hold(yard, "B1-002")
    with yard.store.reading() as connection:
        before = log.get_head(connection)
    page = text_of(yard.client.get("/batches/B1/issue"))
    for words in ("18 of 20 stoves offered were not inspected", "1 is held", "1 waits for rework"):
        assert words in page
    assert "Preview of summary 1" in page and "Issue summary 1" in page
    with yard.store.reading() as connection:
        assert log.get_head(connection) == before


def test_what_came_after_the_preview_is_not_issued_unseen(yard):
    yard.push(yard.phone.inspect("B1-001"))
    seen = re.search(r'name="seen" value="(\d+)"', yard.client.get("/batches/B1/issue").text)[1]
    yard.push(yard.phone.inspect("B1-002", edge="fail", disposition="rework"))
    answer = yard.client.post("/batches/B1/summaries", data={"seen": seen})
    assert answer.status_code == 409 and "Records have arrived since you looked" in text_of(answer)
    seen = re.search(r'name="seen" value="(\d+)"', yard.client.get("/batches/B1/issue").text)[1]
    assert yard.client.post("/batches/B1/summaries", data={"seen": seen}).status_code == 200
    page = text_of(yard.client.get("/batches/B1/issue"))
    assert "Nothing has changed since summary 1" in page and "Issue summary 2" not in page


# --- what the yard replies to a buyer


@both_engines
def test_a_question_waits_for_a_reply_that_the_buyer_reads_without_makers(yard):
    yard.push(yard.phone.inspect("B1-001"))
    yard.client.post("/batches/B1/summaries")
    page = yard.client.post("/batches/B1/links", data={"label": "Buyer"})
    token = page.text.split('class="address">')[1].split("<")[0].rsplit("/", 1)[1]
    for answer, note in (("question", "Which paint?"), ("accept", "")):
        yard.client.post(
            f"/s/{token}/answer",
            data={"number": 1, "answer": answer, "note": note, "by": "Buyer"},
        )
    with yard.store.reading() as connection:
        (word,) = waiting.list_open_words(connection)
    assert word.batch == "B1" and word.body["note"] == "Which paint?"
    page = yard.client.get("/batches/B1")
    assert "Reply to the buyer" in text_of(page) and page.text.count('name="answers"') == 1
    answers = re.search(r'name="answers" value="([0-9a-f]{64})"', page.text)[1]
    for note in ("Ano (A01) used <b>black</b>.", ""):
        sent = yard.client.post("/batches/B1/replies", data={"answers": answers, "note": note})
        assert sent.status_code == (200 if note else 422)
    assert "Reply to the buyer" not in text_of(yard.client.get("/batches/B1"))
    with yard.store.reading() as connection:
        assert waiting.list_open_words(connection) == []
        (kept,) = log.list_server_events(connection, ("reply",), "B1")
    assert json.loads(kept.raw)["body"]["note"] == "Ano (A01) used <b>black</b>."
    shown = yard.client.get(f"/s/{token}")
    assert "The yard replied" in text_of(shown) and "[maker] ([maker]) used" in text_of(shown)
    assert "<b>black" not in shown.text and "A01" not in text_of(shown)
    assert "replied to a buyer" in text_of(yard.client.get("/yard/trail"))


def test_a_reply_to_nobody_is_refused(yard):
    data = {"answers": "ab" * 32, "note": "hello"}
    assert yard.client.post("/batches/B1/replies", data=data).status_code == 404
