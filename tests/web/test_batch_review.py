"""The lead's page of a batch: plan, overruling, issuing, links."""

import dataclasses
import json
from datetime import timedelta
from pathlib import Path

import jsonschema
import pytest
from sqlalchemy import event

from qcapp.reports import decision_reasons as why
from qcapp.reports import summary_messages as messages
from qcapp.store import log
from qcapp.store.projections import stove_projection
from qcapp.store.queries import summaries
from qcapp.store.tables import SUMMARY
from qcapp.transparency.checkpoint import parse_checkpoint
from qcapp.usecases.verify_checkpoint import check_against_summary
from tests.builders import NOW, ROOT, open_yard
from tests.page_text import text_of

pytestmark = [pytest.mark.both_engines, pytest.mark.slow]

SCHEMA = json.loads(
    (ROOT / "qcapp" / "reports" / "summary.schema.json").read_text(encoding="utf-8")
)
OTHER = "0197f000-0000-7000-8000-0000000000bb"
SAMPLE = {
    "inspect": "sample",
    "lot": "90",
    "aql_major": "2.5",
    "aql_minor": "4.0",
    "level": "II",
    "seed": "harvest",
}


@pytest.fixture
def yard(tmp_path):
    return open_yard(tmp_path)


def post(yard, path, **form):
    return yard.client.post(f"/batches/B1/{path}", data=form, follow_redirects=False)


def issue(yard):
    answer = post(yard, "summaries")
    assert answer.status_code == 303, answer.text
    with yard.store.reading() as connection:
        return summaries.find_proof(connection, "B1")


def fill(yard, count=20):
    yard.push(*(yard.phone.inspect(f"B1-{n:03}") for n in range(1, count + 1)))


def test_issued_summary_keeps_to_the_published_schema(yard):
    yard.push(
        yard.phone.inspect("B1-001", width="106", disposition="rework"),
        yard.phone.inspect("B1-002", dents="fail", disposition="concession"),
        yard.phone.inspect("B1-003", edge="fail", disposition="scrap"),
        yard.phone.inspect("B1-001", at="2026-11-24T12:00:00.000Z"),
    )
    document = issue(yard)["summary"]
    jsonschema.validate(document, SCHEMA)
    check_counts(document)
    check_named_stoves(document)


def check_counts(document):
    assert document["counts"] == {
        "offered": 20,
        "inspected": 3,
        "not_inspected": 17,
        "good": 0,
        "faulty": 3,
        "released_at_once": 0,
        "released_later": 1,
        "rework": 0,
        "concession": 1,
        "scrap": 1,
        "hold": 0,
    }
    assert document["decision"]["final"] == "not_ready"
    assert [(row["severity"], row["failed"], row["of"]) for row in document["severities"]] == [
        ("critical", 1, 3),
        ("major", 1, 3),
        ("minor", 1, 3),
    ]


def check_named_stoves(document):
    dents = {"check": "dents", "ask": "dents", "part": "edge", "severity": "minor", "fault": None}
    assert document["concessions"] == [
        {
            "serial": "B1-002",
            "reason": "as agreed",
            "faults": [{**dents, "value": None, "unit": None}],
            "photos": [],
        }
    ]
    assert document["serials"] == {
        "release": ["B1-001"],
        "concession": ["B1-002"],
        "rework": [],
        "scrap": ["B1-003"],
        "hold": [],
    }
    assert document["causes"][0] == {**dents, "failed": 1, "of": 3}


def test_next_summary_says_what_changed_and_names_the_one_it_replaces(yard):
    fill(yard, 19)
    first = issue(yard)
    yard.push(yard.phone.inspect("B1-020"))
    assert "Records have arrived since summary 1" in text_of(yard.client.get("/batches/B1"))
    second = issue(yard)["summary"]
    assert second["replaces"] == {"number": 1, "sha256": first["signed"]["summary_sha256"]}
    assert {
        "what": messages.CHANGED_DECISION().to_json(),
        "before": messages.DECISION["not_ready"]().to_json(),
        "after": messages.DECISION["accept"]().to_json(),
    } in second["changes"]
    assert {
        "what": messages.CHANGED_COUNTS["inspected"]().to_json(),
        "before": 19,
        "after": 20,
    } in second["changes"]
    with yard.store.reading() as connection:
        assert summaries.find_proof(connection, "B1", 1) == first


