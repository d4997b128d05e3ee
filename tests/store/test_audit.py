"""Rows altered behind the program's back: each kind of tampering, and the row that is named."""

import json

import pytest
from sqlalchemy import insert, select, text

from qcapp.access.signing import document_sha256, sign_document
from qcapp.errors import BadInput, NotFound
from qcapp.inspection.event import canonical, event_hash, seal_event
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.store.projections import stove_projection
from qcapp.store.projections.summaries import save_summary
from qcapp.store.tables import LOG
from qcapp.store.upkeep.audit import audit_store
from qcapp.usecases.rebuild_figures import rebuild_figures
from tests.builders import build_push, open_yard
from tests.documents.samples import KEY, load_sample

pytestmark = pytest.mark.slow

NOT_THE_LOGS = (
    "stove finished/{}: its figures are not those the log gives; qcapp rebuild makes them again"
)

SUMS_DIFFER = (
    "the sums of batch B1: they are not those the log gives; qcapp rebuild makes them again"
)


@pytest.fixture
def yard():
    """Eight stoves, two with a fault, one inspection voided;
    and an issued summary that rests on the record before it.
    """
    yard = open_yard()
    events = [
        yard.phone.inspect(
            f"B1-{n:03d}",
            width="110" if n < 3 else "100",
            disposition="rework" if n < 3 else "release",
        )
        for n in range(1, 9)
    ]
    yard.push(*events, yard.phone.void(events[7]))
    issue(yard)
    return yard


def issue(yard, **change) -> None:
    """Puts a summary event and its row into the database as the server does."""
    with yard.store.writing() as connection:
        head = log.get_head(connection)
        document = {
            **load_sample("good"),
            "rests_on": {"seq": head.seq, "chain": head.chain},
            **change,
        }
        lot = {
            "design": "small-stove/medium",
            "result": None,
            "may_reduce": False,
            "is_restart": False,
        }
        body = {
            "number": 1,
            "sha256": document_sha256(document),
            "lot": lot,
            "proof": sign_document(KEY, document),
        }
        content = {
            "id": "summary-1",
            "kind": "summary",
            "device_id": "server",
            "dev_seq": 1,
            "batch": "B1",
            "body": body,
        }
        sealed = seal_event(content)
        entry = log.Entry(
            "summary-1",
            sealed["hash"],
            "counted",
            None,
            "summary",
            "server",
            1,
            None,
            "B1",
            canonical(sealed).decode(),
        )
        log.append(connection, [entry], received_at="t", relayed_by=None, clock_offset_ms=None)
        save_summary(connection, "B1", head.seq + 1, body)


def tamper(yard, *statements) -> list[str]:
    with yard.store.writing() as connection:
        for statement, *values in statements:
            connection.execute(
                text(statement), {f"v{place}": value for place, value in enumerate(values)}
            )
    return [str(found) for found in audit_store(yard.store).altered]


def get_row(yard, seq):
    with yard.store.reading() as connection:
        return connection.exec_driver_sql(f"SELECT * FROM log WHERE seq = {seq}").one()


def test_untouched_log_is_good_and_nothing_is_changed_by_looking(yard):
    with yard.store.reading() as connection:
        before = [
            connection.exec_driver_sql(f"SELECT * FROM {table}").all()
            for table in ("log", "stove", "inspection", "result", "check_key")
        ]
    audit = audit_store(yard.store)
    assert (audit.records, audit.quarantined, audit.altered) == (10, 0, [])
    assert audit.chain == get_row(yard, 10).chain
    with yard.store.reading() as connection:
        assert before == [
            connection.exec_driver_sql(f"SELECT * FROM {table}").all()
            for table in ("log", "stove", "inspection", "result", "check_key")
        ]


def test_quarantined_records_are_no_tampering(yard):
    yard.push(
        {"nonsense": True},
        {"id": 1.5},
        yard.phone.inspect("B1-050", batch="NONE"),
        {**yard.phone.inspect("B1-051"), "hash": "0" * 64},
    )
    audit = audit_store(yard.store)
    assert (audit.quarantined, audit.altered) == (4, [])


def nest(levels: int) -> list:
    value: list = []
    for _ in range(levels):
        value = [value]
    return value


# What no event holds, but JSON and its readers let through.
ODD = [
    '"\\ud800"',
    "NaN",
    "-Infinity",
    "1e400",
    "1.5",
    str(2**60),
    json.dumps(nest(100)),
    json.dumps({"\ud800": 1}),
]


