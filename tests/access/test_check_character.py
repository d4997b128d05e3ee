"""The check character of join codes, and the phone's twin;
the character itself is held by tests/inspection/test_serial.py.
"""

import json
import subprocess
from pathlib import Path

import pytest

from qcapp.access.devices import ALPHABET, join_device, make_join_code
from qcapp.errors import BadInput
from qcapp.inspection.check_character import has_check_character
from tests.builders import NOW, PHONE_IDS, open_small_store

D1 = f"{PHONE_IDS}0000000000d1"

ROOT = Path(__file__).resolve().parent.parent.parent
# ISO/IEC 7064 MOD 37,36 is the check of the Global Release Identifier and of the International
# Standard Audiovisual Number. Both values are quoted in many public sources (the standards
# themselves were not opened).
PUBLISHED = [
    ("A12425GABC1234002", "M"),
    ("00000000C36D002B", "K"),
    ("00000000C36D002B00000000", "E"),
]


@pytest.mark.parametrize("text", ["", "A", "abc", "K7MPQ4X!", "K7MPQ4\u0661X"])
def test_what_is_no_code_has_none(text):
    assert not has_check_character(text)


def test_made_codes_hold_their_check_and_only_clear_signs():
    store, _ = open_small_store()
    codes = [make_join_code(store, name="p", minutes=15, now=NOW) for _ in range(50)]
    assert (
        all(has_check_character(code) and set(code) <= set(ALPHABET) for code in codes)
        and len(set(codes)) == 50
    )


def test_mistyped_code_is_told_from_an_unknown_one():
    store, _ = open_small_store()
    code = make_join_code(store, name="p", minutes=15, now=NOW)
    wrong = ("2" if code[0] != "2" else "3") + code[1:]
    with pytest.raises(BadInput, match="a character is wrong"):
        join_device(store, code=wrong, device_id=D1, now=NOW)
    assert join_device(store, code=code, device_id=D1, now=NOW).name == "p", (
        "a mistyped one uses up nothing"
    )


def test_phone_and_server_agree():
    texts = [text + check for text, check in PUBLISHED] + [
        "K7MPQ4XA",
        "K7MPQ4X",
        "",
        "A",
        "A12425GABC1234002N",
    ]
    script = (
        'import { hasCheckCharacter } from "./static/phone/js/inspection/serial.js";'
        f"console.log(JSON.stringify({json.dumps(texts)}.map(hasCheckCharacter)))"
    )
    done = subprocess.run(
        ["node", "--input-type=module", "-e", script],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        check=True,
        timeout=60,
    )
    assert json.loads(done.stdout) == [has_check_character(text) for text in texts]