def test_nothing_new_is_not_issued_again(yard):
    fill(yard)
    issue(yard)
    answer = post(yard, "summaries")
    assert answer.status_code == 409 and "Nothing has changed since summary 1" in text_of(answer)


def test_summary_rests_on_the_record_before_its_own(yard):
    fill(yard)
    with yard.store.reading() as connection:
        before = log.get_head(connection)
    document = issue(yard)["summary"]
    rests_on = document["rests_on"]
    assert (rests_on["seq"], rests_on["chain"]) == (before.seq, before.chain)
    checkpoint = parse_checkpoint(rests_on["checkpoint"])
    with yard.store.reading() as connection:
        assert log.find_record(connection, before.seq + 1).kind == "summary"
        assert checkpoint.size == before.seq
        assert checkpoint.root == log.calculate_root(connection, before.seq)


def test_next_summary_proves_that_the_log_only_grew_since(yard):
    fill(yard)
    first = issue(yard)["summary"]
    yard.push(yard.phone.inspect("B1-001", width="110", disposition="rework"))
    second = issue(yard)["summary"]
    assert "grew_from" not in first["rests_on"]
    assert second["rests_on"]["grew_from"]["seq"] == first["rests_on"]["seq"]
    old, new = (parse_checkpoint(one["rests_on"]["checkpoint"]) for one in (first, second))
    assert check_against_summary(second, old) == []
    assert check_against_summary(first, new) != []
    for change in ({"size": old.size - 1}, {"root": bytes(32)}, {"origin": "other"}):
        assert check_against_summary(second, dataclasses.replace(old, **change)) != []
    for spoiled in ({}, {"seq": 1}, None, [], {"checkpoint": 7}, {"checkpoint": "x"}):
        assert check_against_summary({"rests_on": spoiled}, old) != []


def test_rebuild_makes_the_summaries_again_from_the_log(yard):
    fill(yard, 3)
    issue(yard)
    yard.push(yard.phone.inspect("B1-004"))
    issue(yard)
    before = dump(yard)
    with yard.store.writing() as connection:
        stove_projection.rebuild(connection)
    assert dump(yard) == before and len(before) == 2


def dump(yard):
    with yard.store.reading() as connection:
        return [
            tuple(row) for row in connection.execute(SUMMARY.select().order_by(SUMMARY.c.number))
        ]


def test_no_maker_stands_in_a_summary(yard):
    event = yard.phone.inspect("B1-001", dents="fail", disposition="concession")
    event["body"]["disposition"]["reason"] = "Ano (a01) dented it; Anonymous and A012 did not"
    yard.push(yard.phone.seal("inspection", "B1-001", event["body"]))
    text = json.dumps(issue(yard)["summary"])
    assert "[maker] ([maker]) dented it; Anonymous and A012 did not" in text


def test_agreed_sample_reaches_the_phones_and_changes_their_tag(yard):
    tag = yard.client.get("/api/sync/hello").json()["reference_tag"]
    assert "sample" not in reference(yard)["batches"][0]
    assert post(yard, "plan", **SAMPLE).status_code == 303
    assert yard.client.get("/api/sync/hello").json()["reference_tag"] != tag
    sample = reference(yard)["batches"][0]["sample"]
    assert (
        sample["stage"] == "finished"
        and len(sample["serials"]) == 20
        and sample["serials"] == sorted(sample["serials"])
    )
    post(yard, "plan", inspect="every", lot="20")
    assert "sample" not in reference(yard)["batches"][0]


def reference(yard):
    return yard.client.get("/api/sync/reference", headers=yard.headers).json()


