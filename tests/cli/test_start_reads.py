"""What a start reads and loads: counted, because times depend on the machine."""

import json
import os
import shutil
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

from qcapp.checklist import folder_digest, source
from qcapp.checklist.source import ChecklistErrors
from qcapp.errors import Clash
from qcapp.settings import Settings
from qcapp.store.registry.checklists import list_current_hashes
from qcapp.usecases.open_store import open_store

ROOT = Path(__file__).resolve().parents[2]
SHIPPED = sorted(path.name for path in (ROOT / "checklists").glob("*.yaml"))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(ROOT / "checklists", tmp_path / "checklists"))


@pytest.fixture
def read(monkeypatch: pytest.MonkeyPatch) -> Counter:
    """How often the YAML of each file was read."""
    counted: Counter = Counter()
    parse = source.parse_source

    def count(text, problems):
        counted[problems.file] += 1
        return parse(text, problems)

    monkeypatch.setattr(source, "parse_source", count)
    return counted


def start(folder: Path) -> list[str]:
    """Hashes of the current checklists after a start."""
    url = f"sqlite:///{folder.parent / 'yard.db'}"
    store = open_store(Settings(database_url=url, checklists_dir=folder))
    with store.reading() as connection:
        found = sorted(list_current_hashes(connection))
    store.close()
    return found


def test_first_start_reads_each_checklist_once_and_the_next_none(folder: Path, read: Counter):
    first = start(folder)
    assert read == dict.fromkeys(SHIPPED, 1)
    read.clear()
    assert start(folder) == first
    assert read == {}


@pytest.mark.parametrize("drawn", ["pictures/*.svg", "*.svg"])
def test_a_changed_picture_or_drawing_is_read_again(folder: Path, read: Counter, drawn: str):
    start(folder)
    read.clear()
    changed = next(folder.glob(drawn))
    changed.write_text(changed.read_text().replace("</svg>", "<g/></svg>"))
    start(folder)
    assert read == dict.fromkeys(SHIPPED, 1)


def test_a_changed_reader_reads_again(folder: Path, read: Counter, monkeypatch):
    start(folder)
    read.clear()
    other = folder.parent / "program"
    other.mkdir()
    (other / "load.py").write_text("# another")
    monkeypatch.setattr(folder_digest, "files", lambda _package: other)
    start(folder)
    assert read == dict.fromkeys(SHIPPED, 1)


def test_what_became_wrong_since_the_last_start_is_refused(folder: Path):
    start(folder)
    path = folder / SHIPPED[0]
    good = path.read_text()
    path.write_text(good.replace("severity: major", "severity: huge", 1))
    with pytest.raises(ChecklistErrors):
        start(folder)
    # The same number with another content: a published one never changes.
    path.write_text(good.replace("severity: major", "severity: minor", 1))
    with pytest.raises(Clash):
        start(folder)
    path.write_text(good)
    start(folder)


def test_a_removed_picture_is_missed(folder: Path):
    start(folder)
    next((folder / "pictures").glob("*.svg")).unlink()
    with pytest.raises(ChecklistErrors):
        start(folder)


LOADED = """
import json, sys
from qcapp.cli.main import load_command
load_command("serve", "serve:serve")
import gc
print(json.dumps([sorted(sys.modules), gc.isenabled(), gc.get_freeze_count() > 0]))
"""
# Only a page, a file or a photo needs them; together they were a sixth of a start.
LATER = ("scipy.special", "xlsxwriter", "numpy.f2py", "unittest", "qcapp.scenario.simulate")


@pytest.mark.slow
def test_a_server_starts_without_what_only_some_page_needs():
    unmeasured = {
        name: value for name, value in os.environ.items() if not name.startswith("COVERAGE_PROCESS")
    }
    done = subprocess.run(
        [sys.executable, "-c", LOADED], env=unmeasured, capture_output=True, check=True, text=True
    )
    loaded, is_collecting, is_frozen = json.loads(done.stdout.splitlines()[-1])
    assert not set(LATER).intersection(loaded)
    assert is_collecting
    assert is_frozen