def push_odd(yard, number: int, odd: str) -> None:
    """As over the wire, where a text is read that this side would not write."""
    sealed = json.dumps(yard.phone.inspect(f"ODD-{number}"))
    request = json.dumps(build_push([])).replace(
        '"events": []', f'"events": [{sealed[:-1]}, "more": {odd}}}]'
    )
    headers = {**yard.headers, "Content-Type": "application/json"}
    answer = yard.client.post("/api/sync/push", content=request, headers=headers)
    assert [result["outcome"] for result in answer.json()["results"]] == ["quarantined"]


def test_odd_records_are_no_tampering_and_hide_none(yard):
    for number, odd in enumerate(ODD):
        push_odd(yard, number, odd)
    audit = audit_store(yard.store)
    assert (audit.quarantined, audit.altered) == (len(ODD), [])
    yard.push(yard.phone.inspect("B1-090", width="110"))
    last = audit_store(yard.store).records
    found = tamper(
        yard,
        ("UPDATE log SET raw = replace(raw, '\"110\"', '\"100\"') WHERE seq = :v0", last),
        ("UPDATE log SET raw = raw || ' ' WHERE seq = :v0", last - 1),
        ("UPDATE stove SET has_first_pass_fail = false WHERE serial = 'B1-002'",),
    )
    assert set(found) >= {
        f"record {last}: its content is not what its hash says",
        f"record {last - 1}: its content is not what its hash says",
        NOT_THE_LOGS.format("B1-2"),
    }


# A value of each type, and of each size, in the place of any field.
ANY_VALUE = [
    None,
    True,
    7,
    2**60,
    1.5,
    "",
    "x",
    "x" * 500,
    "a\0b",
    "\ud800",
    [],
    ["x"],
    {},
    {"x": 1},
]


def test_odd_value_in_any_field_is_no_tampering_and_hides_none(yard):
    """One record with a list for a serial ended every audit for ever."""
    for field in yard.phone.inspect("ODD-1"):
        events = [
            seal_if_possible({**yard.phone.inspect("ODD-1"), field: odd}) for odd in ANY_VALUE
        ]
        text = json.dumps(build_push(events))
        headers = {**yard.headers, "Content-Type": "application/json"}
        assert yard.client.post("/api/sync/push", content=text, headers=headers).status_code == 200
    audit = audit_store(yard.store)
    assert audit.altered == [] and audit.quarantined > 200
    with yard.store.writing() as connection:
        connection.exec_driver_sql("UPDATE log SET raw = raw || ' ' WHERE state <> 'counted'")
    named = {found.row for found in audit_store(yard.store).altered}
    assert len(named) == audit.quarantined


def seal_if_possible(event: dict) -> dict:
    """With its hash, so that the odd value itself is what is wrong, not the hash."""
    try:
        return seal_event(event)
    except BadInput:
        return event


@pytest.mark.parametrize("of", ["counted", "quarantined"])
def test_value_of_another_type_in_a_column_is_named_and_hides_none(yard, of):
    """SQLite keeps bytes, and what is no UTF-8, in a column of texts or numbers."""
    yard.push({"kind": "inspection", "stove": "B1-080", "stage": "finished"})
    columns = ["id", "hash", "chain", "state", "kind", "device_id", "stove_key", "raw", "dev_seq"]
    with yard.store.writing() as connection:
        (seq,) = connection.execute(
            text("SELECT min(seq) FROM log WHERE state = :of AND seq > 1"), {"of": of}
        ).one()
        before = connection.exec_driver_sql(f"SELECT * FROM log WHERE seq = {seq}").one()
    for column in columns:
        for odd in ("x'ff00'", "CAST(x'ff41' AS TEXT)"):
            found = tamper(
                yard,
                (f"UPDATE log SET {column} = {odd} WHERE seq = {seq}",),
                ("UPDATE log SET raw = raw || ' ' WHERE seq = 1",),
            )
            assert "record 1: its content is not what its hash says" in found
            assert any(line.startswith(f"record {seq}: ") for line in found), (column, odd)
            put_back = {"value": getattr(before, column), "seq": seq}
            with yard.store.writing() as connection:
                connection.execute(
                    text(f"UPDATE log SET {column} = :value WHERE seq = :seq"), put_back
                )


def test_altered_content_is_named(yard):
    raw = get_row(yard, 2).raw
    assert tamper(
        yard, ("UPDATE log SET raw = :v0 WHERE seq = 2", raw.replace('"110"', '"100"'))
    ) == [
        "record 2: its content is not what its hash says",
        NOT_THE_LOGS.format("B1-2"),
        SUMS_DIFFER,
    ]