def test_page_shows_plan_sample_and_how_to_draw_it_again(yard):
    post(yard, "plan", **SAMPLE)
    page = text_of(yard.client.get("/batches/B1"))
    assert "A sample of 20 of 90 stoves, normal inspection, level II, letter E" in page
    assert "qcapp sample --lot 90 --n 20 --seed harvest --prefix B1-" in page


def test_empty_seed_is_drawn_here_and_differs(yard):
    seeds = set()
    for _ in range(2):
        post(yard, "plan", **{**SAMPLE, "seed": " "})
        with yard.store.reading() as connection:
            seeds.add(
                json.loads(log.list_server_events(connection, ("plan",), "B1")[-1].raw)["body"][
                    "seed"
                ]
            )
    assert len(seeds) == 2 and all(len(seed) == 16 for seed in seeds)


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    "change",
    [{"aql_major": "3"}, {"level": "IX"}, {"regime": "reduced"}, {"lot": "0"}, {"inspect": "some"}],
)
def test_plan_that_cannot_be_is_refused_plainly(yard, change):
    answer = post(yard, "plan", **{**SAMPLE, **change})
    assert answer.status_code in (400, 422) and "Back to the start" in answer.text
    assert "nothing else was agreed" in text_of(yard.client.get("/batches/B1"))


def test_rejected_series_tightens_the_next_batch_of_the_same_design(yard):
    with yard.store.writing() as connection:
        connection.exec_driver_sql("UPDATE batch SET closed_at = NULL")
    for code in ("B0", "B1"):
        yard.client.post(
            f"/batches/{code}/plan",
            data={**SAMPLE, "lot": "16", "aql_major": "6.5", "aql_minor": "6.5"},
        )
        yard.push(
            *(
                yard.phone.inspect(f"{code}-{n:03}", width="120", disposition="rework", batch=code)
                for n in range(1, 17)
            )
        )
        assert (
            yard.client.post(f"/batches/{code}/summaries", follow_redirects=False).status_code
            == 303
        )
    with yard.store.writing() as connection:
        connection.exec_driver_sql(
            "INSERT INTO batch SELECT 'B2', title, size, planned, attributes, crew, checklist_ids,"
            " 'B2-', opened_on, NULL, '', '', NULL FROM batch WHERE code = 'B1'"
        )
    page = text_of(yard.client.get("/batches/B2"))
    assert (
        "as the rules require: tightened" in page
        and "2 batches of this design and size decided by sample" in page
    )


def test_overruling_holds_until_the_next_record_changes_the_state(yard):
    fill(yard, 19)
    assert (
        post(yard, "decision", final="accept", reason="the last one stays here").status_code == 303
    )
    page = text_of(yard.client.get("/batches/B1"))
    assert "Overruled by LEAD" in page and "the last one stays here" in page
    assert issue(yard)["summary"]["decision"]["overruled"]["reason"] == "the last one stays here"
    yard.push(yard.phone.inspect("B1-020", width="120", disposition="rework"))
    assert "Overruled by LEAD" not in text_of(yard.client.get("/batches/B1"))


def test_overruling_without_a_reason_is_refused(yard):
    fill(yard, 19)
    assert post(yard, "decision", final="accept", reason=" ").status_code == 400


def test_link_needs_an_issued_summary_and_is_shown_once(yard):
    assert post(yard, "links", label="Buyer").status_code == 409
    fill(yard)
    issue(yard)
    page = post(yard, "links", label="Buyer")
    address = page.text.split('class="address">')[1].split("<")[0]
    token = address.rsplit("/", 1)[1]
    assert len(token) >= 43, "256 bits"
    assert token not in yard.client.get("/batches/B1").text
    with yard.store.reading() as connection:
        dumped = "".join(
            str(row)
            for table in ("summary_link", "link_opening", "log")
            for row in connection.exec_driver_sql(f"SELECT * FROM {table}")
        )
    assert token not in dumped


