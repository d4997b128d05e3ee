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
# Words that once stood for several things, with the one word of the glossary for each.
RETIRED_WORDS = {"desk": "draft, page or laptop", "gate": "stage"}
# A parameter of a sentence that is translated under this name.
MAY_SAY = {("qcapp/web/stoves/stove.html", "gate")}
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


# Ruff holds 100, but looks neither at JavaScript nor, in tests, at the scripts inside strings.
MAX_WIDTH = 110
TRACKED = list_tracked()
CODE = [path for path in TRACKED if path.suffix in {".js", ".py"}]


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


def list_words(text: str) -> set[str]:
    """Every word of names and comments, the parts of a name each by itself."""
    names = re.findall(r"[A-Za-z]+", text)
    return {part.lower() for name in names for part in re.findall(r"[A-Z]?[a-z]+", name)}


def test_code_says_no_word_that_once_stood_for_several_things():
    said = {
        (short(path), word)
        for path in TRACKED
        if path.suffix in {".css", ".html", ".js", ".py"} and path != Path(__file__).resolve()
        for word in list_words(f"{path.stem} {path.read_text(encoding='utf-8')}")
        if word.removesuffix("s") in RETIRED_WORDS
    }
    assert said == MAY_SAY, RETIRED_WORDS


def test_words_are_the_parts_of_a_name():
    words = list_words("class DraftDesk: find_gate, desktop")
    assert words == {"class", "draft", "desk", "find", "gate", "desktop"}


def list_wide_lines(text: str) -> list[int]:
    """Numbers of the lines that are too wide, from 1. A line of one long word, such as a signature,
    is none: it has no place where it could be broken.
    """
    return [
        number
        for number, line in enumerate(text.splitlines(), 1)
        if len(line) > MAX_WIDTH and len(line.split()) > 1
    ]


def test_no_line_of_code_is_too_wide():
    wide = {short(path): list_wide_lines(path.read_text(encoding="utf-8")) for path in CODE}
    assert len(wide) > 1000
    assert {name: lines for name, lines in wide.items() if lines} == {}


def test_a_wide_line_is_found_and_a_long_word_is_none():
    wide = f"a {'b' * (MAX_WIDTH - 1)}"
    assert list_wide_lines(f"{'b' * 200}\n{wide}\n{wide[:-1]}\n") == [2]