def test_altered_content_with_a_new_hash_breaks_the_chain(yard):
    content = json.loads(get_row(yard, 2).raw.replace('"110"', '"100"'))
    content["hash"] = event_hash(content)
    found = tamper(
        yard,
        (
            "UPDATE log SET raw = :v0, hash = :v1 WHERE seq = 2",
            canonical(content).decode(),
            content["hash"],
        ),
    )
    assert found[0] == "record 2: its running hash does not follow from the record before"


def test_whole_chain_made_again_is_caught_by_the_summary_issued_from_it(yard):
    content = json.loads(get_row(yard, 2).raw.replace('"110"', '"100"'))
    content["hash"] = event_hash(content)
    statements = [
        (
            "UPDATE log SET raw = :v0, hash = :v1 WHERE seq = 2",
            canonical(content).decode(),
            content["hash"],
        )
    ]
    chain = get_row(yard, 1).chain
    for seq in range(2, 11):
        row = get_row(yard, seq)
        chain = log.link(chain, row.id, content["hash"] if seq == 2 else row.hash)
        statements.append(("UPDATE log SET chain = :v0 WHERE seq = :v1", chain, seq))
    found = tamper(yard, *statements)
    assert found[0] == (
        "record 10: the summary issued here rests on record 9, which is another one now"
    )


@pytest.mark.parametrize(
    ("statement", "found"),
    [
        (
            "UPDATE log SET hash = replace(hash, substr(hash, 1, 1), 'x') WHERE seq = 4",
            {
                "record 4: its running hash does not follow from the record before",
                "record 4: its content is not what its hash says",
            },
        ),
        (
            "UPDATE log SET chain = 'x' WHERE seq = 4",
            {
                "record 4: its running hash does not follow from the record before",
                "record 5: its running hash does not follow from the record before",
            },
        ),
        ("DELETE FROM log WHERE seq = 4", {"record 4: not in the log any more"}),
        ("DELETE FROM log WHERE seq IN (4, 5)", {"records 4 to 5: not in the log any more"}),
        (
            "UPDATE log SET stove_key = 'finished/B1-099' WHERE seq = 4",
            {"record 4: its stove says finished/B1-099, its content another"},
        ),
        (
            "UPDATE log SET batch = 'B0' WHERE seq = 4",
            {"record 4: its batch says B0, its content B1"},
        ),
        (
            "UPDATE log SET stove_key = NULL WHERE seq = 4",
            {"record 4: its stove says None, its content another"},
        ),
        (
            "UPDATE log SET state = 'x' WHERE seq = 4",
            {"record 4: its state says x, which none has"},
        ),
        (
            "UPDATE log SET kind = 'void' WHERE seq = 4",
            {"record 4: its kind says void, its content inspection"},
        ),
        ("UPDATE log SET raw = '{' WHERE seq = 4", {"record 4: its content is no JSON any more"}),
        (
            "UPDATE log SET raw = '[]' WHERE seq = 4",
            {"record 4: its content is not what its hash says"},
        ),
        (
            "UPDATE log SET raw = ' ' || raw WHERE seq = 4",
            {"record 4: its content is not what its hash says"},
        ),
        (
            "UPDATE stove SET has_first_pass_fail = false WHERE serial = 'B1-002'",
            {NOT_THE_LOGS.format("B1-2")},
        ),
        (
            (
                "UPDATE result SET is_fail = false WHERE is_fail AND inspection_no = (SELECT"
                " min(inspection_no) FROM result)"
            ),
            {NOT_THE_LOGS.format("B1-1")},
        ),
        (
            "UPDATE inspection SET inspector = 'A01' WHERE no = 3",
            {NOT_THE_LOGS.format("B1-3")},
        ),
        (
            "DELETE FROM result WHERE inspection_no = 4",
            {NOT_THE_LOGS.format("B1-4")},
        ),
    ],
)
def test_tampering_is_found_and_its_row_named(yard, statement, found):
    assert found <= set(tamper(yard, (statement,)))


def test_two_records_swapped_are_both_named(yard):
    found = tamper(
        yard,
        ("UPDATE log SET seq = 100 WHERE seq = 3",),
        ("UPDATE log SET seq = 3 WHERE seq = 4",),
        ("UPDATE log SET seq = 4 WHERE seq = 100",),
    )
    assert {line.split(":")[0] for line in found} >= {"record 3", "record 4"}


