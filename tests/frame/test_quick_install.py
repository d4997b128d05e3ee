"""The tests' environment is made by uv, and by pip where uv cannot."""

import importlib
from types import SimpleNamespace

import pytest

LOCK = """\
urllib3==2.0 \\
    --hash=sha256:11
uv==0.13.9 \\
    --hash=sha256:22 \\
    --hash=sha256:33
uvicorn==0.54 ; sys_platform != 'none' \\
    --hash=sha256:44
"""


@pytest.fixture
def quick(checkout, monkeypatch):
    """tests/quick_install.py as tests/run.py loads it."""
    monkeypatch.syspath_prepend(str(checkout / "demo"))
    monkeypatch.syspath_prepend(str(checkout / "tests"))
    return importlib.import_module("quick_install")


@pytest.fixture
def asked(quick, monkeypatch, tmp_path):
    """What pip and uv were asked to install; uv ends with `code`."""
    asked = SimpleNamespace(lock=tmp_path / "requirements.lock", pip=[], uv=[], code=0)
    asked.lock.write_text(LOCK)

    def install(_python, packages, _checkout):
        asked.pip.append(packages if isinstance(packages, list) else packages.read_text())

    def run(command, **_more):
        asked.uv.append(command)
        return SimpleNamespace(returncode=asked.code)

    monkeypatch.setattr(quick, "install_with_pip", install)
    monkeypatch.setattr(quick.subprocess, "run", run)
    return asked


def test_a_package_is_picked_with_all_its_hashes_and_nothing_else(quick):
    assert quick.pick(LOCK, "uv") == LOCK[LOCK.index("uv==") : LOCK.index("uvicorn")]
    assert quick.pick(LOCK, "uvicorn") == LOCK[LOCK.index("uvicorn") :]
    assert quick.pick(LOCK, "uvi") == ""


def test_pip_brings_uv_alone_and_uv_the_rest_by_its_hashes(quick, asked, tmp_path):
    quick.install_with_uv("python", asked.lock, tmp_path)
    assert asked.pip == [quick.pick(LOCK, "uv")]
    ((*_, into, hashes, _r, lock),) = asked.uv
    assert (into, hashes, lock) == ("python", "--require-hashes", str(asked.lock))


def test_pip_installs_all_where_uv_cannot(quick, asked, tmp_path):
    asked.code = 2
    quick.install_with_uv("python", asked.lock, tmp_path)
    assert asked.pip[1:] == [LOCK]


def test_newest_versions_and_a_lock_without_uv_are_pips(quick, asked, tmp_path):
    quick.install_with_uv("python", ["--upgrade", ".[test]"], tmp_path)
    asked.lock.write_text("one==1 --hash=sha256:0\n")
    quick.install_with_uv("python", asked.lock, tmp_path)
    assert asked.pip == [["--upgrade", ".[test]"], "one==1 --hash=sha256:0\n"]
    assert asked.uv == []


def test_the_lock_of_the_tests_has_uv(quick, checkout):
    assert quick.pick((checkout / "tests" / "requirements.lock").read_text(), "uv").startswith(
        "uv=="
    )
