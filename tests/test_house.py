"""The house rules that no tool of its own holds: names, weights, and nothing of one machine."""

import re
import subprocess
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).resolve().parent.parent

TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "qcapp",
    "static",
    "checklists",
    "demo",
    "tests",
}
FORBIDDEN_NAMES = {
    "utils",
    "util",
    "helpers",
    "helper",
    "common",
    "misc",
    "manager",
    "service",
    "services",
}
TEXT_SUFFIXES = {
    ".py",
    ".js",
    ".css",
    ".html",
    ".svg",
    ".yaml",
    ".json",
    ".toml",
    ".md",
    ".mako",
    ".txt",
    "",
}
# Written in pieces, so that this file does not find itself.
MACHINE_PATH = re.compile(
    "|".join("(?<![a-z.])/" + place + r"/[a-z]" for place in ("work", "home", "Users", "tmp"))
)


def list_tracked() -> list[Path]:
    """Files that belong to the project: everything that git does not ignore."""
    listed = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=CHECKOUT,
        stdout=subprocess.PIPE,
        check=True,
    ).stdout.decode()
    return sorted(
        path for path in (CHECKOUT / name for name in listed.split("\0") if name) if path.is_file()
    )


TRACKED = list_tracked()
SCRIPTS = [path for path in TRACKED if path.suffix == ".js"]


def short(path: Path) -> str:
    return path.relative_to(CHECKOUT).as_posix()


def test_top_level_holds_only_what_was_agreed():
    names = {path.relative_to(CHECKOUT).parts[0] for path in TRACKED}
    assert {name for name in names if not name.startswith(".")} <= TOP_LEVEL


def test_no_file_or_folder_has_a_name_that_says_nothing():
    vague = {
        short(path)
        for path in TRACKED
        if {*path.relative_to(CHECKOUT).parts[:-1], path.stem} & FORBIDDEN_NAMES
    }
    assert not vague


@pytest.mark.parametrize(
    "path", [path for path in TRACKED if path.suffix in TEXT_SUFFIXES], ids=short
)
def test_file_names_no_path_of_one_machine(path):
    found = MACHINE_PATH.findall(path.read_text(encoding="utf-8"))
    assert not found
