"""One class, one meaning: two places that style the same class undo each other's looks."""

import re
from collections import Counter

from tests.builders import ROOT

SHEET = ROOT / "static" / "pages" / "pages.css"


def list_rules(css: str) -> list[str]:
    """Selectors of the rules outside @media and the like."""
    text = re.sub(r"/\*.*?\*/", "", css, flags=re.DOTALL)
    # A block inside a block has braces of its own.
    text = re.sub(r"@[^{;]*\{(?:[^{}]*\{[^{}]*\})*[^{}]*\}", "", text)
    return [one.strip() for head in re.findall(r"([^{}]+)\{", text) for one in head.split(",")]


def list_twice(css: str) -> list[str]:
    bare = Counter(one for one in list_rules(css) if re.fullmatch(r"\.[\w-]+", one))
    return [name for name, times in bare.items() if times > 1]


def test_a_class_is_styled_at_one_place():
    assert list_twice(SHEET.read_text(encoding="utf-8")) == []


def test_a_class_of_two_places_is_found():
    css = ".cell { color: red; } @media print { .cell { color: #000; } } td .cell { margin: 0; }"
    assert list_twice(css) == []
    assert list_twice(css + " .cell, .other { border: 0; }") == [".cell"]
