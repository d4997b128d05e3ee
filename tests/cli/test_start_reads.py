"""What a start reads and loads: counted, because times depend on the machine."""

import json
import os
import shutil
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

from qcapp.app import ROOMS
from qcapp.checklist import folder_digest, source
from qcapp.checklist.source import ChecklistErrors
from qcapp.errors import Clash
from qcapp.settings import Settings
from qcapp.store.registry.checklists import list_current_hashes
from qcapp.store.registry.drawings import keep_drawings, list_drawings
from qcapp.usecases.open_store import open_store
from tests.sync.test_work_of_a_push import counting_statements

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


def test_drawings_are_kept_by_as_many_statements_however_many_there_are(folder: Path):
    store = open_store(
        Settings(database_url=f"sqlite:///{folder.parent / 'yard.db'}", checklists_dir=folder)
    )
    (picture, *_) = (folder / "pictures").glob("*.svg")
    source = picture.read_text(encoding="utf-8")
    counts = []
    with store.writing() as connection:
        checklist_hash = list_current_hashes(connection)[0]
        for number in (3, 60):
            shown = {f"pictures/{number}-{n}.svg": f"{source}<!--{n}-->" for n in range(number)}
            with counting_statements(store) as said:
                keep_drawings(connection, checklist_hash, shown)
            counts.append(len(said))
            assert shown.items() <= list_drawings(connection, checklist_hash).items()
    store.close()
    assert counts == [counts[0]] * 2


FIRST_ANSWER = """
import asyncio, gc, json, sys
from qcapp.cli.main import load_command
command, path, url = sys.argv[1:]
load_command(command, f"{command}:{command}")
from qcapp.cli.serve import build_server
from qcapp.settings import Settings
server = build_server(Settings(database_url=url), 0, None)
asked = {
    "type": "http", "method": "GET", "scheme": "http", "path": path, "query_string": b"",
    "root_path": "", "headers": [(b"host", b"127.0.0.1:8000")], "client": ("127.0.0.1", 50000),
    "server": ("127.0.0.1", 8000),
}
answered = []
async def receive():
    return {"type": "http.request"}
async def send(message):
    answered.append(message)
asyncio.run(server(asked, receive, send))
print(json.dumps({
    "status": answered[0]["status"],
    "modules": sorted(sys.modules),
    "is_collecting": gc.isenabled(),
    "is_frozen": gc.get_freeze_count() > 0,
}))
"""
# What only some page, file or photo needs: libraries, and rooms of ours.
LATER = (
    "PIL",
    "markdown_it",
    "numpy",
    "scipy",
    "typst",
    "unittest",
    "xlsxwriter",
    "qcapp.documents",
    "qcapp.scenario",
    "qcapp.sync.push",
)
# Counted 1,024, 1,015 and 1,090; with all rooms it was 1,640.
MAX_MODULES = 1_120


@pytest.fixture(scope="module")
def url(tmp_path_factory: pytest.TempPathFactory) -> str:
    """Of a yard that was started before."""
    url = f"sqlite:///{tmp_path_factory.mktemp('started') / 'yard.db'}"
    open_store(Settings(database_url=url)).close()
    return url


def answer_first(command: str, path: str, url: str) -> dict:
    """What a server that was just started had loaded when it had answered its first request."""
    unmeasured = {
        name: value for name, value in os.environ.items() if not name.startswith("COVERAGE_PROCESS")
    }
    done = subprocess.run(
        [sys.executable, "-c", FIRST_ANSWER, command, path, url],
        env=unmeasured,
        capture_output=True,
        check=True,
        text=True,
    )
    return json.loads(done.stdout.splitlines()[-1])


@pytest.mark.slow
@pytest.mark.parametrize(
    ("command", "path", "room"),
    [
        ("serve", "/sign-in", "accounts"),
        ("serve", "/phone/", "phone"),
        ("start", "/laptop/version", "laptop"),
    ],
)
def test_a_first_answer_loads_no_other_room_and_no_heavy_library(url, command, path, room):
    first = answer_first(command, path, url)
    assert first["status"] == 200
    assert not set(LATER).intersection(first["modules"])
    of_rooms = {module.split(":")[0].split(".")[0] for one in ROOMS for module in one.modules}
    loaded = {name.split(".")[2] for name in first["modules"] if name.startswith("qcapp.web.")}
    # The phone's files are read at the start, and the guide's.
    assert loaded & of_rooms <= {room, "phone"}
    assert "qcapp.web.phone.sync_api" not in first["modules"]
    assert len(first["modules"]) <= MAX_MODULES
    assert first["is_collecting"]
    assert first["is_frozen"]
