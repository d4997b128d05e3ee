"""Pages change nothing by themselves: what takes a transaction is a use case."""

import ast
from pathlib import Path

import pytest

WEB = Path(__file__).resolve().parent.parent.parent / "qcapp" / "web"
MODULES = sorted(WEB.rglob("*.py"))


def list_calls(source):
    """Names of the methods that are called."""
    return {
        node.func.attr
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)
    }


def list_imports(source):
    """Names of the packages that are imported."""
    found = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found |= {name.name.split(".")[0] for name in node.names}
        elif isinstance(node, ast.ImportFrom):
            found.add((node.module or "").split(".")[0])
    return found


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.relative_to(WEB).as_posix())
def test_no_page_opens_a_transaction_or_speaks_sql(path):
    source = path.read_text(encoding="utf-8")
    assert "writing" not in list_calls(source), "a change is a use case: qcapp/usecases"
    assert not list_imports(source) & {"sqlalchemy", "sqlmodel"}
    assert "form" not in list_calls(source), "a form is Annotated[Model, Form()]"


def test_a_page_that_does_is_found():
    planted = "import sqlalchemy\nwith store.writing() as connection:\n    request.form()\n"
    assert {"writing", "form"} <= list_calls(planted)
    assert "sqlalchemy" in list_imports(planted)
    assert len(MODULES) > 50
