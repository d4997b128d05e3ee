"""Who may import whom, in both languages; and what the pure folders may not touch."""

import ast
import re
import sys
from pathlib import Path

import pytest

from qcapp.stats.seeded_draws import start_draws

CHECKOUT = Path(__file__).resolve().parent.parent
PACKAGE = CHECKOUT / "qcapp"
SCRIPTS = CHECKOUT / "static" / "phone" / "js"

# They assemble the rest, so they may import everything and nobody imports them.
TOP_FILES = {"app", "programme_app", "__main__"}
# folder: (folders of ours, third-party packages). `errors` is open to all.
ALLOWED = {
    "i18n": (set(), {"babel"}),
    "checklist": (set(), {"pydantic", "yaml", "rfc8785"}),
    "inspection": (
        {"checklist"},
        {"cryptography", "pydantic", "pydantic_core", "rfc8785", "typing_extensions"},
    ),
    "stats": (set(), {"numpy", "scipy"}),
    "transparency": (set(), set()),
    "scenario": ({"checklist", "inspection"}, {"pydantic", "yaml"}),
    "store": (
        {"checklist", "inspection", "transparency"},
        {"sqlmodel", "sqlalchemy", "alembic", "psycopg"},
    ),
    "sync": (
        {"checklist", "inspection", "store", "transparency"},
        {"pydantic", "sqlalchemy", "PIL"},
    ),
    "reports": ({"checklist", "inspection", "stats"}, set()),
    "charts": ({"reports", "stats"}, set()),
    "documents": (
        {"checklist", "inspection", "reports", "stats"},
        {"typst", "segno", "xlsxwriter", "PIL"},
    ),
    "access": (
        {"inspection", "store", "transparency"},
        {"argon2", "cryptography", "rfc8785", "sqlalchemy", "zxcvbn"},
    ),
    "machine": (set(), set()),
    "release": (set(), {"cryptography"}),
    "lan": (set(), {"cryptography", "jinja2", "segno", "starlette"}),
    "web": (
        {
            "checklist",
            "inspection",
            "stats",
            "store",
            "sync",
            "reports",
            "charts",
            "documents",
            "access",
            "machine",
            "release",
            "scenario",
            "settings",
            "transparency",
        },
        {"fastapi", "starlette", "jinja2", "markdown_it", "markupsafe", "pydantic", "segno"},
    ),
}
BELOW_WEB = ALLOWED["web"][0]
ALLOWED["usecases"] = (BELOW_WEB, {"pydantic", "sqlalchemy"})
ALLOWED["web"] = (BELOW_WEB | {"usecases", "loading"}, ALLOWED["web"][1])
ALLOWED["cli"] = (
    BELOW_WEB | {"usecases", "web", "lan", "loading", "__version__", *TOP_FILES},
    {"typer", "click", "rich", "uvicorn", "h11", "segno", "fastapi", "starlette"},
)
LEAF_FILES = {"errors", "loading", "settings"}
# Open to all, like the errors: words that can be said in another language.
OPEN_FOLDERS = {"i18n"}

PURE = ("stats", "reports", "checklist", "inspection", "transparency")
IMPURE_MODULES = {"random", "secrets", "time", "os", "socket", "subprocess", "requests", "httpx"}
# Draws with a seed of its own, so that the same counts give the same figure.
SEEDED = PACKAGE / "stats" / "seeded_draws.py"
IMPURE_CALLS = {"now", "utcnow", "today", "uuid1", "uuid4", "uuid7", "urandom", "getenv"}

# Only leftward.
JS_ORDER = (
    "inspection",
    "holes",
    "store",
    "sync",
    "ui",
    "screens",
    "starting.js",
    "router.js",
    "worker_registration.js",
    "app.js",
    "main.js",
)
JS_IMPORT = re.compile(r"""(?:\bfrom\s*|(?<![\w-])import\s*\(?\s*)["']([^"']+)["']""")


def list_python(folder: Path) -> list[Path]:
    return sorted(folder.rglob("*.py"))


