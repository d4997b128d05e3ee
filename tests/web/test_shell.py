"""The phone's file set: slimmed without changing what a script means."""

import subprocess
from pathlib import Path

import pytest

from qcapp.web.shell import slim_script

STATIC = Path(__file__).resolve().parent.parent.parent / "static"
SCRIPTS = sorted(STATIC.rglob("*.js"))


def test_comments_and_blanks_go_and_code_stays():
    source = b"/** About. */\n// why\nexport function f() {\n\n  /* inside\n   * more */\n  return '//kept  ' + `/* ${1 + 2} */`; // tail\n}\n"
    assert slim_script(source) == b"export function f(){return'//kept  '+`/* ${1 + 2} */`;}"


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.name)
def test_no_script_has_text_over_several_lines(path):
    for line in path.read_text(encoding="utf-8").splitlines():
        assert line.count("`") % 2 == 0, f"a template over several lines would be changed: {line}"


def test_slimmed_scripts_still_parse(tmp_path):
    for path in SCRIPTS:
        slim = tmp_path / f"{path.stem}.mjs"
        slim.write_bytes(slim_script(path.read_bytes()))
        done = subprocess.run(["node", "--check", slim], capture_output=True, text=True)
        assert done.returncode == 0, f"{path.name}: {done.stderr}"
