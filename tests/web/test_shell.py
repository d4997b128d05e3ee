"""The phone's file set: served as it is written, packed with gzip, light, and kept whole."""

import gzip
import re
import shutil

import pytest

from qcapp.web.phone.app_files import load_shell
from tests.builders import open_yard
from tests.conftest import CHECKOUT
from tests.phone_weight import list_kept, list_modules, weigh, weigh_first_screen

STATIC = CHECKOUT / "static"
SCRIPTS = {path.relative_to(STATIC).as_posix() for path in (STATIC / "phone" / "js").rglob("*.js")}
MAX_FIRST_SCREEN_BYTES = 64 * 1024
MAX_KEPT_BYTES = 200 * 1024
MAX_HOLES_BYTES = 8 * 1024
HOLES_WORKER = "phone/js/holes/worker.js"


@pytest.fixture(scope="module")
def shell():
    return load_shell(STATIC)


def test_scripts_are_served_as_they_are_written(shell):
    assert {path for path in shell.files if path.startswith("phone/js/")} == SCRIPTS
    for path in SCRIPTS:
        assert shell.files[path] == (STATIC / path).read_bytes()


def test_worker_keeps_every_script_also_those_loaded_later(shell):
    assert list_modules(shell, lazy=True) == SCRIPTS, "a script that no other one imports"
    assert list_kept(shell) >= SCRIPTS


def test_first_screen_is_light(shell):
    assert 0 < weigh_first_screen(shell) <= MAX_FIRST_SCREEN_BYTES


def test_page_asks_at_once_for_every_script_of_the_first_screen(shell):
    named = re.findall(r'(?:src|href)="([^"]+[.]js)"', shell.files["phone/index.html"].decode())
    assert {address.removeprefix(shell.base) for address in named} == list_modules(shell)


def test_screens_beyond_the_first_are_loaded_later(shell):
    later = list_modules(shell, lazy=True) - list_modules(shell)
    assert {"phone/js/screens/walk.js", "phone/js/screens/review.js"} <= later


def test_everything_kept_for_no_signal_is_light(shell):
    assert 0 < weigh(shell, list_kept(shell)) <= MAX_KEPT_BYTES


def test_holes_by_photo_are_measured_by_a_light_worker(shell):
    """All that the worker loads; the first screen loads none of it."""
    worker = list_modules(shell, (HOLES_WORKER,))
    assert "phone/js/holes/grate.js" in worker
    assert worker.isdisjoint(list_modules(shell))
    assert weigh(shell, worker) <= MAX_HOLES_BYTES


def test_guide_and_its_pictures_are_no_part_of_the_app(shell, tmp_path):
    """A changed sentence or a new picture must not make every phone fetch the app again."""
    assert (STATIC / "guide" / "inspector.md").is_file()
    assert not [path for path in shell.files if not path.startswith(("phone/", "pages/"))]
    shutil.copytree(STATIC, tmp_path / "static")
    (tmp_path / "static" / "guide" / "inspector.md").write_text("other words", encoding="utf-8")
    assert load_shell(tmp_path / "static").build == shell.build


@pytest.mark.parametrize(
    ("path", "kind"),
    [("phone/js/main.js", "text/javascript"), ("phone/words/en.json", "application/json")],
)
def test_files_go_packed_to_who_takes_that_and_plain_to_others(shell, path, kind):
    client = open_yard().client
    packed = client.get(shell.base + path, headers={"Accept-Encoding": "gzip, br"})
    plain = client.get(shell.base + path, headers={"Accept-Encoding": "identity"})
    assert packed.content == plain.content == shell.files[path]
    assert packed.headers.get("content-encoding") == "gzip"
    assert "content-encoding" not in plain.headers
    assert int(packed.headers["content-length"]) == len(shell.pack(path)) < len(plain.content)
    assert gzip.decompress(shell.pack(path)) == plain.content
    assert {answer.headers["vary"] for answer in (packed, plain)} == {"Accept-Encoding"}
    assert packed.headers["content-type"].startswith(kind)


def test_picture_is_not_packed_again(shell):
    address = shell.base + "phone/icons/icon-192.png"
    answer = open_yard().client.get(address, headers={"Accept-Encoding": "gzip"})
    assert "content-encoding" not in answer.headers
