"""The phone's file set: slimmed without changing what a script means."""

import re
import shutil
import subprocess
from pathlib import Path

from qcapp.web.shell import slim_script

CHECKOUT = Path(__file__).resolve().parent.parent.parent
SCRIPTS = sorted((CHECKOUT / "static" / "js").rglob("*.js"))


def test_comments_blanks_and_long_names_go_and_text_and_exports_stay():
    source = b"/** About. */\n// why\nexport function f(wide_mm) {\n\n  /* inside\n   * more */\n  return '//kept  ' + `/* ${wide_mm} */`; // tail\n}\n"
    slim = slim_script(source).decode()
    assert "About" not in slim and "why" not in slim and "tail" not in slim and "inside" not in slim and "wide_mm" not in slim
    assert slim.startswith("export function f(") and "//kept  " in slim and "/* ${" in slim and "\n" not in slim


def test_slimmed_scripts_pass_every_test_of_the_scripts(tmp_path):
    """The same tests and vectors, run on what the phone gets instead of on what we wrote."""
    shutil.copytree(CHECKOUT / "static", tmp_path / "static")
    for folder in ("js", "vectors", "reference"):
        shutil.copytree(CHECKOUT / "tests" / folder, tmp_path / "tests" / folder)
    for path in SCRIPTS:
        (tmp_path / path.relative_to(CHECKOUT)).write_bytes(slim_script(path.read_bytes()))
    tests = sorted(str(path) for path in (tmp_path / "tests" / "js").rglob("*.test.js"))
    done = subprocess.run(["node", "--test", "--test-reporter=tap", *tests], cwd=tmp_path, capture_output=True, text=True)
    passed = int(re.search(r"^# pass (\d+)", done.stdout, re.MULTILINE).group(1))
    assert done.returncode == 0 and passed > 400, done.stdout[-3000:]
