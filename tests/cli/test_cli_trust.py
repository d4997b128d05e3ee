"""qcapp verify as a buyer or yard lead runs it."""

import json
import shutil

import pytest

from qcapp.access.note import sign_note
from qcapp.access.signing import sign_document
from qcapp.inspection.event import canonical, seal_event
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.store.projections import stove_projection
from qcapp.store.tables import LOG, TREE_NODE
from qcapp.sync.push import parse_push, receive_push
from qcapp.usecases.log_checkpoints import sign_checkpoint
from tests.builders import NOW, Phone, build_push, build_small_checklist, open_small_store
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
    push(store, [phone.inspect(f"B1-{n:03d}") for n in range(1, 6)])
    return store


def push(store, events):
    receive_push(store, parse_push(build_push(events)), relayed_by=events[0]["device_id"], now=NOW)


def fill_more(path):
    """Four other records, as a phone of the yard could have made them."""
    store = Store(f"sqlite:///{path}")
    phone = Phone(build_small_checklist(), "0197f000-0000-7000-8000-0000000000cc")
    push(store, [phone.inspect(f"B1-{n:03d}") for n in range(11, 15)])
    store.close()


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


@pytest.fixture
def kept(tmp_path):
    """A log of five records, a checkpoint of its first three, and of all: (url, first, second)."""
    path = tmp_path / "yard.db"
    with fill(path).reading() as connection:
        notes = [sign_checkpoint(connection, KEY, size) for size in (3, 5)]
    return f"sqlite:///{path}", *notes


def verify(url, note, *more):
    words = ("--log", "--checkpoint", note, "--key", KEY.public_hex, *more)
    return run("verify", *words, database=url)


def test_log_that_only_grew_continues_every_checkpoint_of_it(kept, tmp_path):
    url, first, second = kept
    (tmp_path / "note.txt").write_text(first)
    for given in (first, second, str(tmp_path / "note.txt"), first.replace("\n", "\r\n")):
        done = verify(url, given)
        assert done.returncode == 0 and done.stderr == "", done.stderr
    assert "it continues the checkpoint of 3 records" in done.stdout
    assert json.loads(verify(url, second, "--json").stdout)["checkpoint_size"] == 5


def test_checkpoint_whose_signature_nobody_could_check_is_said(kept):
    url, first, _second = kept
    done = run("verify", "--log", "--checkpoint", first, database=url)
    assert done.returncode == 0, done.stderr
    assert "Nobody checked who signed the checkpoint" in done.stdout


def test_log_made_anew_is_good_by_itself_and_not_by_a_checkpoint_kept_before(kept, tmp_path):
    """Whoever holds the key can make chain, tree and figures fit again, but not the checkpoint."""
    _url, first, second = kept
    anew = tmp_path / "anew.db"
    shutil.copyfile(tmp_path / "yard.db", anew)
    store = Store(f"sqlite:///{anew}")
    with store.writing() as connection:
        connection.execute(TREE_NODE.delete())
        connection.execute(LOG.delete().where(LOG.c.seq >= 3))
        stove_projection.rebuild(connection, lambda _done, _total: None)
    store.close()
    cut = verify(f"sqlite:///{anew}", second)
    assert cut.returncode == 1 and "covers 5 records, but the log has 2" in cut.stderr
    fill_more(anew)
    assert run("verify", "--log", database=f"sqlite:///{anew}").returncode == 0
    for note, size in ((first, 3), (second, 5)):
        done = verify(f"sqlite:///{anew}", note)
        assert done.returncode == 1
        assert f"the first {size} records are not those it was made of" in done.stderr


def test_checkpoint_of_another_log_or_key_or_that_is_none_is_said(kept, tmp_path):
    url, first, _second = kept
    other = sign_note(KEY, "qcapp.log/other", first.partition("\n\n")[0] + "\n")
    other = other.replace(first.partition("\n")[0], "qcapp.log/other")
    altered_note = first.replace("\n3\n", "\n2\n")
    for useless, why in (
        (other, "it is of another log (qcapp.log/other"),
        (altered_note, "not signed with the key"),
    ):
        done = verify(url, useless)
        assert done.returncode == 1 and why in done.stderr
        # Nothing is wrong with the log, and nobody is told to restore a backup.
        assert "good: 5 records" in done.stdout and "NOT as it was" not in done.stdout
        assert "This checkpoint says nothing about it" in done.stdout
    assert "not a checkpoint" in verify(url, "some\nother\ntext").stderr
    assert "cannot be read" in verify(url, str(tmp_path / "typo")).stderr
    old_summary = tmp_path / "old.json"
    old_summary.write_text(json.dumps(sign_sample("good")))
    assert "before checkpoints were kept" in verify(url, str(old_summary)).stderr


def test_two_summaries_alone_show_that_the_log_only_grew_between_them(kept, tmp_path):
    url, first, second = kept
    with Store(url).reading() as connection:
        proof = [one.hex() for one in log.find_consistency(connection, 3, 5)]
    grew = {"checkpoint": second, "grew_from": {"seq": 3, "proof": proof}}
    files = {}
    for name, rests_on in {
        "one": {"checkpoint": first},
        "two": grew,
        "bad": grew | {"grew_from": {"seq": 3, "proof": proof[::-1]}},
    }.items():
        document = load_sample("good")
        document["rests_on"] |= rests_on
        files[name] = tmp_path / f"{name}.json"
        files[name].write_text(json.dumps(sign_document(KEY, document)))
    done = run("verify", files["two"], "--checkpoint", files["one"], "--key", KEY.public_hex)
    assert done.returncode == 0 and "its log continues the checkpoint of 3 records" in done.stdout
    bad = run("verify", files["bad"], "--checkpoint", first)
    assert bad.returncode == 1 and "something among the first 3 records was changed" in bad.stderr
    none = run("verify", files["one"], "--checkpoint", second)
    assert none.returncode == 1 and "has no proof from that checkpoint on" in none.stderr


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
