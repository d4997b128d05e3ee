"""The lock files: all that pyproject.toml asks for, inside its ranges, on every system."""

import re
import tomllib

import pytest
from packaging.markers import Marker
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

PLACES = [
    {
        "python_version": version,
        "python_full_version": f"{version}.1",
        "sys_platform": system,
        "platform_system": name,
        "os_name": "nt" if system == "win32" else "posix",
        "implementation_name": "cpython",
        "platform_python_implementation": "CPython",
    }
    for version in ("3.11", "3.12", "3.13")
    for system, name in (("linux", "Linux"), ("win32", "Windows"), ("darwin", "Darwin"))
]
LOCKS = {"demo": (), "tests": ("test", "postgresql"), ".ci": ("folder",)}


@pytest.fixture(scope="module")
def project(checkout):
    return tomllib.loads((checkout / "pyproject.toml").read_text(encoding="utf-8"))


def read_lock(checkout, folder) -> str:
    return (checkout / folder / "requirements.lock").read_text(encoding="utf-8")


def list_locked(text: str, place: dict) -> dict[str, str]:
    """Name to version of what pip would install from a lock there."""
    locked = {}
    for entry in re.split(r"\n(?=\S)", text.strip()):
        head = entry.partition("\\")[0]
        spec, _semicolon, marker = (part.strip() for part in head.partition(";"))
        name, _equals, version = spec.partition("==")
        if not marker or Marker(marker).evaluate(place):
            assert canonicalize_name(name) not in locked, f"{name} stands twice for {place}"
            locked[canonicalize_name(name)] = version
    return locked


def list_wanted(project, extras, place) -> list[Requirement]:
    named = project["project"]
    lines = [*named["dependencies"], *project["build-system"]["requires"]]
    for extra in extras:
        lines += named["optional-dependencies"][extra]
    found = [Requirement(line) for line in lines]
    return [one for one in found if one.marker is None or one.marker.evaluate(place)]


@pytest.mark.parametrize("place", PLACES, ids=lambda place: f"{place['sys_platform']}")
@pytest.mark.parametrize("folder", LOCKS)
def test_lock_holds_every_dependency_inside_its_range(checkout, project, folder, place):
    locked = list_locked(read_lock(checkout, folder), place)
    wanted = list_wanted(project, LOCKS[folder], place)
    assert len(wanted) >= 20
    wrong = [
        f"{one}: {locked.get(canonicalize_name(one.name), 'not in the lock')}"
        for one in wanted
        if not one.specifier.contains(locked.get(canonicalize_name(one.name), "0"))
    ]
    assert not wrong, f"{wrong}: python3 tests/run.py lock"


@pytest.mark.parametrize("place", PLACES, ids=lambda place: f"{place['sys_platform']}")
def test_tests_run_the_versions_that_the_demo_runs(checkout, place):
    demo, tests = (list_locked(read_lock(checkout, name), place) for name in ("demo", "tests"))
    assert demo.items() <= tests.items()


@pytest.mark.parametrize("place", PLACES, ids=lambda place: f"{place['sys_platform']}")
def test_folder_holds_the_versions_that_the_tests_run(checkout, place):
    """And besides them nothing but PyInstaller and what it needs."""
    demo, folder = (list_locked(read_lock(checkout, name), place) for name in ("demo", ".ci"))
    assert demo.items() <= folder.items()
    tools = {"altgraph", "macholib", "pefile", "pyinstaller", "pyinstaller-hooks-contrib"}
    assert folder.keys() - demo.keys() <= {*tools, "pywin32-ctypes", "setuptools"}


@pytest.mark.parametrize("folder", LOCKS)
def test_lock_names_hashes_and_no_address(checkout, folder):
    text = read_lock(checkout, folder)
    assert "://" not in text and "--index" not in text and "--find-links" not in text
    for entry in re.split(r"\n(?=\S)", text.strip()):
        assert re.search(r"--hash=sha256:[0-9a-f]{64}", entry), entry.partition(" ")[0]


def test_a_version_outside_of_its_range_is_found(checkout, project):
    text = re.sub(r"(?m)^pydantic==\S+", "pydantic==1.10.0", read_lock(checkout, "demo"))
    locked = list_locked(text, PLACES[0])
    (pydantic,) = (one for one in list_wanted(project, (), PLACES[0]) if one.name == "pydantic")
    assert not pydantic.specifier.contains(locked["pydantic"])
