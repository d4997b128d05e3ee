"""What a document names in `code` is there: folders, commands with their options, names of code."""

import ast
import re

import pytest

from qcapp.cli.main import COMMANDS, load_command
from tests.test_docs import BESIDE_TESTS, DOCUMENTS, PAGES, ROOT, TRANSLATIONS
from tests.test_house import TRACKED

PLACES = ("", "qcapp", "static/phone", "static/phone/js", "tests", "static")
WRITTEN = [*DOCUMENTS, *BESIDE_TESTS, *PAGES, *TRANSLATIONS]
# What a reader chooses, what a yard or another program keeps, how a key begins. Settings have a
# test of their own.
ELSEWHERE = re.compile(r"\bxy\b|^(qcapp-lan/|Caddyfile|pub_)$|^QCAPP_")
SOURCES = (".py", ".js", ".ts", ".html", ".yaml", ".json", ".toml", ".css", ".po", ".typ", ".svg")


def list_named(text: str) -> list[str]:
    """What stands in `code`, outside blocks, each on one line."""
    text = re.sub(r"^```.*?^```", "", text, flags=re.MULTILINE | re.DOTALL)
    return [" ".join(one.split()) for one in re.findall(r"`([^`]+)`", text)]


def find_lost_folders(named: list[str]) -> list[str]:
    folders = [one for one in named if re.fullmatch(r"[\w.-]+(?:/[\w.-]+)*/", one)]
    return [
        one
        for one in folders
        if not ELSEWHERE.search(one) and not any((ROOT / place / one).is_dir() for place in PLACES)
    ]


def find_wrong_commands(named: list[str]) -> list[str]:
    """Calls of `qcapp` of which a word is no command, or an option none of the command."""
    calls = [one.replace("\\|", " ").split() for one in named if one.startswith("qcapp ")]
    return [" ".join(call) for call in calls if not is_command(call[1:])]


def is_command(words: list[str]) -> bool:
    table, entry = COMMANDS, None
    while words and (entry is None or isinstance(entry, tuple)):
        table = entry[1] if isinstance(entry, tuple) else table
        name, *words = words
        entry = table.get(name)
        if entry is None:
            return name == "--help" and not words
    if isinstance(entry, tuple):
        return True
    known = {option for param in load_command(name, entry).params for option in param.opts}
    return {word for word in words if word.startswith("--")} <= known | {"--help"}


def find_wrong_scripts(named: list[str]) -> list[str]:
    """Calls of Python on a script or module that is not there, or on a step that run.py lacks."""
    wrong = []
    for one in named:
        call = re.match(r"python3 (?:-m ([\w.]+)|([\w./-]+\.py))((?: [\w-]+)*)", one)
        if not call:
            continue
        module, script, more = call.groups()
        path = ROOT / (script or module.replace(".", "/"))
        is_there = path.is_file() or path.with_suffix(".py").is_file()
        is_there = is_there or (path / "__main__.py").is_file()
        steps = set(more.split()) if script == "tests/run.py" and " -- " not in one else set()
        if not is_there or not steps <= list_steps():
            wrong.append(one)
    return wrong


def list_steps() -> set[str]:
    tree = ast.parse((ROOT / "tests" / "run.py").read_text(encoding="utf-8"))
    steps = next(
        node.value
        for node in tree.body
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "STEPS"
    )
    return {key.value for key in steps.keys}


@pytest.fixture(scope="module")
def words() -> set[str]:
    """Every word of the sources, and of their files' names."""
    found = {word for path in TRACKED for word in re.findall(r"\w+", path.name)}
    for path in TRACKED:
        if path.suffix in SOURCES and path.name != "test_named_in_docs.py":
            found.update(re.findall(r"\w+", path.read_text(encoding="utf-8")))
    return found


def find_unknown_names(named: list[str], words: set[str]) -> list[str]:
    """Names of code, by their shape: with an underscore, a dot, a capital inside, or called."""
    shape = r"(?:[A-Za-z]\w*\.)*[A-Za-z]\w*(?:\(\))?"
    names = [one for one in named if re.fullmatch(shape, one) and re.search(r"[._(A-Z]", one)]
    return [
        one
        for one in names
        if not ELSEWHERE.search(one) and not set(re.findall(r"\w+", one)) <= words
    ]


@pytest.mark.parametrize("path", WRITTEN, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_what_is_named_is_there(path, words):
    named = list_named(path.read_text(encoding="utf-8"))
    assert find_lost_folders(named) == []
    assert find_wrong_commands(named) == []
    assert find_wrong_scripts(named) == []
    assert find_unknown_names(named, words) == []


def test_what_is_not_there_is_found(words):
    named = list_named(
        "`stats/` `gone/` `qcapp lan move --to X` `qcapp lan fly` `qcapp rate --lot 3` "
        "`python3 tests/run.py fast` `python3 tests/run.py slowly` `python3 -m tests.nothing` "
        "`Store.writing` `Store.wri" + "tting` `markStale` `mark" + "Stayl()`"
    )
    assert find_lost_folders(named) == ["gone/"]
    assert find_wrong_commands(named) == ["qcapp lan fly", "qcapp rate --lot 3"]
    assert find_wrong_scripts(named) == ["python3 tests/run.py slowly", "python3 -m tests.nothing"]
    assert find_unknown_names(named, words) == ["Store.writting", "markStayl()"]
