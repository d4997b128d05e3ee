"""An option's words stand once in the code, however many commands take it."""

import ast
from collections import Counter
from pathlib import Path

import qcapp.cli

MAKERS = {"Option", "Argument", "count_option", "number_option"}


def list_options(source: str) -> list[str]:
    """Each option or argument that is described, as it is written."""
    return [
        ast.unparse(call)
        for call in ast.walk(ast.parse(source))
        if isinstance(call, ast.Call) and ast.unparse(call.func).split(".")[-1] in MAKERS
    ]


def test_no_option_is_described_twice():
    found = Counter(
        option
        for path in Path(qcapp.cli.__file__).parent.glob("*.py")
        for option in list_options(path.read_text(encoding="utf-8"))
    )
    assert found.total() > 60
    assert [option for option, times in found.items() if times > 1] == []