def test_phone_cannot_make_the_servers_own_records(yard):
    body = {"answer": "accept", "note": "", "number": 1, "sha256": "ab" * 32, "link": "x"}
    absent = dict.fromkeys(("stage", "checklist", "checklist_hash"))
    forged = yard.phone.seal(
        "buyer_answer", None, body, inspector="lead", device_id="server", **absent
    )
    (result,) = yard.push(forged)["results"]
    assert result["outcome"] == "quarantined"
    assert result["reason"] == {"code": "server_only", "params": {"kind": "buyer_answer"}}


def test_phones_do_not_pull_the_servers_own_records(yard):
    headers = yard.pair(OTHER)
    fill(yard, 2)
    issue(yard)
    yard.push(yard.phone.inspect("B1-003"))
    post(yard, "plan", **SAMPLE)
    with yard.store.reading() as connection:
        head = log.get_head(connection)
    seen, cursor = [], ""
    for _ in range(5):
        answer = yard.client.get(
            "/api/sync/pull", params={"cursor": cursor, "limit": 2}, headers=headers
        ).json()
        seen += [row["seq"] for row in answer["events"]]
        cursor = answer["cursor"]
        if not answer["more"]:
            break
    # 3 is the summary, 4 the line of the trail that it was issued.
    assert seen == [1, 2, 5] and answer["lineage"] == "ok"
    assert cursor == f"{head.seq}:{head.chain[:16]}"


def test_batch_without_a_checklist_has_no_review_and_says_why(yard):
    with yard.store.writing() as connection:
        connection.exec_driver_sql("UPDATE batch SET checklist_ids = '[]'")
    assert "This batch has no checklist" in text_of(yard.client.get("/batches/B1"))
    assert post(yard, "summaries").status_code == 400


@pytest.mark.sqlite_only
def test_statements_do_not_grow_with_the_batch(tmp_path):
    # What a process keeps of a checklist is read the first time only.
    count_statements(open_yard(tmp_path), 1)
    few, many = (count_statements(open_yard(tmp_path), stoves) for stoves in (3, 60))
    # One for each level that the tree over the log is higher, sixteen times the records.
    assert many - few <= 1


def count_statements(yard, stoves):
    """Statements of issuing a summary of so many stoves,
    a third with a fault and a re-inspection.
    """
    for n in range(stoves):
        bad = n % 3 == 0
        yard.push(
            yard.phone.inspect(
                f"B1-{n:03}",
                dents="fail" if bad else "pass",
                disposition="concession" if bad else "release",
            )
        )
    statements = []

    def note(_connection, _cursor, statement, *_more):
        statements.append(statement)

    event.listen(yard.store.engine, "before_cursor_execute", note)
    issue(yard)
    event.remove(yard.store.engine, "before_cursor_execute", note)
    return len(statements)


def test_link_days_and_key_file_are_settings(yard):
    fill(yard)
    issue(yard)
    post(yard, "links", label="Buyer")
    assert Path(yard.client.app.state.settings.key_file).stat().st_mode & 0o077 == 0
    until = (NOW + timedelta(days=90)).date().isoformat()
    assert f"valid until {until}" in text_of(yard.client.get("/batches/B1"))


def test_sample_drawn_again_or_after_the_looking_is_told(yard):
    post(yard, "plan", **SAMPLE)
    fill(yard, 20)
    assert "drawn 2 times" not in text_of(yard.client.get("/batches/B1"))
    post(yard, "plan", **{**SAMPLE, "seed": "another"})
    with yard.store.reading() as connection:
        drawn = json.loads(log.list_server_events(connection, ("plan",), "B1")[-1].raw)["body"][
            "sample"
        ]
    early = sum(serial <= "B1-020" for serial in drawn)
    reasons = issue(yard)["summary"]["decision"]["reasons"]
    assert early > 1 and why.DRAWN_AGAIN(drawn=2).to_json() in reasons
    assert why.INSPECTED_BEFORE_DRAWN(n=early).to_json() in reasons
