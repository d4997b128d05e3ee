"""The house rules that can be counted: names, lengths, weights, and nothing of one machine."""

import ast
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
MOST_FUNCTION_LINES = 40
MOST_FILE_LINES = 300
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

JS_FUNCTION = re.compile(
    r"^\s*(?:export\s+)?(?:default\s+)?(?:async\s+)?function\b|=>\s*\{\s*$|^\s+(?:async\s+)?\w+\([^)]*\)\s*\{\s*$"
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
PYTHON = [path for path in TRACKED if path.suffix == ".py"]
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


@pytest.mark.parametrize("path", PYTHON + SCRIPTS, ids=short)
def test_file_is_short(path):
    assert len(path.read_text(encoding="utf-8").splitlines()) <= MOST_FILE_LINES


def python_function_lengths(source: str) -> list[tuple[str, int]]:
    """(name, lines without the docstring) of every function."""
    lengths = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            first = node.body[0]
            is_doc = (
                isinstance(first, ast.Expr)
                and isinstance(first.value, ast.Constant)
                and isinstance(first.value.value, str)
            )
            doc_lines = first.end_lineno - first.lineno + 1 if is_doc else 0
            lengths.append((node.name, node.end_lineno - node.lineno + 1 - doc_lines))
    return lengths


def script_function_lengths(source: str) -> list[tuple[str, int]]:
    """(opening line, lines) of every function that begins on a line of its own.

    The end is the line that closes at the opening line's indentation, as this project writes it.
    """
    lines, lengths = source.splitlines(), []
    for index, line in enumerate(lines):
        if not JS_FUNCTION.search(line) or re.match(r"\s*(?:if|for|while|switch|catch)\b", line):
            continue
        indent = len(line) - len(line.lstrip())
        if line.rstrip().endswith("}") and line.count("{") == line.count("}"):
            continue
        closing = (
            at
            for at in range(index + 1, len(lines))
            if re.match(rf"\s{{{indent}}}[}})]", lines[at])
        )
        lengths.append((line.strip(), next(closing, len(lines) - 1) - index + 1))
    return lengths


def test_length_of_a_script_function_is_counted_to_its_closing_line():
    source = (
        "export function a(b) {\n  if (b) {\n    c();\n  }\n}\n\nconst d = () => {\n  e();\n};\n"
    )
    assert [lines for _, lines in script_function_lengths(source)] == [5, 3]


def test_length_of_a_python_function_leaves_out_its_docstring():
    assert python_function_lengths(
        'def a():\n    """One.\n\n    Two.\n    """\n    return 1\n'
    ) == [("a", 2)]


@pytest.mark.parametrize("path", PYTHON, ids=short)
def test_python_function_is_short(path):
    lengths = python_function_lengths(path.read_text(encoding="utf-8"))
    assert not [found for found in lengths if found[1] > MOST_FUNCTION_LINES]


@pytest.mark.parametrize("path", SCRIPTS, ids=short)
def test_script_function_is_short(path):
    # A test's callback groups cases; only functions of the app itself are counted there.
    source = path.read_text(encoding="utf-8")
    lengths = [
        found
        for found in script_function_lengths(source)
        if not found[0].startswith(("describe(", "test("))
    ]
    assert not [found for found in lengths if found[1] > MOST_FUNCTION_LINES]


@pytest.mark.parametrize(
    "path", [path for path in TRACKED if path.suffix in TEXT_SUFFIXES], ids=short
)
def test_file_names_no_path_of_one_machine(path):
    found = MACHINE_PATH.findall(path.read_text(encoding="utf-8"))
    assert not found
