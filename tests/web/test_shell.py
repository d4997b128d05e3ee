"""The phone's file set: slimmed without changing what a script means."""

import gzip
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from qcapp.web.shell import load_shell, slim_script
from tests.builders import open_yard

CHECKOUT = Path(__file__).resolve().parent.parent.parent
SCRIPTS = sorted((CHECKOUT / "static" / "phone" / "js").rglob("*.js"))


def test_comments_and_blanks_go_and_code_stays():
    source = b"/** About. */\n// why\nexport function f() {\n\n  /* inside\n   * more */\n  return '//kept  ' + `/* ${1 + 2} */`; // tail\n}\n"
    assert slim_script(source) == b"export function f(){return'//kept  '+`/* ${1 + 2} */`}"


def test_what_comes_first_stays_first():
    """A minifier used for a day put the destructuring before the declaration that it reads."""
    source = b"function f(b, g) {\n  const ids = new Set(b);\n  const { late } = g({ ids });\n  return [late, ids];\n}\n"
    assert slim_script(source).index(b"new Set") < slim_script(source).index(b"g({")


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.name)
def test_every_slimmed_script_parses_and_no_text_holds_what_is_taken_out(path):
    slim = slim_script(path.read_bytes())
    assert (
        subprocess.run(["node", "--input-type=module", "--check", "-"], input=slim).returncode == 0
    )
    texts = re.findall(r"""\"[^"\n]*\"|'[^'\n]*'|`[^`]*`""", path.read_text(encoding="utf-8"))
    assert not [text for text in texts if ";}" in text]


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.name)
def test_no_script_has_text_over_several_lines(path):
    for line in path.read_text(encoding="utf-8").splitlines():
        assert line.count("`") % 2 == 0, f"a template over several lines would be changed: {line}"


def test_slimmed_scripts_pass_every_test_of_the_scripts(tmp_path):
    """The same tests and vectors, run on what the phone gets instead of on what we wrote."""
    shutil.copytree(CHECKOUT / "static", tmp_path / "static")
    for folder in ("js", "vectors", "reference"):
        shutil.copytree(CHECKOUT / "tests" / folder, tmp_path / "tests" / folder)
    for path in SCRIPTS:
        (tmp_path / path.relative_to(CHECKOUT)).write_bytes(slim_script(path.read_bytes()))
    tests = sorted(str(path) for path in (tmp_path / "tests" / "js").rglob("*.test.js"))
    done = subprocess.run(
        ["node", "--test", "--test-reporter=tap", *tests],
        cwd=tmp_path,
        capture_output=True,
        text=True,
    )
    passed = int(re.search(r"^# pass (\d+)", done.stdout, re.MULTILINE).group(1))
    assert done.returncode == 0 and passed > 400, done.stdout[-3000:]


def test_guide_and_its_pictures_are_no_part_of_the_app(tmp_path):
    """A mended sentence or a new picture must not make every phone fetch the app again."""
    shell = load_shell(CHECKOUT / "static")
    assert (CHECKOUT / "static" / "guide" / "inspector.md").is_file() and (
        CHECKOUT / "static" / "pictures" / "today.png"
    ).is_file()
    assert not [
        path
        for path in shell.files
        if path.endswith(".md") or path.startswith(("guide", "pictures"))
    ]
    shutil.copytree(CHECKOUT / "static", tmp_path / "static")
    (tmp_path / "static" / "guide" / "inspector.md").write_text("other words", encoding="utf-8")
    assert load_shell(tmp_path / "static").build == shell.build


def test_files_go_packed_to_who_takes_that_and_plain_to_others():
    yard = open_yard()
    shell = load_shell(CHECKOUT / "static")
    for path, kind in (
        ("phone/js/main.js", "text/javascript"),
        ("phone/words/en.json", "application/json"),
    ):
        packed = yard.client.get(shell.base + path, headers={"Accept-Encoding": "gzip, br"})
        plain = yard.client.get(shell.base + path, headers={"Accept-Encoding": "identity"})
        assert packed.content == plain.content == shell.files[path]
        assert (packed.headers.get("content-encoding"), plain.headers.get("content-encoding")) == (
            "gzip",
            None,
        )
        assert (
            int(packed.headers["content-length"])
            == len(shell.pack(path))
            < len(gzip.compress(shell.files[path], 9))
        )
        assert {answer.headers["vary"] for answer in (packed, plain)} == {"Accept-Encoding"}
        assert packed.headers["content-type"].startswith(kind)
    picture = yard.client.get(
        shell.base + "phone/icons/icon-192.png", headers={"Accept-Encoding": "gzip"}
    )
    assert "content-encoding" not in picture.headers
