"""Signed notes and checkpoints, after C2SP signed-note and tlog-checkpoint."""

import base64
import json
from pathlib import Path

import pytest

from qcapp.access.note import find_key_id, read_note, sign_note, write_verifier_key
from qcapp.errors import BadInput
from qcapp.transparency.checkpoint import Checkpoint, name_log, parse_checkpoint
from tests.documents.samples import KEY

REFERENCE = Path(__file__).parents[1] / "reference" / "proofs.json"
PUBLISHED = json.loads(REFERENCE.read_text())["signed_note"]
NAME = "example.com/foo"
PUBLIC = bytes.fromhex(KEY.public_hex)
ROOT = bytes(range(32))
WRONG = base64.b64encode(find_key_id(NAME, PUBLIC) + bytes(64)).decode()
WRONG_LINE = f"— {NAME} {WRONG}\n"
TEXT = Checkpoint("qcapp.log/ab", 7, ROOT).text


def test_published_note_is_read_with_its_published_key():
    name, key_id, key = PUBLISHED["vkey"].split("+", 2)
    public = base64.b64decode(key)[1:]
    assert (name, find_key_id(name, public).hex()) == (NAME, key_id)
    assert write_verifier_key(name, public) == PUBLISHED["vkey"]
    assert read_note(PUBLISHED["note"], name, public) == "This is an example message.\n"
    assert read_note(PUBLISHED["note"].replace("example message", "Example"), name, public) is None
    assert read_note(PUBLISHED["note"], "example.com/bar", public) is None
    assert read_note(PUBLISHED["note"], name, PUBLIC) is None


def test_note_is_three_lines_an_empty_one_and_a_signature():
    note = sign_note(KEY, NAME, TEXT)
    assert note.startswith(f"qcapp.log/ab\n7\n{base64.b64encode(ROOT).decode()}\n\n— {NAME} ")
    assert note.endswith("\n") and read_note(note, NAME, PUBLIC) == TEXT
    assert parse_checkpoint(note) == parse_checkpoint(TEXT) == Checkpoint("qcapp.log/ab", 7, ROOT)


@pytest.mark.parametrize(
    "spoil",
    [
        lambda note: note.replace("\n7\n", "\n8\n"),
        lambda note: note.replace("\n\n", "\n"),
        lambda note: note.removesuffix("\n"),
        lambda note: note.replace("— ", "- "),
        lambda note: note[:-10] + "AAAAAAA=\n",
        lambda note: note.replace("7", "7\r", 1),
        lambda note: note + WRONG_LINE,
        lambda note: note.partition("\n\n")[0] + "\n\n",
        lambda note: "\ud800" + note,
        lambda note: "",
    ],
)
def test_spoiled_note_is_none(spoil):
    note = spoil(sign_note(KEY, NAME, TEXT))
    assert read_note(note, NAME, PUBLIC) != TEXT


def test_signatures_of_others_are_left_alone():
    line = f"— example.com/witness {base64.b64encode(bytes(68)).decode()}\n"
    assert read_note(sign_note(KEY, NAME, TEXT) + line, NAME, PUBLIC) == TEXT


@pytest.mark.parametrize(
    "text",
    [
        "",
        "a\n7\n",
        f"a\n07\n{base64.b64encode(ROOT).decode()}\n",
        f"a\n-7\n{base64.b64encode(ROOT).decode()}\n",
        f"a\n٣\n{base64.b64encode(ROOT).decode()}\n",
        f"a\n{2**53}\n{base64.b64encode(ROOT).decode()}\n",
        f"a b\n7\n{base64.b64encode(ROOT).decode()}\n",
        f"\n7\n{base64.b64encode(ROOT).decode()}\n",
        f"a\n7\n{base64.b64encode(ROOT[:31]).decode()}\n",
        f"a\n7\n {base64.b64encode(ROOT).decode()}\n",
        "a\n7\n****\n",
        TEXT + "x" * 9000,
    ],
)
def test_text_that_is_no_checkpoint_is_refused(text):
    with pytest.raises(BadInput, match="not a checkpoint"):
        parse_checkpoint(text)


def test_log_is_named_by_its_random_identity():
    assert name_log("ab" * 32) == f"qcapp.log/{'ab' * 16}"
