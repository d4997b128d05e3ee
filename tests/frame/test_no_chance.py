"""A test that looks in a page's source for a code of two or three characters, and wants not to
find it, fails on some days: it stands in a link's token or a hash by chance. Such a test looks
in what `text_of` or `drop_random` of tests/page_text.py leave.
"""

import ast
import re

import pytest

from tests.frame.sources import list_sources

# Every longer word is met by chance less than once in a hundred thousand runs.
SHORT = re.compile(r"[A-Za-z0-9_-]{1,3}")


def list_named(function: ast.AST) -> dict[str, ast.expr]:
    """What each name of a function was given, and what a loop's name goes through."""
    return {
        target.id: node.value if isinstance(node, ast.Assign) else node.iter
        for node in ast.walk(function)
        if isinstance(node, ast.Assign | ast.For)
        for target in (node.targets if isinstance(node, ast.Assign) else [node.target])
        if isinstance(target, ast.Name)
    }


def is_source(side: ast.expr, named: dict[str, ast.expr]) -> bool:
    """The source of an answer: `page.text`, or a name given to it."""
    side = named.get(side.id, side) if isinstance(side, ast.Name) else side
    return isinstance(side, ast.Attribute) and side.attr == "text"


def is_short(side: ast.expr, named: dict[str, ast.expr]) -> bool:
    """A code of at most three characters, or a name that goes through such codes or constants."""
    side = named.get(side.id, side) if isinstance(side, ast.Name) else side
    if isinstance(side, ast.Tuple | ast.List):
        return any(is_short(item, {}) for item in side.elts)
    if isinstance(side, ast.Constant):
        return isinstance(side.value, str) and bool(SHORT.fullmatch(side.value))
    return isinstance(side, ast.Name) and side.id.isupper()


def find_chances(source: str) -> list[int]:
    """Lines that hang on a short code being nowhere in a page's source."""
    return [
        node.lineno
        for function in ast.walk(ast.parse(source))
        if isinstance(function, ast.FunctionDef)
        for named in [list_named(function)]
        for node in ast.walk(function)
        if isinstance(node, ast.Compare)
        # A code that is only sought is found in vain too; a test that denies it fails by chance.
        for found in [node.left if isinstance(node.left, ast.Compare) else node]
        if isinstance(found.ops[0], ast.NotIn) or found is not node
        if is_short(found.left, named) and is_source(found.comparators[0], named)
    ]


@pytest.mark.parametrize("path", list_sources(), ids=lambda path: path.stem)
def test_no_short_code_is_denied_in_a_pages_source(path):
    assert find_chances(path.read_text("utf-8")) == []


@pytest.mark.parametrize(
    "line",
    [
        'assert "A01" not in page.text',
        'assert "A01" not in client.get("/").text, "maker"',
        'text = client.get("/").text; assert "A01" not in text and "Ano" not in text',
        'for code in ("A01", "A02"): assert code not in page.text',
        "for other in CODES: assert (other in page.text) == (other == code)",
    ],
)
def test_a_chance_is_found(line):
    assert find_chances(f"def test():\n    {line}")


def test_text_and_a_long_word_are_no_chances():
    for line in (
        'assert "A01" not in text_of(page)',
        'assert "A01" not in drop_random(page)',
        'assert "/batches" not in page.text',
    ):
        assert find_chances(f"def test():\n    {line}") == []
