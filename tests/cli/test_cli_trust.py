"""qcapp verify as a buyer or yard lead runs it."""

import json

import pytest

from qcapp.access.signing import sign_document
from qcapp.inspection.event import canonical, seal_event
from qcapp.store import log
from qcapp.sync.push import parse_push, receive_push
from tests.builders import NOW, Phone, build_push, open_small_store
from tests.cli.test_cli import run
from tests.documents.samples import KEY, altered, load_sample, sign_sample


@pytest.fixture
def proof_file(tmp_path):
    def write(proof) -> str:
        path = tmp_path / "summary.json"
        path.write_text(json.dumps(proof), encoding="utf-8")
        return str(path)

    return write


def test_good_file_says_what_it_rests_on_and_that_the_key_must_be_compared(proof_file):
    proof = sign_sample("good")
    done = run("verify", proof_file(proof))
    assert done.returncode == 0 and done.stderr == ""
    for text in (
        "good",
        "batch G4, summary 1",
        KEY.public_hex,
        proof["signed"]["summary_sha256"],
        "record 1873",
        "another way",
    ):
        assert text in done.stdout
    spaced = " ".join(KEY.public_hex[i : i + 4] for i in range(0, 64, 4)).upper()
    done = run("verify", proof_file(proof), "--key", spaced)
    assert (
        done.returncode == 0
        and "the one you gave" in done.stdout
        and "another way" not in done.stdout
    )


def test_sentences_that_the_file_holds_as_data_are_printed_in_english(proof_file):
    said = run("verify", proof_file(sign_sample("bad"))).stdout
    for sentence in (
        "decision: reject",
        "Critical faults at first pass in 2 of 58 stoves; none is accepted.",
        "stoves inspected: 41, now 58",
        "The difference may be chance (exact p 0.450).",
        "Never decide pay or dismissals on these figures alone.",
    ):
        assert sentence in said


@pytest.mark.parametrize(
    ("path", "value", "says"),
    [
        # A sentence of a later catalogue, and a file that somebody signed without any form.
        (("decision", "reasons", 0), {"code": "later", "params": {"n": 3}}, "  later: n=3\n"),
        (("decision",), {}, "it has no sentences in the form"),
    ],
)
def test_what_this_version_does_not_know_is_said_and_the_check_still_holds(
    proof_file, path, value, says
):
    done = run("verify", proof_file(sign_document(KEY, altered(load_sample("bad"), path, value))))
    assert done.returncode == 0 and done.stderr == "" and says in done.stdout


def test_altered_file_exits_1_and_names_the_field(proof_file):
    proof = sign_sample("bad")
    done = run("verify", proof_file(altered(proof, ("summary", "counts", "scrap"), 0)))
    assert done.returncode == 1 and done.stderr == "qcapp: counts.scrap: is not what was signed\n"
    assert "NOT good" in done.stdout and "batch" not in done.stdout


def test_answer_as_json(proof_file):
    proof = sign_sample("bad")
    good = json.loads(run("verify", proof_file(proof), "--json").stdout)
    assert (good["is_good"], good["is_key_compared"], good["batch"], good["number"]) == (
        True,
        False,
        "H2",
        2,
    )
    done = run(
        "verify",
        proof_file(altered(proof, ("summary", "number"), 3)),
        "--json",
        "--key",
        KEY.public_hex,
    )
    bad = json.loads(done.stdout)
    assert done.returncode == 1 and bad == {
        "is_good": False,
        "is_key_compared": True,
        "findings": [{"field": "number", "what": "is not what was signed"}],
    }


def test_wrong_key_is_said(proof_file):
    done = run("verify", proof_file(sign_sample("good")), "--key", "ab" * 32)
    assert done.returncode == 1 and "signature.public_key" in done.stderr


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        ([], 2, "name a signed summary, or use --log"),
        (["x.json", "--log"], 2, "name a signed summary, or use --log"),
        (["nowhere.json"], 1, "cannot be read"),
        (["README.md"], 1, "not a signed summary"),
        (["README.md", "--key", "12"], 1, "not a public key"),
    ],
)
def test_slip_is_one_line_with_a_way_out(words, code, says):
    done = run("verify", *words)
    assert done.returncode == code and done.stdout == ""
    assert done.stderr.count("\n") == 1 and says in done.stderr


def fill(path):

    store, checklist = open_small_store(path)
    phone = Phone(checklist)
    receive_push(
        store,
        parse_push(build_push([phone.inspect(f"B1-{n:03d}") for n in range(1, 6)])),
        relayed_by=phone.device_id,
        now=NOW,
    )
    return store


def test_log_is_good_until_a_row_is_altered(tmp_path):
    url = f"sqlite:///{tmp_path / 'yard.db'}"
    store = fill(tmp_path / "yard.db")
    done = run("verify", "--log", database=url)
    assert done.returncode == 0 and "5 records (0 held back), 0 issued summaries" in done.stdout
    with store.writing() as connection:
        connection.exec_driver_sql(
            "UPDATE log SET raw = replace(raw, '\"release\"', '\"rework\"') WHERE seq = 3"
        )
    store.close()
    done = run("verify", "--log", database=url)
    assert done.returncode == 1 and "record 3: its content is not what its hash says" in done.stderr
    answer = json.loads(run("verify", "--log", "--json", database=url).stdout)
    # The figures of the stove no longer follow either.
    assert answer["is_good"] is False
    assert answer["findings"][0] == "record 3: its content is not what its hash says"


def test_log_of_a_database_that_is_not_there_makes_none(tmp_path):
    done = run("verify", "--log", database=f"sqlite:///{tmp_path / 'typo.db'}")
    assert done.returncode == 1 and "no database" in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_summary_in_the_log_that_the_yard_never_signed_is_named(tmp_path):
    """Somebody who can write the database, but has no key, puts a better summary into it."""

    store = fill(tmp_path / "yard.db")
    with store.writing() as connection:
        head = log.get_head(connection)
        proof = altered(
            sign_sample("bad"), ("summary", "rests_on"), {"seq": head.seq, "chain": head.chain}
        )
        content = {
            "id": "s1",
            "kind": "summary",
            "device_id": "server",
            "dev_seq": 1,
            "batch": "H2",
            "body": {"number": 2, "proof": proof},
        }
        sealed = seal_event(content)
        entry = log.Entry(
            "s1",
            sealed["hash"],
            "counted",
            None,
            "summary",
            "server",
            1,
            None,
            "H2",
            canonical(sealed).decode(),
        )
        log.append(connection, [entry], received_at="t", relayed_by=None, clock_offset_ms=None)
    store.close()
    done = run("verify", "--log", database=f"sqlite:///{tmp_path / 'yard.db'}")
    assert (
        done.returncode == 1
        and "summary 2 of batch H2: rests_on.seq: is not what was signed" in done.stderr
    )
