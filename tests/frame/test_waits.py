"""A browser test that asks the page right after a tap asks it before or after the page has
answered, as the machine happens to be busy. It has to wait for what the tap brings.

And `wait_for_function` waits for nothing where its function is asynchronous: a promise is true.
"""

import ast
import re
from itertools import pairwise

import pytest

from tests.builders import ROOT

TAPS = ("tap", "click")
BROWSER_TESTS = sorted((ROOT / "tests" / "e2e").rglob("*.py"))


def is_tap(statement: ast.stmt) -> bool:
    call = statement.value if isinstance(statement, ast.Expr) else None
    name = getattr(call.func, "attr", "") if isinstance(call, ast.Call) else ""
    return name in TAPS


def reads_page(statement: ast.stmt) -> bool:
    if not isinstance(statement, ast.Assert):
        return False
    return any(isinstance(node, ast.Name) and node.id == "page" for node in ast.walk(statement))


def find_hasty(source: str) -> list[int]:
    """Lines with an assertion on the page directly after a tap."""
    blocks = [
        block
        for node in ast.walk(ast.parse(source))
        for block in (getattr(node, "body", None), getattr(node, "orelse", None))
        if isinstance(block, list)
    ]
    return [
        after.lineno
        for block in blocks
        for before, after in pairwise(block)
        if is_tap(before) and reads_page(after)
    ]


@pytest.mark.parametrize("path", BROWSER_TESTS, ids=lambda path: path.stem)
def test_nothing_is_asked_before_the_page_can_answer(path):
    assert find_hasty(path.read_text("utf-8")) == []


def test_hasty_line_is_found():
    hasty = 'page.locator("#a").tap()\nassert page.locator("#b").count() == 0\n'
    assert find_hasty(hasty) == [2]
    assert find_hasty(hasty.replace("assert", 'page.locator("#b").wait_for()\nassert')) == []


def find_promises(source: str) -> list[int]:
    """Lines that give `wait_for_function` an asynchronous function, by itself or by its name."""
    tree = ast.parse(source)
    named = {
        target.id: ast.unparse(node.value)
        for node in tree.body
        if isinstance(node, ast.Assign)
        for target in node.targets
        if isinstance(target, ast.Name)
    }
    calls = (
        node
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and getattr(node.func, "attr", "") == "wait_for_function"
    )
    return [
        call.lineno
        for call in calls
        if re.search(
            r"async|Promise|with_modules", named.get(text := ast.unparse(call.args[0]), text)
        )
    ]


@pytest.mark.parametrize("path", BROWSER_TESTS, ids=lambda path: path.stem)
def test_no_promise_is_taken_for_an_answer(path):
    assert find_promises(path.read_text("utf-8")) == []


def test_promise_is_found():
    wait = "page.wait_for_function({})\n"
    assert find_promises(wait.format("'async () => false'")) == [1]
    assert find_promises("KEPT = '() => new Promise(ask)'\n" + wait.format("KEPT")) == [2]
    assert find_promises(wait.format("'() => globalThis.core'")) == []