def test_record_quarantined_by_hand_no_longer_fits_the_figures(yard):
    found = tamper(
        yard,
        ("UPDATE log SET state = 'quarantined', reason = 'unknown inspector: I09' WHERE seq = 1",),
    )
    assert found == [NOT_THE_LOGS.format("B1-1"), SUMS_DIFFER]


def test_summary_that_names_no_position_or_a_later_one_is_named():
    for rests_on, says in (
        ({"seq": 99, "chain": "x"}, "rests on record 99"),
        (None, "names no log position"),
    ):
        other = open_yard()
        other.push(other.phone.inspect("B1-001"))
        issue(other, rests_on=rests_on)
        (found,) = [str(line) for line in audit_store(other.store).altered]
        assert found.startswith("record 2") and says in found


def test_tree_that_is_not_the_logs_is_named_and_a_rebuild_mends_it(yard):
    yard.push(*(yard.phone.inspect(f"B1-{n:03d}") for n in range(20, 60)))
    found = tamper(yard, (f"UPDATE tree_node SET hash = '{'0' * 64}' WHERE place = 1",))
    assert found == [
        (
            "the tree over records 17 to 32: it is not the one that the log gives; qcapp rebuild "
            "makes it again"
        )
    ]
    (found,) = tamper(yard, ("DELETE FROM tree_node WHERE place = 0",))
    assert found.startswith("the tree over records 1 to 16")
    extra = f"INSERT INTO tree_node VALUES (4, 9, '{'0' * 64}')"
    rebuild_figures(yard.store, lambda _done, _total: None)
    assert audit_store(yard.store).altered == []
    (found,) = tamper(yard, (extra,))
    assert found == "the tree over the log: it covers records that are not in the log"


def test_summary_whose_checkpoint_is_of_another_log_is_named(tmp_path):
    """Somebody makes chain and tree anew, but the summary issued before says what they were."""
    yard = open_yard(tmp_path)
    yard.push(*(yard.phone.inspect(f"B1-{n:03d}") for n in range(1, 21)))
    assert yard.client.post("/batches/B1/summaries").status_code == 200
    assert audit_store(yard.store).altered == []
    with yard.store.writing() as connection:
        rows = connection.execute(select(LOG).order_by(LOG.c.seq)).all()
        connection.execute(LOG.delete())
        first, second = (row._asdict() for row in rows[:2])
        first["seq"], second["seq"] = 2, 1
        chain = log.get_server_id(connection)
        kept = [second, first, *(row._asdict() for row in rows[2:])]
        for row in kept:
            row["chain"] = chain = log.link(chain, row["id"], row["hash"])
        connection.execute(insert(LOG), kept)
        log.build_tree(connection)
    found = [str(line) for line in audit_store(yard.store).altered]
    assert [line for line in found if "the checkpoint in the summary issued here" in line]
    assert not [line for line in found if line.startswith("the tree")]


def test_many_altered_stoves_are_counted_not_listed(yard):
    yard.push(*(yard.phone.inspect(f"B1-{n:03d}") for n in range(20, 50)))
    found = tamper(yard, ("UPDATE stove SET size = 'large'",))
    assert len(found) == 21 and found[-1] == "17 more stoves: the same"


def test_database_without_a_log_says_so(tmp_path):
    with pytest.raises(NotFound, match="no log"):
        audit_store(Store(f"sqlite:///{tmp_path / 'other.db'}"))


def test_projections_after_an_audit_are_the_ones_before(yard):
    before = tamper(yard, ("UPDATE stove SET inspections = 9 WHERE serial = 'B1-003'",))
    assert len(before) == 1 and [str(found) for found in audit_store(yard.store).altered] == before
    with yard.store.writing() as connection:
        stove_projection.rebuild(connection)
    assert audit_store(yard.store).altered == []


def test_altered_row_of_an_issued_summary_is_named(tmp_path):
    yard = open_yard(tmp_path)
    yard.push(yard.phone.inspect("B1-001"))
    assert (
        yard.client.post(
            "/batches/B1/summaries", data={"by": "lead"}, follow_redirects=False
        ).status_code
        == 303
    )
    assert audit_store(yard.store).altered == []
    with yard.store.writing() as connection:
        connection.exec_driver_sql(
            "UPDATE summary SET proof = replace(proof, '\"good\": 1', '\"good\": 2')"
        )
    assert [altered.row for altered in audit_store(yard.store).altered] == ["summary 1 of batch B1"]
