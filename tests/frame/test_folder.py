"""The folder that needs no Python: what is collected, what is left out, what its smoke test tries.

The folder itself is built and tried by python3 tests/run.py folder.
"""

import importlib
import importlib.util
import re
import subprocess
import sys
from pathlib import Path

import pytest
from babel import localedata

from qcapp.cli.main import COMMANDS
from qcapp.i18n import number_format
from tests import folder
from tests.builders import ROOT
from tests.test_docs import list_commands

PLACE = ROOT / ".ci"


@pytest.fixture(scope="module")
def parts():
    spec = importlib.util.spec_from_file_location("folder_parts", PLACE / "parts.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_modules_that_are_loaded_when_asked_for_are_found(parts, tmp_path):
    (tmp_path / "inside").mkdir()
    (tmp_path / "a.py").write_text("import scipy\nx = scipy.special.ndtr(scipy.linalg.norm(1))\n")
    (tmp_path / "inside" / "b.py").write_text(
        "import scipy.fft\nfrom scipy import optimize\nfrom scipy.sparse.linalg import eigs\n"
        "import scipyx.none\nother = a.scipy\n"
    )
    names = ("special", "linalg", "fft", "optimize", "sparse.linalg")
    assert parts.find_used_modules("scipy", tmp_path) == {f"scipy.{name}" for name in names}


def test_what_the_program_uses_of_scipy_exists_and_leaves_its_distributions_out(parts):
    used = parts.find_used_modules("scipy", ROOT / "qcapp")
    assert used >= {"scipy.special", "scipy.optimize"}
    for name in used:
        importlib.import_module(name)
    assert "scipy.stats" not in used, "the folder leaves it out"


def test_no_path_of_the_program_loads_scipys_distributions(parts):
    used = sorted(parts.find_used_modules("scipy", ROOT / "qcapp"))
    code = f"import sys, {', '.join(used)}\nprint('scipy.stats' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    assert done.stdout.strip() == "False"


def forget_languages() -> None:
    localedata.clear_caches()
    localedata.exists.cache_clear()
    localedata.locale_identifiers.cache_clear()


def test_numbers_and_days_are_written_the_same_with_the_languages_that_are_kept(
    parts, tmp_path, monkeypatch
):
    """Also of each region of a language, since a browser may ask for one."""
    languages = parts.list_languages(ROOT / "qcapp")
    assert languages >= {"en", "fr", "pt"}
    tags = [
        name.replace("_", "-")
        for name in localedata.locale_identifiers()
        if name.split("_")[0] in languages
    ]
    load = number_format.load_number_format.__wrapped__
    before = {tag: load(tag) for tag in tags}
    for path in Path(localedata._dirname).iterdir():
        if parts.is_needed(f"babel/locale-data/{path.name}", languages):
            (tmp_path / path.name).write_bytes(path.read_bytes())
    monkeypatch.setattr(localedata, "_dirname", str(tmp_path))
    forget_languages()
    assert {tag: load(tag) for tag in tags} == before
    assert not localedata.exists("ja"), "the data that was looked at is that of the folder"
    monkeypatch.undo()
    forget_languages()


@pytest.mark.parametrize(
    ("path", "is_needed"),
    [
        ("babel/locale-data/pt_BR.dat", True),
        ("babel/locale-data/root.dat", True),
        ("babel/locale-data/ja.dat", False),
        ("babel/global.dat", True),
        ("PIL/_imaging.cpython-311-x86_64-linux-gnu.so", True),
        ("PIL/_avif.cp311-win_amd64.pyd", False),
        ("pillow.libs/libjpeg-6dc8d115.so.62.4.0", True),
        ("pillow.libs/libavif-c6062d5f.so.16.4.2", False),
        ("numpy/random/tests/data/pcg64.csv", False),
        ("qcapp/bundled/static/guide/index.md", True),
    ],
)
def test_what_is_left_out(parts, path, is_needed):
    assert parts.is_needed(path, {"en", "fr", "pt"}) is is_needed


def test_smoke_test_runs_every_command_and_each_kind_of_figure():
    assert folder.list_tried() == set(list_commands())
    lines = " ".join(words for words, _wanted in folder.CALLS)
    chart = COMMANDS["chart"]
    assert chart and all(
        f"--kind {kind}" in lines for kind in ("individuals", "ewma", "cusum", "p")
    )


def test_smoke_test_finds_a_program_that_fails_or_says_something_else(tmp_path, capsys):
    program = tmp_path / "qcapp"
    program.write_text("#!/bin/sh\necho '{}'\n")
    program.chmod(0o755)
    wrong = folder.try_calls(folder.Place(tmp_path, tmp_path), (("rate", folder.is_json),))
    assert len(wrong) == 1 and "FAILED" in capsys.readouterr().out
    program.write_text("#!/bin/sh\necho '{\"rate\": 1}'\nexit 3\n")
    assert folder.try_calls(folder.Place(tmp_path, tmp_path), (("rate", folder.is_json),))


def test_folder_tells_how_to_start_and_stop_and_what_a_pass_is_not():
    text = (PLACE / "folder" / "READ-ME-FIRST.txt").read_text(encoding="utf-8")
    said = " ".join(text.split())
    for word in ("qcapp.exe", "start-qcapp.sh", "Ctrl and C", "not a safety certificate"):
        assert word in said
    assert re.search(r"carbon monoxide", said)
    assert (PLACE / "folder" / "start-qcapp.sh").stat().st_mode & 0o100


def test_what_is_built_is_not_kept():
    ignored = (ROOT / ".gitignore").read_text(encoding="utf-8").splitlines()
    assert {"/.ci/build/", "/.ci/dist/"} <= set(ignored)