def list_imports(path: Path) -> set[str]:
    """Dotted names imported anywhere in the file, also inside functions."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import; write the full name"
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
    return names


def our_folder(name: str) -> str | None:
    parts = name.split(".")
    return parts[1] if parts[0] == "qcapp" and len(parts) > 1 else None


def find_trespasses(path: Path, folder: str) -> list[str]:
    ours, third_party = ALLOWED[folder]
    found = []
    for name in sorted(list_imports(path)):
        target, package = our_folder(name), name.split(".")[0]
        is_fine = (
            target in {folder, "errors", *OPEN_FOLDERS, *ours}
            if target
            else package in third_party or package in sys.stdlib_module_names
        )
        if not is_fine:
            found.append(f"{path.relative_to(CHECKOUT)} imports {name}")
    return found


def test_every_folder_of_the_package_is_in_the_table():
    folders = {
        path.parent.relative_to(PACKAGE).parts[0]
        for path in PACKAGE.rglob("*.py")
        if path.parent != PACKAGE
    }
    assert folders <= set(ALLOWED), f"add {folders - set(ALLOWED)} to the import table"


@pytest.mark.parametrize("folder", sorted(ALLOWED))
def test_folder_imports_only_what_the_table_allows(folder):
    trespasses = [
        line for path in list_python(PACKAGE / folder) for line in find_trespasses(path, folder)
    ]
    assert not trespasses, "\n".join(trespasses)


def test_errors_and_settings_import_nothing_of_ours_but_i18n():
    for name in LEAF_FILES:
        ours = [
            found
            for found in list_imports(PACKAGE / f"{name}.py")
            if our_folder(found) not in (None, *OPEN_FOLDERS)
        ]
        assert not ours, f"{name}.py imports {ours}"


def test_nobody_imports_the_assembling_files():
    for path in list_python(PACKAGE):
        if (path.parent == PACKAGE and path.stem in TOP_FILES) or path.parent.name == "cli":
            continue
        upward = [name for name in list_imports(path) if our_folder(name) in TOP_FILES]
        assert not upward, f"{path.relative_to(CHECKOUT)} imports {upward}"


def test_files_beside_the_folders_are_known_ones():
    known = TOP_FILES | LEAF_FILES | {"__init__"}
    assert {path.stem for path in PACKAGE.glob("*.py")} <= known


def test_yaml_is_read_only_where_a_file_comes_in():
    readers = {
        str(path.relative_to(PACKAGE)) for path in list_python(PACKAGE) if "yaml" in _packages(path)
    }
    assert readers <= {
        "checklist/source.py",
        "scenario/model.py",
        "scenario/yard_file.py",
        "programme_app.py",
    }


def _packages(path: Path) -> set[str]:
    return {name.split(".")[0] for name in list_imports(path)}


@pytest.mark.parametrize("folder", PURE)
def test_pure_folder_uses_no_clock_chance_or_surroundings(folder):
    for path in list_python(PACKAGE / folder):
        impure = _packages(path) & IMPURE_MODULES
        assert not impure, f"{path.relative_to(CHECKOUT)} imports {impure}"
        calls = _impure_calls(path)
        assert not calls, f"{path.relative_to(CHECKOUT)} calls {calls}"


def _impure_calls(path: Path) -> list[str]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    calls = [node.func for node in ast.walk(tree) if isinstance(node, ast.Call)]
    found = [
        call.attr for call in calls if isinstance(call, ast.Attribute) and call.attr in IMPURE_CALLS
    ]
    chance = [
        node.attr
        for node in ast.walk(tree)
        if isinstance(node, ast.Attribute) and node.attr == "random"
    ]
    return found if path == SEEDED else found + chance


def test_draws_always_begin_at_the_same_seed():
    assert start_draws().random(3).tolist() == start_draws().random(3).tolist()
    assert start_draws().random() != start_draws(stream=1).random()


def script_place(path: Path) -> str:
    """The first part of a script's path under static/js."""
    return path.relative_to(SCRIPTS).parts[0]


def test_every_script_folder_is_in_the_order():
    places = {script_place(path) for path in SCRIPTS.rglob("*.js")}
    assert places, "no script found"
    assert places <= set(JS_ORDER), f"unknown places {places - set(JS_ORDER)}"


def test_scripts_import_only_leftward():
    wrong = []
    for path in sorted(SCRIPTS.rglob("*.js")):
        for target in JS_IMPORT.findall(path.read_text(encoding="utf-8")):
            assert target.startswith("."), (
                f"{path.name} imports {target}: only files of ours, by relative path"
            )
            reached = (path.parent / target).resolve()
            assert reached.is_file(), f"{path.name} imports {target}, which is not there"
            if JS_ORDER.index(script_place(reached)) > JS_ORDER.index(script_place(path)):
                wrong.append(f"{path.relative_to(SCRIPTS)} imports {target}")
    assert not wrong, "\n".join(wrong)
